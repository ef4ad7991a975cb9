"""Crushings as read at the press. What stress they mean is worked out from them and stands nowhere here."""

from datetime import datetime
from uuid import UUID

from sqlalchemy import CheckConstraint, Index
from sqlmodel import Field, Session, col, select

from service.records.base import Versioned, not_negative, one_of, positive
from service.records.recipes import CONDITIONS
from service.records.versions import versions

OUTCOMES = ("broke", "held", "fell apart", "spoiled")
LOADED = ("broke", "held")
HELD_BECAUSE = ("press limit", "agreed stop", "leak")
ORIENTATIONS = ("flat", "on edge", "on end")
FACES = ("bare", "packed", "capped", "ground")
PEAK_READ = ("held needle", "watched", "filmed", "logged")


class Crushing(Versioned, table=True):
    """One block under the press; one crushing of a block stands, whoever typed first."""

    __table_args__ = (
        one_of("outcome", OUTCOMES),
        one_of("state", CONDITIONS),
        one_of("orientation", ORIENTATIONS),
        one_of("faces", FACES),
        one_of("peak_read", PEAK_READ),
        one_of("held_because", HELD_BECAUSE),
        *positive("length_mm", "width_mm", "height_mm", "mass_kg", "loading_s"),
        *not_negative("gauge_mpa", "water_hours", "out_of_water_min"),
        CheckConstraint("(outcome IN ('broke', 'held')) = (gauge_mpa IS NOT NULL)", name="loaded_has_gauge_reading"),
        CheckConstraint(
            "gauge_mpa IS NULL OR (gauge_id IS NOT NULL AND length_mm IS NOT NULL AND width_mm IS NOT NULL)",
            name="reading_has_gauge_and_face",
        ),
        CheckConstraint("(outcome = 'held') = (held_because IS NOT NULL)", name="held_has_reason"),
        CheckConstraint("(outcome = 'spoiled') = (spoiled_because IS NOT NULL)", name="spoiled_has_reason"),
        *versions("crushing", once="block_id"),
        Index(None, "crushed_by", "created_at"),
        Index(None, "crushed_at"),
    )

    block_id: UUID = Field(foreign_key="block.id", index=True)
    gauge_id: UUID | None = Field(default=None, foreign_key="gauge.id", index=True)
    press_session_id: UUID | None = Field(default=None, foreign_key="press_session.id")
    outcome: str
    state: str
    gauge_mpa: float | None = None
    peak_read: str | None = None
    held_because: str | None = None
    orientation: str = "flat"
    faces: str = "bare"
    length_mm: float | None = None
    width_mm: float | None = None
    height_mm: float | None = None
    mass_kg: float | None = None
    water_hours: float | None = None
    out_of_water_min: float | None = None
    loading_s: float | None = None
    failure: str | None = None
    spoiled_because: str | None = None
    remark: str | None = None
    crushed_at: datetime
    typed_at: datetime
    crushed_by: UUID = Field(foreign_key="person.id")
    device_id: UUID | None = Field(default=None, foreign_key="device.id")


def standing_of(session: Session, block_ids: list[UUID]) -> dict[UUID, Crushing]:
    """Return the standing crushing of each block that has one, in one statement."""
    question = select(Crushing).where(col(Crushing.block_id).in_(block_ids), col(Crushing.ended_at).is_(None))
    return {crushing.block_id: crushing for crushing in session.exec(question)}


def last_by(session: Session, person_id: UUID) -> list[Crushing]:
    """Return the two readings that a person typed last at the press, to be remembered for the next block."""
    question = select(Crushing).where(Crushing.crushed_by == person_id, col(Crushing.ended_at).is_(None))
    return list(session.exec(question.order_by(col(Crushing.created_at).desc()).limit(2)))
