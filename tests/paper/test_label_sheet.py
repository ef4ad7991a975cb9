"""Labels as they are printed: drawn by one independent library, their codes read by another."""

from dataclasses import replace
from uuid import UUID

import pypdfium2
import pytest
import zxingcpp
from PIL import Image

from service.desk.label_stock import FULL_SHEET, Stock
from service.desk.labels import Label
from service.paper.label_sheet import label_sheet

ADDRESS = "https://bench.example"
ROLL = Stock("Roll, one at a time", 50.0, 25.0, 1, 1, 0.0, 0.0, 50.0, 25.0, 0.0, 0.0)
GAPS = Stock("Six with gaps", 100.0, 100.0, 2, 3, 5.0, 8.0, 40.0, 25.0, 6.0, 4.0)
DOTS_PER_MM = 300 / 25.4


def some(count: int) -> list[Label]:
    return [Label(UUID(int=n + 1), f"24-B2-{n + 1}", ("pressed 2027-03-01 at 10:12",)) for n in range(count)]


def printed(labels: list[Label], stock: Stock, first: int = 1) -> list[Image.Image]:
    document = pypdfium2.PdfDocument(label_sheet(labels, stock, address=ADDRESS, first=first))
    return [document[n].render(scale=300 / 72).to_pil() for n in range(len(document))]


def read(sheet: Image.Image) -> dict[str, tuple[float, float]]:
    """Return each address read on a sheet, with the middle of its code in mm."""
    found = {}
    for code in zxingcpp.read_barcodes(sheet):
        at = code.position
        corners = (at.top_left, at.top_right, at.bottom_left, at.bottom_right)
        middle = [sum(getattr(corner, axis) for corner in corners) / 4 / DOTS_PER_MM for axis in ("x", "y")]
        found[code.text] = (middle[0], middle[1])
    return found


@pytest.mark.parametrize("stock", [FULL_SHEET["A4"], FULL_SHEET["Letter"], ROLL, GAPS], ids=lambda stock: stock.name)
def test_every_printed_code_is_read_and_holds_an_opaque_address_only(stock: Stock) -> None:
    labels = some(7)
    sheets = printed(labels, stock)
    assert len(sheets) == -(-7 // (stock.across * stock.down))
    addresses = {address for sheet in sheets for address in read(sheet)}
    assert addresses == {f"{ADDRESS}/at/{label.id}" for label in labels}


def test_a_sheet_has_the_size_of_the_stock_and_each_label_its_place() -> None:
    # Two across of 40 mm with 6 mm between, from 5 mm on: the second column begins at 51 mm; rows at 8, 37 and 66 mm.
    (sheet,) = printed(some(6), GAPS)
    assert [round(side / DOTS_PER_MM) for side in sheet.size] == [100, 100]
    places = read(sheet)
    for n, (left, top) in enumerate([(5, 8), (51, 8), (5, 37), (51, 37), (5, 66), (51, 66)]):
        x, y = places[f"{ADDRESS}/at/{UUID(int=n + 1)}"]
        # The code is 20 mm wide, half of the label, 1.5 mm from its edges; its middle is read to within a millimetre.
        assert (x, y) == (pytest.approx(left + 11.5, abs=1.0), pytest.approx(top + 11.5, abs=1.0))


def test_a_sheet_that_was_begun_is_used_up() -> None:
    first, second = printed(some(3), GAPS, first=5)
    assert (len(read(first)), len(read(second))) == (2, 1)


def test_a_small_label_is_still_read() -> None:
    small = replace(ROLL, sheet_width_mm=30.0, sheet_height_mm=15.0, label_width_mm=30.0, label_height_mm=15.0)
    assert len(read(printed(some(1), small)[0])) == 1
