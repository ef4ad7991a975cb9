"""A printed unit is the unit of its field: a bare number in it is taken, over every form of every page.

The forms are those of the demo shop, met by walking it; each is sent without a key, so that it is read and nothing is
kept. SQLite alone: what a form says is no matter of the database.
"""

import re
import shutil
from collections.abc import Iterator
from dataclasses import replace
from html import unescape
from pathlib import Path

import pytest
from bs4 import BeautifulSoup, Tag
from fastapi.testclient import TestClient

from service.desk import people
from service.desk.signing_in import sessions
from service.web.authentication import sha256
from service.words.units import unit_label
from tests.demo_pages import ID, Demo, kind_of, told, walk
from tests.web.shown_units import UNPARTED, blocks, foreign, headed, noisy, preselected

FORM = re.compile(r'<form\b[^>]*\bmethod="post".*?</form>', re.DOTALL)
ACTION, NAME = re.compile(r'\saction="([^"]*)"'), re.compile(r'\sname="([^"]*)"')
NOT_TAKEN = re.compile(r"one of these units|Write a number|Choose one of those offered")


@pytest.fixture(scope="module")
def demo(told_demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Demo]:
    folder = tmp_path_factory.mktemp("demo")
    shutil.copytree(told_demo, folder, dirs_exist_ok=True)
    with told(folder) as opened:
        yield opened


@pytest.fixture(scope="module", params=["metric", "imperial"])
def owner(request: pytest.FixtureRequest, demo: Demo) -> TestClient:
    """Return the owner's browser, with the shop set to a system of units."""
    known = sessions.recognise(demo.nobody, token_sha256=sha256(demo.sessions["owner"]), kind="session")
    assert known is not None
    caller = replace(known.caller, request_key=f"units-{request.param}")
    wanted = replace(caller.shop, units_first=request.param, comma_thousands=request.param == "imperial")
    people.change_shop(caller, facts=wanted, letterhead=None)
    return demo.client("owner")


@pytest.fixture(scope="module")
def pages(owner: TestClient) -> list[tuple[str, str]]:
    """Return every page of the demo that the owner reads, in those units."""
    return list(walk(owner))


@pytest.fixture(scope="module")
def forms(pages: list[tuple[str, str]]) -> list[tuple[str, Tag]]:
    """Return every form that sends something, one of each kind, with where it goes."""
    found = dict[tuple[str, str], tuple[str, Tag]]()
    for path, text in pages:
        # Of a thousand forms sixty differ: only those are taken apart.
        for form in FORM.findall(text):
            (action,) = ACTION.findall(form.partition(">")[0]) or [path]
            action = unescape(action).partition("#")[0]
            names = {re.sub(r"[0-9a-f-]{12,}|\d+", "0", name) for name in NAME.findall(form)}
            kind = (ID.sub("ID", action), " ".join(sorted(names)))
            if kind not in found:
                parsed = BeautifulSoup(form, "html.parser").form
                assert parsed is not None
                found[kind] = (action, parsed)
    return list(found.values())


def as_sent(form: Tag) -> dict[str, str]:
    """Return a form as a browser sends it, with a bare 95 in every number and a 3 in every count."""
    sent = {}
    for one in form.find_all(["input", "select", "textarea"]):
        name, kind = str(one.get("name", "")), one.get("type", "text")
        if one.name == "select":
            chosen = one.find("option", selected=True) or one.find("option")
            sent[name] = str(chosen["value"]) if chosen else ""
        elif one.get("inputmode") in ("decimal", "numeric"):
            sent[name] = "95" if one["inputmode"] == "decimal" else "3"
        elif kind not in ("radio", "checkbox", "file") or one.has_attr("checked"):
            sent[name] = str(one.get("value", ""))
    return {name: value for name, value in sent.items() if name not in ("", "request_key")}


def test_a_bare_number_in_a_printed_unit_is_taken_by_every_form(
    request: pytest.FixtureRequest, owner: TestClient, forms: list[tuple[str, Tag]]
) -> None:
    units = request.node.callspec.params["owner"]
    refused, tried, told = {}, 0, set[str]()
    for action, form in forms:
        sent, numbers = as_sent(form), {str(one["name"]) for one in form.find_all(attrs={"inputmode": "decimal"})}
        if not numbers:
            continue
        answer = owner.post(action, data=sent, headers={"hx-request": "true", "sec-fetch-site": "same-origin"})
        fields = answer.json()["fields"] if "json" in answer.headers["content-type"] else {}
        wrong = {name: said for name, said in fields.items() if name in numbers and NOT_TAKEN.search(said)}
        # What is wrong is told in the shop's own units too.
        told.update(said for one in fields.values() for said in foreign(f"<p>{one}</p>", units))
        tried += len(numbers)
        if wrong:
            refused[ID.sub("ID", action)] = wrong
    assert refused == {}
    assert told == set()
    assert tried > 150


def test_the_unit_that_is_printed_is_the_one_that_is_sent(forms: list[tuple[str, Tag]]) -> None:
    wrong = []
    for action, form in forms:
        sent = as_sent(form)
        for printed in form.select(".entry span.unit"):
            field = printed.find_previous("input", attrs={"inputmode": True})
            name = str(field["name"]) if field else ""
            if unit_label(sent.get(f"{name}_unit", "")) != printed.text.strip():
                wrong.append(f"{ID.sub('ID', action)} {name}: {printed.text.strip()}")
    assert wrong == []


