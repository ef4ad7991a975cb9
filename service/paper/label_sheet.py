"""Labels on the stock that the shop has, to the millimetre: a sheet of many, or one after the other from a roll."""

from collections.abc import Sequence

from markupsafe import Markup

from service.desk.label_stock import Stock
from service.desk.labels import Label
from service.paper.pdf import pdf
from service.paper.square_code import code
from service.paper.templates import environment

# What a code needs of white around it is part of its drawing; the rest of the label is for people.
EDGE_MM = 1.5


def label_sheet(labels: Sequence[Label], stock: Stock, *, address: str, first: int = 1) -> bytes:
    """Return the labels as PDF, from the ``first`` free label of the first sheet on."""
    page = (
        environment()
        .get_template("label_sheet.html")
        .render(
            title=", ".join(label.title for label in labels[:3]),
            stock=stock,
            places=_places(stock),
            sheets=_sheets(labels, stock, address, first),
            code_mm=min(stock.label_height_mm - 2 * EDGE_MM, stock.label_width_mm / 2),
            edge_mm=EDGE_MM,
        )
    )
    return pdf(page)


def _places(stock: Stock) -> list[tuple[float, float]]:
    """Return the left and top edge of every label of a sheet, in mm, row by row."""
    across, down = stock.label_width_mm + stock.gap_across_mm, stock.label_height_mm + stock.gap_down_mm
    return [
        (stock.left_mm + column * across, stock.top_mm + row * down)
        for row in range(stock.down)
        for column in range(stock.across)
    ]


def _sheets(labels: Sequence[Label], stock: Stock, address: str, first: int) -> list[list[tuple[int, Label, Markup]]]:
    size, sheets = stock.across * stock.down, dict[int, list[tuple[int, Label, Markup]]]()
    for place, label in enumerate(labels, start=first - 1):
        drawn = Markup(code(f"{address.rstrip('/')}/at/{label.id}"))
        sheets.setdefault(place // size, []).append((place % size, label, drawn))
    return list(sheets.values())
