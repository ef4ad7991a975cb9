"""Every sentence that the pages of the demo shop show is short: 20 words at most, 25 where something is explained."""

import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from bs4 import BeautifulSoup, Tag

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


def words(sentence: str) -> int:
    return len([word for word in sentence.split() if re.search(r"[^\W\d_]{2,}", word)])


@pytest.mark.parametrize("role", ["owner", "customer"])
def test_no_sentence_on_a_page_is_long(demo, role):
    long = {
        f"{words(sentence)} {re.sub(r'[0-9a-f-]{36}', '*', path)}: {sentence}"
        for path, page in walk(demo.client(role))
        for sentence, most in sentences(page)
        if words(sentence) > most
    }
    assert not long, "\n".join(sorted(long))