# Where the other system stands by right: what a dial shows is said in the dial's own unit, grains are measured in
# millimetres on either side of the border, an issued paper stays as it was issued, and the calculator computes in
# what was typed.
BY_RIGHT = (
    (r".*", r"gauge|dial|Reads in|in steps of|Broke at|Did not break at|Held to|Pump to|Stop at|Let the needle"),
    (r"/batches/[*]/(press|test-charge)|/crushing|/jobs/[*]/crushing", r"^[\d.]+ (MPa|psi|bar)$"),
    (r"/jobs/[*]/readings|/jobs/[*]/results", r"broke|did not break"),
    (r"/soils/[*]|/soil-limits", r"^[\d.]+ mm\b"),
    # The rule of the text, in its own figures.
    (r"/jobs/[*]/results", r"^Erosion index"),
    # What was read from the scale of that batch, beside the field that corrects it.
    (r"/batches/[*]", r"^Now "),
    # What somebody wrote of a sample that is kept.
    (r"/sacks/[*]", r" until \d"),
    (r"/results/[*]|/calculator.*|/s/.*", r""),
)


def by_right(kind: str, text: str) -> bool:
    return any(re.fullmatch(where, kind) and re.search(what, text) for where, what in BY_RIGHT)


def test_no_page_shows_a_unit_of_the_other_system_alone(
    request: pytest.FixtureRequest, owner: TestClient, pages: list[tuple[str, str]]
) -> None:
    units = request.node.callspec.params["owner"]
    found = {
        (kind, text)
        for path, page in pages
        for text in foreign(page, units)
        if not by_right(kind := kind_of(path), text)
    }
    assert found == set()


# A scale and a gauge have units of their own; grains and published bands of shrinkage are in millimetres; carbon is a
# mass for a mass; the calculator's formulas and what somebody wrote of a test stay as they are.
NAMED_BY_RIGHT = (
    (r"/results/[*]", r""),
    (r"/batches/[*].*|/presses", r"^(kg|g|lb|MPa|psi)$"),
    (r"/soil-limits|/soils/[*]", r"^(From, |Size, )?mm$|sodium hexametaphosphate|Temperature"),
    (r"/calculator/.*", r"share =|m²"),
    (r".*", r"CO₂e|CO2e"),
)
# What was used for the last two blocks is offered again, an example is in the units of its source, and openings and
# grains are in millimetres first.
CHOSEN_BY_RIGHT = (
    (r"/batches/[*]/.*", r""),
    (r".*", r"^(zero_mpa|pressed_gauge_mpa|gauge_mpa|zero_(before|after)_mpa|.*size_mm|separation_mm)_unit"),
)


def test_no_head_no_label_and_no_word_names_a_unit_of_the_other_system_alone(
    request: pytest.FixtureRequest, pages: list[tuple[str, str]]
) -> None:
    units = request.node.callspec.params["owner"]
    found = {
        (kind, text)
        for path, page in pages
        for text in headed(page, units)
        if (kind := kind_of(path))
        if not any(re.fullmatch(where, kind) and re.search(what, text) for where, what in NAMED_BY_RIGHT)
    }
    assert found == set()


def test_the_unit_beside_an_empty_field_is_the_shops_own(
    request: pytest.FixtureRequest, pages: list[tuple[str, str]]
) -> None:
    units = request.node.callspec.params["owner"]
    found = {
        (kind, text)
        for path, page in pages
        for text in (preselected(page, units) if "example" not in path else [])
        if (kind := kind_of(path))
        if not any(re.fullmatch(where, kind) and re.search(what, text) for where, what in CHOSEN_BY_RIGHT)
    }
    assert found == set()


def test_a_shop_with_a_comma_writes_it_in_every_figure(
    request: pytest.FixtureRequest, pages: list[tuple[str, str]]
) -> None:
    if request.node.callspec.params["owner"] == "metric":
        # Its comma is none of thousands, so none is written.
        assert not any(re.search(r"\d,\d{3}\s?(?:psi|kPa|lbf|kg)", text) for _, page in pages for text in blocks(page))
        return
    found = {
        (kind, text)
        for path, page in pages
        for text in blocks(page)
        if UNPARTED.search(text) and not re.fullmatch(r"/results/[*]|/s/.*|/shared/.*", kind := kind_of(path))
    }
    assert found == set()


# A zero behind the point says that somebody read it: a scale and a gauge by their steps, money by its cents, a release.
IDLE_ZERO = re.compile(r"(?<![\d.$])\d+\.\d*0(?![\d.])")
READ_SO = (
    (r"/batches/[*].*|/results/[*]|/calculator.*|/s/.*|/backups", r""),
    (r".*", r"\$|gauge|broke|did not break|Broke at|Held to"),
    # Lowest, mean and median of the blocks of one recipe, to the figure of their gauge.
    (r"/jobs/[*]/results", r", \d+ days \d.* at least [\d.]+$"),
)


def test_no_number_ends_in_a_zero_that_nobody_read(pages: list[tuple[str, str]]) -> None:
    found = {
        (kind, text)
        for path, page in pages
        for text in blocks(page)
        if IDLE_ZERO.search(text)
        and not any(re.fullmatch(where, kind_of(path)) and re.search(what, text) for where, what in READ_SO)
        if (kind := kind_of(path))
    }
    assert found == set()


def test_no_page_shows_an_exponent_or_digits_that_nothing_can_tell(pages: list[tuple[str, str]]) -> None:
    found = {(kind_of(path), text) for path, page in pages for text in noisy(page) if "calculator" not in path}
    assert found == set()
