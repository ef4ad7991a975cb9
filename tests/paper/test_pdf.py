"""A PDF stands alone: tagged, one font, the same bytes again, and nothing fetched from outside."""

import logging
import re
from pathlib import Path

import pytest

from service.paper.charts import readings_chart
from service.paper.pdf import pdf
from service.paper.strips import Mark, Readings, Strip
from tests.pdfs import opened

CHART = readings_chart(Readings((Strip("A", "soaked 24 h", True, (Mark("broke", 2.1),)),)), prefix="r")
PAGE = (
    '<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Result no. 1</title>'
    '<style>@page {{ font-family: "DejaVu Sans" }} body {{ font-family: "DejaVu Sans" }}</style></head>'
    "<body><h1>Result no. 1: 2.1 ± 0.2 MPa, 1900 kg/m³</h1>{0}</body></html>"
)


@pytest.fixture(scope="module")
def written() -> bytes:
    return pdf(PAGE.format(CHART))


def test_a_pdf_says_that_it_is_tagged_for_readers(written):
    assert b"pdfuaid:part" in written
    assert {b"/StructTreeRoot", b"/MarkInfo", b"/Lang"} <= set(re.findall(rb"/\w+", opened(written)))


def test_the_same_page_gives_the_same_bytes(written):
    assert pdf(PAGE.format(CHART)) == written


def test_a_pdf_uses_one_font_only(written):
    fonts = re.findall(rb"/BaseFont\s*/(?:\w{6}\+)?([\w-]+)", opened(written))
    assert fonts
    assert {font.decode() for font in fonts} <= {"DejaVu-Sans", "DejaVu-Sans-Bold"}


def test_a_page_cannot_make_the_service_fetch_a_file_or_an_address(tmp_path: Path, caplog):
    secret = tmp_path / "secret.css"
    secret.write_text("h1::after { content: 'leaked' }")
    with caplog.at_level(logging.ERROR, logger="weasyprint"):
        written = pdf(PAGE.format(f'<link rel="stylesheet" href="file://{secret}">'))
    assert written.startswith(b"%PDF")
    assert "disallowed protocol" in caplog.text
