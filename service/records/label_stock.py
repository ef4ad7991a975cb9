"""The labels the shop has: a sheet of so many, or the roll of a printer that prints one at a time."""

from uuid import UUID

from sqlalchemy import CheckConstraint
from sqlmodel import Field, Session, col, select

from service.records.base import Row, not_blank, not_negative, positive


class LabelStock(Row, table=True):
    """Sheet and labels in millimetres; the newest row counts."""

    __table_args__ = (
        *not_blank("name"),
        *positive("sheet_width_mm", "sheet_height_mm", "label_width_mm", "label_height_mm", "across", "down"),
        *not_negative("left_mm", "top_mm", "gap_across_mm", "gap_down_mm"),
        CheckConstraint(
            "left_mm + across * label_width_mm + (across - 1) * gap_across_mm <= sheet_width_mm + 0.5",
            name="fits_across",
        ),
        CheckConstraint(
            "top_mm + down * label_height_mm + (down - 1) * gap_down_mm <= sheet_height_mm + 0.5", name="fits_down"
        ),
    )

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
    chosen_by: UUID = Field(foreign_key="person.id")


def newest(session: Session) -> LabelStock | None:
    """Return the stock in use, or None before one was chosen."""
    return session.exec(select(LabelStock).order_by(col(LabelStock.created_at).desc()).limit(1)).one_or_none()
