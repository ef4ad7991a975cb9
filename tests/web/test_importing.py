"""The pages on which a table of older readings is matched, checked and taken in, without a script."""

import re
from typing import Any

import pytest
from bs4 import BeautifulSoup

from service.desk import imports
from tests.cast import Browser, Cast
from tests.paper.test_importing import CLEAN


def brought(cast: Cast, text: str) -> tuple[Browser, str]:
    olu = cast.browser("olu")
    answer = olu.post("/import", files={"file": ("old readings.csv", text.encode(), "text/csv")})
    assert answer.status_code == 303, answer.text
    return olu, answer.headers["location"]


def form_of(page: Any) -> dict[str, str]:
    """Return what a browser would send of the form that matches columns."""
    form = BeautifulSoup(page.text, "html.parser").select_one("form[method=get].sheet")
    assert form is not None
    sent = {str(one["name"]): str(one.get("value", "")) for one in form.select("input[name]")}
    for one in form.select("select[name]"):
        chosen = one.select_one("option[selected]") or one.select_one("option")
        assert chosen is not None
        sent[str(one["name"])] = str(chosen["value"])
    return sent


@pytest.fixture
def cast(cast_on_either: Cast) -> Cast:
    """Return the cast on either database: many rows are written at once."""
    return cast_on_either


def test_a_table_is_matched_checked_and_taken_in(cast: Cast) -> None:
    olu, path = brought(cast, CLEAN)
    page = olu.get(path)
    assert "4 rows" in page.text and "Import 4 readings" not in page.text
    sent = form_of(page)
    assert (sent["stress_mpa.column"], sent["stress_mpa.unit"], sent["customer.column"]) == ("7", "psi", "9")
    checked = olu.get(path, params=sent)
    assert "No problems: 4 readings of 2 jobs" in checked.text
    assert olu.post(path, form_of(checked)).headers["location"] == path
    page = olu.get(path).text
    assert "4 readings" in page and "New Adobe Yard" in page
    assert "old readings.csv" in olu.get("/import").text
    assert olu.post(f"{path}/end", {"because": "wrong units", "form": "end"}).status_code == 303
    assert "do not count" in olu.get(path).text


def test_what_is_wrong_is_shown_by_row_and_nothing_is_taken_in(cast: Cast) -> None:
    olu, path = brought(cast, CLEAN.replace("620", "no idea").replace("soaked,28,24,broke", "blue,28,24,broke"))
    sent = form_of(olu.get(path))
    answer = olu.post(path, sent)
    assert answer.status_code == 303 and "checked=yes" in answer.headers["location"]
    page = olu.get(answer.headers["location"]).text
    assert "2 problems in 4 rows" in page and "Write a number, such as 7.25." in page
    table = re.search(r'href="([^"]*problems\.csv[^"]*)"', page)
    assert table
    rows = olu.get(table[1].replace("&amp;", "&")).text.splitlines()
    assert rows[1].startswith("2,stress (psi),no idea,") and rows[2].startswith("5,condition,blue,")
    (file,) = imports.brought(cast.olu)
    assert file.imported_at is None


def test_what_holds_for_all_rows_stands_for_a_column(cast: Cast) -> None:
    olu, path = brought(cast, "recipe,age (days),stress (MPa)\nA,28,3.1\nA,28,3.3\n")
    sent = form_of(olu.get(path))
    assert "problems" in olu.get(path, params=sent).text
    sent |= {"job.fixed": "Old yard", "condition.fixed": "air-dry"}
    assert "No problems: 2 readings of 1 job." in olu.get(path, params=sent).text


def test_what_is_no_table_is_refused_at_its_field(cast: Cast) -> None:
    olu = cast.browser("olu")
    refused = olu.post("/import", files={"file": ("a.csv", b"\x89PNG\0\0", "text/csv")})
    assert refused.status_code == 422 and "This is no table. Save it as CSV or XLSX." in refused.text
    assert olu.post("/import").status_code == 422
