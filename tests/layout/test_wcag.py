"""The table of accessibility has every criterion of levels A and AA, names tests that are there, and some of them."""

import re
from collections import Counter
from functools import cache
from pathlib import Path

import axe_playwright_python
import pytest

from tests.layout.test_doors import ROOT

ROWS = [
    [cell.strip() for cell in line.strip("|").split("|")]
    for line in (ROOT / "docs" / "wcag.md").read_text().splitlines()
    if re.match(r"\| \d", line)
]
TESTS = sorted({name for row in ROWS for name in re.findall(r"tests/\w+/test_\w+\.py(?:::\w+)?", row[4])})
STATIC = ROOT / "service" / "web" / "static"
# Colour of edges, grounds and lines may change under a pointer; nothing may come or go.
MAY_CHANGE = {"background", "border-color", "color", "text-decoration-thickness"}
POINTS = re.compile(
    r"\bin (?:red|green|grey|orange)\b|\bon (?:the|your) (?:left|right)\b|\b(?:left|right)-hand\b|\bround button\b",
    re.IGNORECASE,
)


@cache
def scripts() -> dict[str, str]:
    """Return the text of every script, by its name."""
    return {path.name: path.read_text() for path in STATIC.glob("*.js")}


def heard(*kinds: str) -> set[str]:
    """Return the names of the scripts that speak of one of these events."""
    return {name for name, text in scripts().items() if any(f'"{kind}"' in text for kind in kinds)}


@cache
def style() -> str:
    """Return all styles, without their comments."""
    whole = "\n".join(path.read_text() for path in sorted(STATIC.glob("*.css")))
    return re.sub(r"/\*.*?\*/", "", whole, flags=re.DOTALL)


def test_every_criterion_of_both_levels_has_one_row() -> None:
    # WCAG 2.2: 31 of level A and 24 of level AA, 4.1.1 (Parsing) no longer among them.
    assert Counter(row[1] for row in ROWS) == {"A": 31, "AA": 24}
    assert len({row[0] for row in ROWS}) == len(ROWS) and "4.1.1" not in {row[0] for row in ROWS}


def test_every_criterion_that_axe_knows_stands_at_its_level() -> None:
    axe = Path(axe_playwright_python.__file__).with_name("axe.min.js").read_text()
    known = {tuple(tags) for tags in re.findall(r'"(wcag2\d?a{1,2})","wcag(\d{3,4})"', axe)}
    wanted = {(f"{one[0]}.{one[1]}.{one[2:]}", "AA" if level.endswith("aa") else "A") for level, one in known}
    # axe still tags what 4.1.1 asked for.
    assert len(wanted) > 15 and wanted - {("4.1.1", "A")} <= {(row[0], row[1]) for row in ROWS}


def test_every_row_names_a_test_or_says_that_it_does_not_apply() -> None:
    assert [row[0] for row in ROWS if "tests/" not in row[4] and row[4] != "does not apply"] == []


@pytest.mark.parametrize("name", TESTS)
def test_a_named_test_is_there(name: str) -> None:
    path, _, function = name.partition("::")
    assert f"def {function or 'test_'}" in (ROOT / path).read_text()


def test_no_sentence_points_by_colour_or_place() -> None:
    rooms = (ROOT / "templates", ROOT / "service")
    said = [path for room in rooms for kind in ("*.html", "*.py", "*.js", "*.po") for path in room.rglob(kind)]
    assert [(path.name, found[0]) for path in said if (found := POINTS.search(path.read_text("utf-8")))] == []


def test_no_picture_is_of_text() -> None:
    pictures = [
        source
        for path in (ROOT / "templates").rglob("*.html")
        for source in re.findall(r'<img[^>]*src="([^"]*)"', path.read_text())
    ]
    # Of photographs alone: taken by a person, or enclosed in a paper.
    assert set(pictures) == {"/photos/{{ one.id }}?small=yes", "{{ one.source }}"}


def test_nothing_appears_on_hover_or_focus() -> None:
    changed = [
        line.partition(":")[0].strip()
        for body in re.findall(r":hover[^{}]*\{([^}]*)\}", style())
        for line in body.split(";")
        if line.strip()
    ]
    assert changed and set(changed) <= MAY_CHANGE
    # No rule shows one thing when the pointer is on another.
    assert not re.search(r":hover[ ~+>]+[^\s{,][^{},]*\{", style())


def test_nothing_flashes() -> None:
    assert "@keyframes" not in style() and "animation" not in style() and "<blink" not in style()


def test_nothing_is_done_before_a_finger_is_lifted() -> None:
    # tablet.js notes that somebody is there, press.js that a thumb is, and neither does anything else.
    assert heard("pointerdown", "mousedown", "touchstart") == {"press.js", "tablet.js"}
    assert 'addEventListener("pointerdown", () => (isByThumb = true), true)' in scripts()["press.js"]
    noted = re.search(r'for \(const kind of \["pointerdown"[^\n]*\n([^\n]*)', scripts()["tablet.js"])
    assert noted and "() => { touchedAt = Date.now(); }" in noted[1]


def test_no_script_hears_motion_or_dragging() -> None:
    kinds = ("devicemotion", "deviceorientation", "dragstart", "dragover", "pointermove", "mousemove", "touchmove")
    assert heard(*kinds) == set()


def test_nothing_is_done_on_focus() -> None:
    # menu.js shuts the fold that the keys have left.
    assert heard("focus", "focusin", "blur", "focusout") == {"menu.js"}


def test_every_page_has_the_one_menu() -> None:
    pages = [path for path in (ROOT / "templates").rglob("*.html") if "{{ top(" in path.read_text()]
    assert [path.name for path in pages] == ["base.html"]


def test_passwords_can_be_pasted_and_filled_in() -> None:
    assert heard("paste") == set()
    form = (ROOT / "templates" / "parts" / "form.html").read_text()
    for kind, said in (("password", "current-password"), ("new password", "new-password")):
        assert re.search(rf'kind == "{kind}" %}}type="password" autocomplete="{said}"', form)
