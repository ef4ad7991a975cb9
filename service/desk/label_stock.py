"""The stock of labels that the shop has: sheets or single labels, in millimetres."""

from dataclasses import dataclass

from sqlmodel import Session

from service.desk.doorway import OWNERS, STAFF, Caller, Done, act, look
from service.errors import Invalid
from service.records.label_stock import LabelStock, newest


@dataclass(frozen=True)
class Stock:
    """A sheet of labels in millimetres: from its left and top edge, so many across and down, with gaps between."""

    name: str
    sheet_width_mm: float
    sheet_height_mm: float
    across: int
    down: int
    left_mm: float
    top_mm: float
    label_width_mm: float
    label_height_mm: float
    gap_across_mm: float
    gap_down_mm: float


SIZES = (
    *("sheet_width_mm", "sheet_height_mm", "left_mm", "top_mm", "label_width_mm", "label_height_mm"),
    *("gap_across_mm", "gap_down_mm"),
)
# Until the owner says what the shop has: a full sheet of the shop's own paper, cut in three by eight.
FULL_SHEET = {
    "A4": Stock("A4, 3 by 8", 210.0, 297.0, 3, 8, 0.0, 0.5, 70.0, 37.0, 0.0, 0.0),
    "Letter": Stock("Letter, 3 by 8", 215.9, 279.4, 3, 8, 0.0, 1.7, 71.9, 34.5, 0.0, 0.0),
}
LEAST_WIDTH_MM, LEAST_HEIGHT_MM = 25.0, 12.0


@look("label.stock", by=STAFF)
def stock(session: Session, caller: Caller) -> Stock:
    """Return the labels that the shop has."""
    found = newest(session)
    if found is None:
        return FULL_SHEET[caller.shop.paper]
    return Stock(found.name, across=found.across, down=found.down, **{name: getattr(found, name) for name in SIZES})


@act("label.set_stock", by=OWNERS)
def set_stock(session: Session, caller: Caller, *, wanted: Stock) -> Done:
    """Say which labels the shop has; those that do not fit on their sheet are refused."""
    wide = wanted.left_mm + wanted.across * wanted.label_width_mm + (wanted.across - 1) * wanted.gap_across_mm
    tall = wanted.top_mm + wanted.down * wanted.label_height_mm + (wanted.down - 1) * wanted.gap_down_mm
    faults = {}
    if wanted.label_width_mm < LEAST_WIDTH_MM:
        faults["label_width_mm"] = f"At least {LEAST_WIDTH_MM:g} mm, so that code and label fit."
    if wanted.label_height_mm < LEAST_HEIGHT_MM:
        faults["label_height_mm"] = f"At least {LEAST_HEIGHT_MM:g} mm, so that a camera reads the code."
    if wide > wanted.sheet_width_mm + 0.5:
        faults["across"] = f"These labels need {wide:.1f} mm; the sheet is {wanted.sheet_width_mm:g} mm wide."
    if tall > wanted.sheet_height_mm + 0.5:
        faults["down"] = f"These labels need {tall:.1f} mm; the sheet is {wanted.sheet_height_mm:g} mm high."
    if faults:
        raise Invalid("These labels do not fit.", faults)
    row = LabelStock(
        name=wanted.name,
        across=wanted.across,
        down=wanted.down,
        chosen_by=caller.doer,
        **{name: getattr(wanted, name) for name in SIZES},
    )
    session.add(row)
    session.flush()
    return Done("label_stock", row.id, {"name": wanted.name})
