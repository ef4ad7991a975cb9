"""What the pages of the demo shop say, for an owner and for a customer in both languages.

Every sentence is short: 20 words at most, 25 where something is explained. No page shows a word that only code uses,
and to a reader of Spanish no page says in English what the shop itself has to say.
"""

import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from bs4 import BeautifulSoup, Tag
from sqlmodel import Session, col, update

from service import demo as demo_shop
from service.records.customers import Customer
from service.words.glossary import glossary
from tests.demo_pages import Demo, told, walk

ON_A_SCREEN, IN_AN_EXPLANATION = 20, 25
BLOCKS = ["p", "li", "h1", "h2", "h3", "td", "th", "dd", "dt", "label", "button", "summary", "legend", "figcaption",
          "caption", "option"]  # fmt: skip
# Hints below a field, notes, folds and cautions explain; so do the cells that name a source.
EXPLAINS = {"hint", "quiet-note", "caution", "fold-in", "made"}
# A new sentence begins after a full stop, a question mark or a colon, and a list goes on after a semicolon.
ENDS = re.compile(r"(?<=[.?!:;])\s+(?=[A-Za-z“\"(0-9△▲])")


@pytest.fixture(scope="module")
def demo(told_demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Demo]:
    folder = tmp_path_factory.mktemp("demo")
    shutil.copytree(told_demo, folder, dirs_exist_ok=True)
    with told(folder) as opened:
        yield opened


def explains(tag: Tag) -> bool:
    around = [tag, *tag.parents]
    return any(one.name in ("details", "td", "li") or EXPLAINS & set(one.get("class") or ()) for one in around if one)


def sentences(page: str) -> Iterator[tuple[str, int]]:
    """Yield each sentence of a page and how many words it may have."""
    soup = BeautifulSoup(page, "html.parser")
    for unread in soup(["script", "style", "svg", "code", "nav"]):
        unread.decompose()
    for tag in soup.find_all(BLOCKS):
        if tag.find(BLOCKS):
            continue
        most = IN_AN_EXPLANATION if explains(tag) else ON_A_SCREEN
        for sentence in ENDS.split(" ".join(tag.get_text(" ", strip=True).split())):
            yield sentence, most


def visible(page: str) -> str:
    """Return all that a page shows, the words of its pictures too; what a program is answered stays as it is."""
    soup = BeautifulSoup(page, "html.parser")
    for unread in soup(["script", "style", "pre"]):
        unread.decompose()
    return soup.get_text(" ", strip=True)


def words(sentence: str) -> int:
    return len([word for word in sentence.split() if re.search(r"[^\W\d_]{2,}", word)])


@pytest.fixture(scope="module")
def broken() -> dict[str, dict[str, int]]:
    """Return, for each role, the links that were refused; filled while the pages are walked."""
    return {"owner": {}, "customer": {}, "technician": {}}


@pytest.fixture(scope="module")
def pages(demo: Demo, broken: dict[str, dict[str, int]]) -> dict[str, dict[str, str]]:
    """Return every page by its path: an owner's, a customer's, and the same customer's in Spanish."""
    walked = {role: dict(walk(demo.client(role), broken=broken[role])) for role in ("owner", "customer")}
    with Session(demo.stores.write) as session:
        session.exec(update(Customer).where(col(Customer.id).is_not(None)).values(language="es"))
        session.commit()
    return {**walked, "Spanish": dict(walk(demo.client("customer")))}


@pytest.mark.parametrize("reader", ["owner", "customer", "Spanish"])
def test_no_sentence_on_a_page_is_long(pages, reader):
    long = {
        f"{words(sentence)} {re.sub(r'[0-9a-f-]{36}', '*', path)}: {sentence}"
        for path, page in pages[reader].items()
        for sentence, most in sentences(page)
        if words(sentence) > most
    }
    assert not long, "\n".join(sorted(long))


@pytest.mark.parametrize("reader", ["owner", "customer", "Spanish"])
def test_no_page_shows_a_word_that_only_code_uses(pages, reader):
    unseen = [name for term in glossary().values() for name in term.never_on_a_page]
    shown = {path: visible(page) for path, page in pages[reader].items()}
    assert unseen and [(path, name) for path, text in shown.items() for name in unseen if name in text] == []


def test_a_reader_of_spanish_is_told_nothing_in_english_by_the_shop(pages):
    """A sentence that is the same in both languages was typed by somebody, or nobody translated it."""
    english, translated = (
        {
            sentence.strip("“”")
            for path, page in pages[reader].items()
            # An issued result stays in the language in which it was issued.
            if path in pages["Spanish"] and not path.startswith("/results/")
            for sentence, _ in sentences(page)
            if words(sentence) > 1
        }
        for reader in ("customer", "Spanish")
    )
    typed = (Path(demo_shop.__file__).parent / "shop.toml").read_text("utf-8")
    assert len(translated) > 50
    # An address breaks before its "@" where a line ends.
    assert sorted(one for one in english & translated if one.replace(" @", "@") not in typed) == []


def test_every_link_on_a_page_opens_for_whoever_sees_it(demo, pages, broken):
    # A technician's pages are an owner's without some: two of each kind are enough.
    technicians = dict(walk(demo.client("technician"), most=2, broken=broken["technician"]))
    assert len(technicians) > 40 and broken == {"owner": {}, "customer": {}, "technician": {}}
