"""The owner's pages for invoice lines, their table, and the same for a program."""

import csv
import json
import re
from io import BytesIO, StringIO
from pathlib import Path
from typing import Any
from uuid import uuid4

import openpyxl

from service.paper import exporting
from tests.cast import Cast
from tests.desk.test_invoices import accepted, asked


def test_lines_are_written_paid_and_unpaid_on_the_pages(cast: Cast) -> None:
    olu, job_id = cast.browser("olu"), accepted(cast, "180.50")
    here = f"/jobs/{job_id}/invoice"
    assert f'href="{here}"' in olu.get(f"/jobs/{job_id}").text and "$180.50" in olu.get("/invoice-lines").text
    refused = olu.post(here, {"form": "line", "words": "", "price": "abc"})
    assert refused.status_code == 422 and "Write the amount alone" in refused.text
    assert olu.post(here, {"form": "line", "words": "Way to the pit", "price": "19.50"}).headers["location"] == here
    page = olu.get(here).text
    assert "$200.00" in page and "Way to the pit" in page
    refused = olu.post(f"{here}/paid", {"form": "paid", "paid_on": "2099-01-01"})
    assert refused.status_code == 422 and "Today or an earlier day." in refused.text
    assert olu.post(f"{here}/paid", {"form": "paid", "paid_on": "2027-02-20"}).status_code == 303
    assert "paid on 20 Feb 2027" in olu.get(here).text
    assert "No job waits for its money." in olu.get("/invoice-lines").text
    assert "20 Feb 2027" in olu.get("/invoice-lines?show=paid").text
    (line,) = set(re.findall(rf"{here}/([0-9a-f-]{{36}})/remove", page))
    refused = olu.post(f"{here}/{line}/remove")
    assert refused.status_code == 409 and "Remove the mark first." in refused.text
    assert olu.post(f"{here}/not-paid").status_code == 303 and olu.post(f"{here}/{line}/remove").status_code == 303
    assert "$200.00" not in olu.get(here).text


def test_a_technician_and_a_customer_see_no_way_to_prices(cast: Cast) -> None:
    job_id = accepted(cast, "180.50")
    assert "Invoice lines" not in cast.browser("tess").get(f"/jobs/{job_id}").text
    assert "nvoice" not in cast.browser("cy").get("/soils").text


def test_the_table_has_one_row_a_line_in_every_form(cast: Cast, tmp_path: Path) -> None:
    olu, job_id = cast.browser("olu"), accepted(cast, "180.50")
    olu.post(f"/jobs/{job_id}/invoice", {"form": "line", "words": "=1+1", "price": "19.50"})
    olu.post(f"/jobs/{job_id}/invoice/paid", {"paid_on": "2027-02-20"})
    for form in exporting.FORMS:
        assert exporting.shop_to(cast.olu, tmp_path / f"lines.{form}", form=form, table="invoice-lines") == 1
    rows = list(csv.DictReader(StringIO((tmp_path / "lines.csv").read_text("utf-8-sig"), newline="")))
    assert [(row["line"], row["price (USD)"], row["paid on"]) for row in rows] == [
        ("Test as offered", "180.5", "2027-02-20"),
        ("'=1+1", "19.5", "2027-02-20"),
    ]
    data = json.loads((tmp_path / "lines.json").read_text())["invoice_lines"]
    assert [(row["line"], row["price_usd"]) for row in data] == [("Test as offered", 180.5), ("=1+1", 19.5)]
    (sheet,) = openpyxl.load_workbook(BytesIO((tmp_path / "lines.xlsx").read_bytes())).worksheets
    cells = [cell for row in sheet.iter_rows() for cell in row if cell.value is not None]
    assert {cell.data_type for cell in cells} <= {"s", "n", "d"} and "=1+1" in [cell.value for cell in cells]


def test_a_program_of_the_owner_does_the_same(cast: Cast) -> None:
    olu, job_id = cast.program("olu"), asked(cast)
    here = f"/api/v1/jobs/{job_id}/invoice"

    def send(path: str, body: object = None) -> Any:
        return olu.post(path, json=body, headers={"Idempotency-Key": uuid4().hex})

    line = send(here, {"words": "Two soils sieved", "price": "40.25"})
    assert line.status_code == 201, line.text
    assert send(here, {"words": "x", "price": -1}).status_code == 422
    assert send(f"{here}/paid", {"paid_on": "2027-02-20"}).json()["paid_on"] == "2027-02-20"
    found = olu.get("/api/v1/invoice-lines?show=paid").json()
    assert [(one["total"], one["paid_on"]) for one in found["jobs"]] == [("40.25", "2027-02-20")]
    assert send(f"{here}/not-paid").status_code == 201
    assert send(f"{here}/{line.json()['id']}/remove").status_code == 201
    assert olu.get(here).json()["lines"] == [] and olu.get("/api/v1/invoice-lines").json()["jobs"] == []
