"""Presses, gauges, moulds and calibrations; which calibration counts for a crushing is decided here."""

from collections.abc import Iterable
from datetime import date, datetime
from functools import cache
from typing import Any, NamedTuple
from uuid import UUID

from sqlalchemy import CheckConstraint, ForeignKeyConstraint, UniqueConstraint, bindparam
from sqlmodel import Field, Session, col, select

from service.records.base import Entered, Raw, Row, finite, fraction, not_blank, not_negative, positive, together
from service.records.versions import one_where


class Press(Entered, table=True):
    """A press that forms blocks, crushes them, or both; one that crushes has a working limit below its rating."""

    __table_args__ = (
        *not_blank("name"),
        *positive("ram_diameter_mm", "rating_kn", "working_limit_kn"),
        *fraction("efficiency"),
        CheckConstraint("rams >= 1", name="rams_some"),
        CheckConstraint("forms OR crushes", name="does_something"),
        CheckConstraint("working_limit_kn < rating_kn", name="limit_below_rating"),
        CheckConstraint(
            "NOT crushes OR (rating_kn IS NOT NULL AND working_limit_kn IS NOT NULL)", name="crushing_has_limit"
        ),
    )

    name: str
    forms: bool
    crushes: bool
    ram_diameter_mm: float
    rams: int = 1
    efficiency: float
    rating_kn: float | None = None
    working_limit_kn: float | None = None
    ended_at: datetime | None = None


class Gauge(Entered, table=True):
    """A gauge on a press, with the unit on its dial and its range."""

    __table_args__ = (
        *not_blank("name", "unit"),
        *positive("graduation_mpa", "full_scale_mpa"),
        *not_negative("least_mpa"),
        CheckConstraint("full_scale_mpa > graduation_mpa", name="full_scale_above_graduation"),
    )

    press_id: UUID = Field(foreign_key="press.id", index=True)
    name: str
    unit: str
    graduation_mpa: float
    least_mpa: float = 0.0
    full_scale_mpa: float
    ended_at: datetime | None = None


class Mould(Entered, table=True):
    """A mould; its inside is the face of the block."""

    __table_args__ = (*not_blank("name"), *positive("length_mm", "width_mm", "height_mm"))

    name: str
    length_mm: float
    width_mm: float
    height_mm: float
    ended_at: datetime | None = None


class Calibration(Row, table=True):
    """A gauge compared with a reference on a day; a better one replaces it and says why."""

    __table_args__ = (
        CheckConstraint("valid_until > valid_from", name="valid_for_a_while"),
        *finite("zero_mpa"),
        *not_blank("reference"),
        *not_negative("reference_uncertainty"),
        CheckConstraint("coverage_factor >= 1 AND coverage_factor <= 10", name="coverage_factor_believable"),
        together("replaces_id", "replaced_because"),
        CheckConstraint("replaces_id <> id", name="replaces_other"),
        ForeignKeyConstraint(["replaces_id"], ["calibration.id"]),
    )

    gauge_id: UUID = Field(foreign_key="gauge.id", index=True)
    done_on: date
    valid_from: date
    valid_until: date
    zero_mpa: float = 0.0
    reference: str
    # As the certificate states it; over the coverage factor it is a standard uncertainty.
    reference_uncertainty: float | None = None
    coverage_factor: float | None = None
    replaces_id: UUID | None = Field(default=None, unique=True)
    replaced_because: str | None = None


class CalibrationPoint(Raw, table=True):
    """One pair of gauge and force."""

    __table_args__ = (UniqueConstraint("calibration_id", "position"), *not_negative("gauge_mpa", "force_kn"))

    calibration_id: UUID = Field(foreign_key="calibration.id")
    position: int
    gauge_mpa: float
    force_kn: float


class PressSession(Raw, table=True):
    """A press session of crushing at one gauge, with what it showed unloaded before and after."""

    __table_args__ = (
        *finite("zero_before_mpa", "zero_after_mpa"),
        together("closed_at", "closed_by", "zero_after_mpa"),
        one_where("uq_press_session_open", "gauge_id", "closed_at IS NULL"),
    )

    gauge_id: UUID = Field(foreign_key="gauge.id", index=True)
    opened_at: datetime
    opened_by: UUID = Field(foreign_key="person.id")
    zero_before_mpa: float
    closed_at: datetime | None = None
    closed_by: UUID | None = Field(default=None, foreign_key="person.id")
    zero_after_mpa: float | None = None


