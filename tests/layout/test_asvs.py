"""The table of what is met has every requirement of the standard, and names tests and files that are there."""

import re
from collections import Counter

import pytest

from service.desk.signing_in import _passwords_and_pins as passwords_and_pins
from service.desk.signing_in import lifetimes_and_tries as limits
from tests.layout.test_doors import ROOT, SERVICE

# OWASP ASVS 5.0.0, from its published list: of each section the levels of its requirements, in their order.
STANDARD = """
1.1 22          1.2 1111122223  1.3 112222222223  1.4 222         1.5 123
2.1 122         2.2 112         2.3 12223         2.4 23
3.1 3           3.2 113         3.3 12223         3.4 11222233    3.5 11122333    3.6 3       3.7 22333
4.1 12233       4.2 23333       4.3 22            4.4 1222
5.1 2           5.2 112333      5.3 113           5.4 222
6.1 122         6.2 111111112222  6.3 11223333    6.4 112233      6.5 22222333    6.6 2223    6.7 33      6.8 2222
7.1 222         7.2 1111        7.3 22            7.4 11222       7.5 223         7.6 22
8.1 1233        8.2 1123        8.3 133           8.4 23
9.1 111         9.2 1222
10.1 22         10.2 223        10.3 22223        10.4 1111122222233333           10.5 22222  10.6 22     10.7 222
11.1 2233       11.2 22233      11.3 11233        11.4 1222       11.5 23         11.6 23     11.7 33
12.1 12233      12.2 11         12.3 22223
13.1 2333       13.2 222223     13.3 2233         13.4 1222233
14.1 22         14.2 12223333   14.3 122
15.1 12233      15.2 12233      15.3 1222222      15.4 3333
16.1 2          16.2 22222      16.3 2222         16.4 222        16.5 2223
17.1 23         17.2 22223333   17.3 22
"""
# Chapters of which nothing applies have one row each.
WHOLE = {"9", "10", "17"}
DOCS = ROOT / "docs"
TEXT = (DOCS / "asvs.md").read_text()
ROWS = [[cell.strip() for cell in row.strip("|").split("|")] for row in TEXT.splitlines() if row.startswith("| V")]
NAMED = sorted({path for row in ROWS for path in re.findall(r"tests/[\w/]+/test_\w+\.py(?:::\w+)?", row[4])})
PLACES = sorted({path for row in ROWS for path in re.findall(r"`((?:web|desk|paper|records|words)/[\w/.]+)`", row[3])})
FILES = sorted({path for row in ROWS for path in re.findall(r"\b(?:docs|docker|service)/[\w/.]+\.\w+", row[3])})
STANDINGS = ("met", "partly", "not met", "not ours", "does not apply")


def requirements() -> dict[str, int]:
    """Return the level of every requirement."""
    pairs = re.findall(r"(\d+\.\d+) (\d+)", STANDARD)
    return {f"{section}.{place}": int(level) for section, levels in pairs for place, level in enumerate(levels, 1)}


def standing_of(row: list[str]) -> str:
    found = [one for one in STANDINGS if row[5].startswith(one)]
    assert len(found) == 1, row
    return found[0]


def test_the_standard_has_as_many_requirements_as_it_says() -> None:
    assert Counter(requirements().values()) == {1: 70, 2: 183, 3: 92}


def test_every_requirement_of_levels_1_and_2_has_its_row_and_no_other_has() -> None:
    asked = {n: level for n, level in requirements().items() if level < 3 and n.split(".")[0] not in WHOLE}
    assert {row[0] for row in ROWS if row[0].removeprefix("V") in WHOLE} == {f"V{chapter}" for chapter in WHOLE}
    told = [(row[0].removeprefix("V"), int(row[1])) for row in ROWS if row[0].count(".") == 2]
    assert told == list(asked.items())
    assert {len(row) for row in ROWS} == {6}


def test_what_is_met_is_shown_by_a_test_or_says_that_it_was_read() -> None:
    unshown = [row[0] for row in ROWS if standing_of(row) == "met" and not (is_shown(row) or row[4] == "by reading")]
    assert unshown == []


def is_shown(row: list[str]) -> bool:
    return bool(re.search(r"tests/[\w/]+/test_\w+\.py", row[4]))


def test_the_counts_above_the_table_are_those_of_its_rows() -> None:
    levels = requirements()
    counts = Counter(standing_of(row) for row in ROWS if row[0].count(".") == 2)
    counts["does not apply"] += sum(level < 3 and n.split(".")[0] in WHOLE for n, level in levels.items())
    told = re.search(r"Of (\d+): (\d+) met, (\d+) partly, (\d+) not met, (\d+) the proxy's, (\d+) do not apply\.", TEXT)
    assert told and [int(one) for one in told.groups()] == [counts.total(), *(counts[one] for one in STANDINGS)]


@pytest.mark.parametrize("name", NAMED)
def test_a_test_that_the_table_names_is_there(name: str) -> None:
    path, _, test = name.partition("::")
    assert re.search(rf"^(async )?def {test or 'test_'}", (ROOT / path).read_text(), re.MULTILINE)


@pytest.mark.parametrize("path", PLACES)
def test_a_place_that_the_table_names_is_there(path: str) -> None:
    assert (SERVICE / path).exists()


@pytest.mark.parametrize("path", FILES)
def test_a_file_that_the_table_names_is_there(path: str) -> None:
    assert (ROOT / path).exists()


@pytest.mark.parametrize(
    "sentence",
    [
        f"{limits.MOST_TRIES['email']} tries for one e-mail address",
        f"{limits.MOST_TRIES['from']} from one\naddress on the network",
        f"Wrong PINs in a row: {limits.MOST_PIN_TRIES}",
        f"Passwords have {passwords_and_pins.LEAST_PASSWORD} to {passwords_and_pins.MOST_PASSWORD} characters",
        f"one of {limits.RECOVERY_CODES} recovery codes",
        f"{limits.IDLE_LASTS.total_seconds() / 3600:.0f} hours without use, {limits.SESSION_LASTS.days} days at most",
        f"{limits.TABLET_IDLE_LASTS.total_seconds() / 60:.0f} minutes without use",
        f"the tablet after {limits.TABLET_LASTS.days} days",
        f"{limits.MOST_COSTLY['work']} in 15 minutes for one person or program; two at once",
        f"{limits.MOST_COSTLY['paper']} in 15 minutes for one person or program; two at once",
    ],
)
def test_the_page_of_the_doors_says_what_the_service_does(sentence: str) -> None:
    assert sentence in (DOCS / "doors.md").read_text()
