"""Readings as a table: figures that somebody could read, units and zone in the head, the same rows in every form."""

import csv
import json
from dataclasses import replace
from datetime import datetime
from io import BytesIO, StringIO
from pathlib import Path
from typing import Any
from zipfile import ZipFile

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.desk.doorway import Caller
from service.desk.results import readings_out
from service.errors import Forbidden
from service.paper import exporting
from service.paper.readings_table import heads
from service.paper.workbooks import write_xlsx
from service.words import numbers_to_text
from service.words.table_numbers import as_shown, to_digits, to_step
from tests.cast import SHOP, Cast
from tests.trials import Tried, a_tried_job, correct


@pytest.fixture
def tried(cast: Cast) -> Tried:
    return a_tried_job(cast)


def american(caller: Caller) -> Caller:
    return replace(caller, shop=replace(SHOP, units_first="imperial"))


def written(caller: Caller, tried: Tried, form: str) -> bytes:
    out = BytesIO()
    exporting.job_to(caller, out, job_id=tried.job_id, form=form)
    return out.getvalue()


def as_rows(table: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(StringIO(table.decode("utf-8-sig"), newline="")))


@given(
    st.floats(1e-3, 1e5),
    st.sampled_from([0.005, 0.01, 0.02, 0.13, 0.25, 0.5, 1.0, 2.0, 5.0, 20.0, 145.0]),
    st.booleans(),
)
def test_a_figure_of_a_table_is_the_figure_of_a_page(value: float, step: float, held: bool) -> None:
    said = numbers_to_text.to_step(value, step_mpa=step, to="MPa", held=held)
    assert to_step(value, step, held=held) == pytest.approx(float(said.removeprefix("at least ")), rel=1e-12)


@given(st.floats(1e-6, 1e8), st.integers(1, 6))
def test_a_size_of_a_table_is_the_size_of_a_page(value: float, digits: int) -> None:
    assert to_digits(value, digits) == pytest.approx(
        float(numbers_to_text.significant(value, digits=digits)), rel=1e-12
    )


def test_what_a_dial_showed_has_the_digits_that_were_written_down() -> None:
    # 1 psi is 0.006894757 MPa (NIST SP 811, appendix B): 12.4 MPa is 1798.5 psi, and a tenth of a MPa tells 14.5 psi.
    assert as_shown("12.4", "MPa", "psi") == 1800
    assert as_shown("2400", "psi", "psi") == 2400
    # 2400 psi is 16.547 MPa, and one psi tells thousandths of a MPa.
    assert as_shown("2400", "psi", "MPa") == 16.547


def test_an_american_shop_reads_its_own_units_first(cast: Cast, tried: Tried) -> None:
    one = next(row for row in as_rows(written(american(cast.olu), tried, "csv")) if row["block"] == "1-A1")
    # By hand: the line 0.4 kN + 4.31 kN/MPa at 12.4 MPa gives 53.83 kN on 140 x 90 mm: 4.272 MPa, 619.6 psi; a kN is
    # 224.81 lbf. The gauge's step of 0.25 MPa is 0.0855 MPa, 12.4 psi and 242 lbf on this face.
    assert (one["gauge (psi)"], one["force (lbf)"], one["stress (psi)"], one["stress (MPa)"]) == (
        *("1800", "12100", "620"),
        "4.27",
    )
    # 140 / 25.4 = 5.512 in.
    assert (one["face length (in)"], one["face width (in)"]) == ("5.512", "3.543")
    assert list(one).index("stress (psi)") < list(one).index("stress (MPa)")
    assert one["contents"].endswith("cement 6 % of dry soil") and one["gauge as read"] == "12.4 MPa"


def test_moments_stand_on_the_shops_clock_and_the_head_names_its_zone(cast: Cast, tried: Tried) -> None:
    row = next(one for one in as_rows(written(cast.olu, tried, "csv")) if one["block"] == "1-A1")
    said = row["crushed at (America/Denver)"]
    assert said.endswith(("-07:00", "-06:00")) and len(said) == len("2027-03-01T14:30-07:00")
    (job,) = readings_out.after(cast.olu, number=0)
    kept = next(one.crushed for one in job.readings if one.block == "1-A1")
    assert kept and datetime.fromisoformat(said) == kept.crushed_at.replace(second=0, microsecond=0)


def test_a_block_that_did_not_break_is_rounded_down(cast: Cast, tried: Tried) -> None:
    row = next(one for one in as_rows(written(cast.olu, tried, "csv")) if one["block"] == "1-B1")
    kept = next(
        one.crushed for one in readings_out.of_job(cast.olu, job_id=tried.job_id).readings if one.block == "1-B1"
    )
    assert kept and kept.stress and row["outcome"] == "did not break"
    assert 0 <= kept.stress.stress_mpa - float(row["stress (MPa)"]) < 0.01