class Point(NamedTuple):
    """What a gauge showed at a force."""

    gauge_mpa: float
    force_kn: float


class Calibrated(NamedTuple):
    """A calibration with its points in order."""

    calibration: Calibration
    points: list[Point]


def presses(session: Session) -> list[tuple[Press, Gauge | None]]:
    """Return every press in use beside each of its gauges in use."""
    question = (
        select(Press, Gauge)
        .outerjoin(Gauge, (col(Gauge.press_id) == col(Press.id)) & col(Gauge.ended_at).is_(None))
        .where(col(Press.ended_at).is_(None))
        .order_by(col(Press.name), col(Gauge.name))
    )
    return [(press, gauge) for press, gauge in session.exec(question)]


def gauges_by_id(session: Session, gauge_ids: Iterable[UUID]) -> dict[UUID, tuple[Gauge, Press]]:
    """Return gauges with their presses, ended ones too: an old reading keeps its gauge."""
    question = select(Gauge, Press).join(Press, col(Press.id) == col(Gauge.press_id))
    return {
        gauge.id: (gauge, press) for gauge, press in session.exec(question.where(col(Gauge.id).in_(set(gauge_ids))))
    }


def moulds(session: Session) -> list[Mould]:
    """Return the moulds in use, by name."""
    return list(session.exec(select(Mould).where(col(Mould.ended_at).is_(None)).order_by(col(Mould.name))))


def every_mould(session: Session) -> list[Mould]:
    """Return all moulds by name, those out of use too: an old recipe keeps its mould."""
    return list(session.exec(select(Mould).order_by(col(Mould.name), col(Mould.id))))


def calibrations_of(session: Session, gauge_ids: Iterable[UUID]) -> dict[UUID, list[Calibrated]]:
    """Return the calibrations that were not replaced of each gauge, newest first, in one statement."""
    gauges = set(gauge_ids)
    found: dict[UUID, Calibrated] = {}
    for calibration, gauge_mpa, force_kn in session.execute(_calibrations(), {"gauges": list(gauges)}):
        one = found.setdefault(calibration.id, Calibrated(calibration, []))
        if gauge_mpa is not None:
            one.points.append(Point(gauge_mpa, force_kn))
    by_gauge: dict[UUID, list[Calibrated]] = {gauge: [] for gauge in gauges}
    for one in found.values():
        by_gauge[one.calibration.gauge_id].append(one)
    return by_gauge


@cache
def _calibrations() -> Any:
    replaced = select(col(Calibration.replaces_id)).where(col(Calibration.replaces_id).is_not(None))
    return (
        select(Calibration, CalibrationPoint.gauge_mpa, CalibrationPoint.force_kn)
        .outerjoin(CalibrationPoint, col(CalibrationPoint.calibration_id) == col(Calibration.id))
        .where(col(Calibration.gauge_id).in_(bindparam("gauges", expanding=True)))
        .where(col(Calibration.id).not_in(replaced))
        .order_by(
            col(Calibration.valid_from).desc(),
            col(Calibration.done_on).desc(),
            col(Calibration.created_at).desc(),
            col(CalibrationPoint.position),
        )
    )


def replacement_of(session: Session, calibration_id: UUID) -> Calibration | None:
    """Return the calibration that took the place of one."""
    return session.exec(select(Calibration).where(Calibration.replaces_id == calibration_id)).one_or_none()


def replaced_calibrations(session: Session) -> dict[UUID, Calibration]:
    """Return every calibration that another took the place of, by its id."""
    replaced = select(col(Calibration.replaces_id)).where(col(Calibration.replaces_id).is_not(None))
    return {one.id: one for one in session.exec(select(Calibration).where(col(Calibration.id).in_(replaced)))}


def in_force(calibrations: list[Calibrated], *, on: date) -> Calibrated | None:
    """Return the newest of a gauge's calibrations valid from a day or before; past its end it still counts."""
    begun = [calibrated for calibrated in calibrations if calibrated.calibration.valid_from <= on]
    return max(
        begun, key=lambda c: (c.calibration.valid_from, c.calibration.done_on, c.calibration.created_at), default=None
    )


def open_session(session: Session, gauge_id: UUID) -> PressSession | None:
    """Return the press session of crushing that is open at a gauge."""
    question = select(PressSession).where(PressSession.gauge_id == gauge_id, col(PressSession.closed_at).is_(None))
    return session.exec(question).one_or_none()