def test_every_form_holds_the_same_rows(cast: Cast, tried: Tried) -> None:
    table = as_rows(written(cast.olu, tried, "csv"))
    data = json.loads(written(cast.olu, tried, "json"))
    sheet = openpyxl.load_workbook(BytesIO(written(cast.olu, tried, "xlsx")))["readings"]
    book = list(sheet.iter_rows(values_only=True))
    assert list(book[0]) == list(table[0]) and len(book) - 1 == len(table) == len(data["readings"]) == 30
    for plain, one, row in zip(table, data["readings"], book[1:], strict=True):
        for text, value, cell in zip(plain.values(), one.values(), row, strict=True):
            assert text == ("" if value is None else str(value))
            if isinstance(cell, datetime):
                assert cell.isoformat(timespec="minutes").startswith(text[: len("2027-03-01T14:30")])
            elif not hasattr(cell, "isoformat"):
                assert cell == value or (cell is None and not value)
    assert [column["key"] for column in data["columns"]] == list(data["readings"][0])
    assert {column["time_zone"] for column in data["columns"]} == {None, "America/Denver"}


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_no_remark_becomes_a_formula_or_a_link(cast: Cast, tried: Tried, form: str) -> None:
    correct(cast, tried, "1-A1", "a slip", remark='=HYPERLINK("http://stranger.example")')
    content = written(cast.olu, tried, form)
    if form == "csv":
        assert [row["remark"] for row in as_rows(content) if row["remark"]] == [
            '\'=HYPERLINK("http://stranger.example")'
        ]
        return
    sheet = openpyxl.load_workbook(BytesIO(content))["readings"]
    cells = [cell for row in sheet.iter_rows() for cell in row]
    assert {cell.data_type for cell in cells} <= {"s", "n", "d"} and not any(cell.hyperlink for cell in cells)
    assert any(cell.value == '=HYPERLINK("http://stranger.example")' for cell in cells)


def test_the_whole_shop_is_written_a_few_jobs_at_a_time(
    cast: Cast, tried: Tried, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for number in (2, 3):
        a_tried_job(cast, number=number)
    monkeypatch.setattr(readings_out, "AT_A_TIME", 1)
    assert exporting.shop_to(cast.olu, tmp_path / "all.csv", form="csv") == 3
    rows = as_rows((tmp_path / "all.csv").read_bytes())
    assert [row["job"] for row in rows] == ["1"] * 30 + ["2"] * 30 + ["3"] * 30
    assert rows[:30] == as_rows(written(cast.olu, tried, "csv"))


def test_only_the_owner_takes_all_readings_away(cast: Cast) -> None:
    for caller in (cast.tess, cast.cy):
        with pytest.raises(Forbidden):
            readings_out.after(caller, number=0)
        with pytest.raises(Forbidden):
            readings_out.hand_out(replace(caller, confirmed=True), form="csv")


def test_the_heads_are_said_in_spanish() -> None:
    english, spanish = heads(SHOP), heads(SHOP, language="es")
    assert len(set(spanish)) == len(spanish) == len(english)
    assert [one for one, other in zip(english, spanish, strict=True) if one == other] == []


def test_a_workbook_says_the_same_twice(tmp_path: Path) -> None:
    def made() -> dict[str, Any]:
        out = BytesIO()
        rows = [[1.5], ["=x"], [None], [True], [" <a> & "], [1e-7]]
        write_xlsx(out, "readings", ["a"], rows)
        return {cell.coordinate: cell.value for row in openpyxl.load_workbook(out)["readings"] for cell in row}

    read = {"A1": "a", "A2": 1.5, "A3": "=x", "A4": None, "A5": 1, "A6": " <a> & "}
    assert made() == made() == {**read, "A7": 1e-7}


def test_a_workbook_is_the_same_file_twice_and_refuses_what_is_no_number() -> None:
    books = [BytesIO(), BytesIO()]
    for out in books:
        write_xlsx(out, "readings", ["a"], [["_x0041_ \x0b"], [2.5]])
    assert books[0].getvalue() == books[1].getvalue()
    # ECMA-376-1, 22.9.2.19: what XML cannot hold is written by its number, and so is what reads like one.
    assert b">_x005F_x0041_ _x000B_<" in ZipFile(books[0]).read("xl/worksheets/sheet1.xml")
    with pytest.raises(ValueError, match="no such number"):
        write_xlsx(BytesIO(), "readings", ["a"], [[float("nan")]])
