"""Presses, gauges, moulds and calibrations, and how well each gauge's line fits."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from math import pi
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import OWNERS, STAFF, Caller, Done, act, look
from service.errors import Invalid, NotFound
from service.measured.gauge import above, check_zero
from service.records import presses as records
from service.records import results
from service.records.presses import Calibrated, Calibration, Gauge, Press
from service.records.results import Resting
from service.trade.press import calibration as pressing
from service.typed import Typed

LEAST_COVERAGE, MOST_COVERAGE = 1.0, 10.0


@dataclass(frozen=True)
class Touched:
    """An issued result that uses a replaced calibration, and the newer one of its job where there is one."""

    issued_id: UUID
    job_id: UUID
    job_number: int
    number: int
    newer: int | None


@dataclass(frozen=True)
class ReplacedView:
    """A calibration that was replaced: why, and which issued results use it."""

    id: UUID
    done_on: date
    because: str
    touches: list[Touched]


@dataclass(frozen=True)
class CalibrationView:
    """A calibration with the line through its points."""

    id: UUID
    done_on: date
    valid_from: date
    valid_until: date
    reference: str
    reference_uncertainty: float | None
    coverage_factor: float | None
    points: list[tuple[float, float]]
    slope_kn_per_mpa: float
    intercept_kn: float
    residual_sd_kn: float
    over: bool
    zero_mpa: float
    in_place_of: list[ReplacedView]

    @property
    def offset_tells(self) -> bool:
        """Whether the line leaves the origin by more than the rounding of its own arithmetic."""
        return abs(self.intercept_kn) > self._least_kn

    @property
    def scatter_tells(self) -> bool:
        """Whether the points lie off the line by more than the rounding of its own arithmetic."""
        return self.residual_sd_kn > self._least_kn

    @property
    def _least_kn(self) -> float:
        return 1e-6 * max(force for _, force in self.points)


@dataclass(frozen=True)
class GaugeView:
    """A gauge, its range and its calibrations, the newest first."""

    id: UUID
    name: str
    unit: str
    graduation_mpa: float
    least_mpa: float
    full_scale_mpa: float
    calibrations: list[CalibrationView]
    typed: Mapping[str, Mapping[str, str]]

    @property
    def replaceable(self) -> list[tuple[UUID, str]]:
        """What a new calibration may take the place of, by the day it was done."""
        return [(one.id, one.done_on.isoformat()) for one in self.calibrations]


@dataclass(frozen=True)
class PressView:
    """A press and its gauges."""

    id: UUID
    name: str
    forms: bool
    crushes: bool
    ram_diameter_mm: float
    rams: int
    efficiency: float
    rating_kn: float | None
    working_limit_kn: float | None
    typed: Mapping[str, Mapping[str, str]]
    gauges: list[GaugeView]

    @property
    def ram_area_mm2(self) -> float:
        """Area that the oil pushes on, all rams together."""
        return self.rams * pi / 4 * self.ram_diameter_mm**2


@dataclass(frozen=True)
class MouldView:
    """A mould, whose inside is the face and height of the block."""

    id: UUID
    name: str
    length_mm: float
    width_mm: float
    height_mm: float
    typed: Mapping[str, Mapping[str, str]]


@dataclass(frozen=True)
class Bench:
    """All presses and moulds of the shop."""

    presses: list[PressView]
    moulds: list[MouldView]


@look("press.bench", by=STAFF)
def bench(session: Session, caller: Caller) -> Bench:
    """Return every press with gauges and calibrations, and every mould."""
    pairs = records.presses(session)
    calibrations = records.calibrations_of(session, [gauge.id for _, gauge in pairs if gauge is not None])
    replaced = records.replaced_calibrations(session)
    resting = results.resting_on(session, replaced)
    today = caller.clock.today
    views: dict[UUID, PressView] = {}
    for press, gauge in pairs:
        view = views.setdefault(press.id, _press_view(press))
        if gauge is not None:
            view.gauges.append(_gauge_view(gauge, calibrations.get(gauge.id, []), today, replaced, resting))
    moulds = [MouldView(m.id, m.name, m.length_mm, m.width_mm, m.height_mm, m.as_read) for m in records.moulds(session)]
    return Bench(list(views.values()), moulds)


def _press_view(press: Press) -> PressView:
    return PressView(
        press.id,
        press.name,
        press.forms,
        press.crushes,
        press.ram_diameter_mm,
        press.rams,
        press.efficiency,
        press.rating_kn,
        press.working_limit_kn,
        press.as_read,
        [],
    )


def _gauge_view(
    gauge: Gauge,
    calibrations: list[Calibrated],
    today: date,
    replaced: Mapping[UUID, Calibration],
    resting: Sequence[Resting],
) -> GaugeView:
    return GaugeView(
        gauge.id,
        gauge.name,
        gauge.unit,
        gauge.graduation_mpa,
        gauge.least_mpa,
        gauge.full_scale_mpa,
        [_calibration_view(one, today, _replaced_by(one.calibration, replaced, resting)) for one in calibrations],
        gauge.as_read,
    )


def _replaced_by(
    calibration: Calibration, replaced: Mapping[UUID, Calibration], resting: Sequence[Resting]
) -> list[ReplacedView]:
    """Return what a calibration took the place of, and what that had taken the place of, newest first."""
    found = []
    while calibration.replaces_id is not None:
        old = replaced[calibration.replaces_id]
        touches = [
            Touched(
                one.issued_id, one.job_id, one.job_number, one.number, one.newest if one.newest > one.number else None
            )
            for one in resting
            if one.calibration_id == old.id
        ]
        found.append(ReplacedView(old.id, old.done_on, calibration.replaced_because or "", touches))
        calibration = old
    return found


def _calibration_view(calibrated: Calibrated, today: date, in_place_of: list[ReplacedView]) -> CalibrationView:
    kept, points = calibrated.calibration, calibrated.points
    line = _line([(point.gauge_mpa, point.force_kn) for point in points]).line
    return CalibrationView(
        kept.id,
        kept.done_on,
        kept.valid_from,
        kept.valid_until,
        kept.reference,
        kept.reference_uncertainty,
        kept.coverage_factor,
        [(point.gauge_mpa, point.force_kn) for point in points],
        line.slope,
        line.intercept,
        line.residual_sd,
        kept.valid_until < today,
        kept.zero_mpa,
        in_place_of,
    )


def _line(points: Sequence[tuple[float, float]]) -> pressing.Calibration:
    return pressing.fit_calibration([pressing.CalibrationPoint(gauge, force) for gauge, force in points])


def _check_points(press: Press, gauge: Gauge, points: Sequence[tuple[Typed, Typed]]) -> None:
    """Refuse points that this dial does not show or this press may not make: a wrong unit moves where it stops."""
    if any(above(shown.value, gauge.full_scale_mpa) for shown, _ in points):
        raise Invalid("The dial ends below one of these points.", {"points": "Check the unit of the gauge."})
    if press.rating_kn is not None and any(above(force.value, press.rating_kn) for _, force in points):
        raise Invalid("One of these forces is above the rating.", {"points": "Check the unit of the force."})


@act("calibration.add", by=OWNERS)
def add_calibration(
    session: Session,
    caller: Caller,
    *,
    gauge_id: UUID,
    done_on: date,
    valid_from: date,
    valid_until: date,
    reference: str,
    reference_uncertainty: Typed | None,
    points: Sequence[tuple[Typed, Typed]],
    coverage_factor: Typed | None = None,
    zero_mpa: Typed | None = None,
    replaces_id: UUID | None = None,
    replaced_because: str | None = None,
) -> Done:
    """Keep a calibration of a gauge; one that replaces another says why, and which issued results that touches.

    ``zero_mpa`` is what the gauge showed with nothing on the press when the points were read; left out, it was 0.
    """
    gauge = session.get(Gauge, gauge_id)
    if gauge is None:
        raise NotFound("There is no such gauge.")
    _check_points(session.get_one(Press, gauge.press_id), gauge, points)
    if zero_mpa is not None:
        check_zero(zero_mpa, gauge, field="zero_mpa")
    if valid_until <= valid_from:
        raise Invalid("This calibration is never valid.", {"valid_until": "After the day it is valid from."})
    line = _line([(gauge.value, force.value) for gauge, force in points]).line
    if coverage_factor is not None and not LEAST_COVERAGE <= coverage_factor.value <= MOST_COVERAGE:
        raise Invalid(
            "This coverage factor cannot be.", {"coverage_factor": "From 1 to 10; certificates mostly use 2."}
        )
    if line.slope <= 0:
        raise Invalid("The force falls as the gauge rises.", {"points": "Look for two points that were swapped."})
    _check_replaced(session, gauge_id, replaces_id, replaced_because)
    calibration = Calibration(
        gauge_id=gauge_id,
        done_on=done_on,
        valid_from=valid_from,
        valid_until=valid_until,
        zero_mpa=zero_mpa.value if zero_mpa else 0.0,
        reference=reference,
        reference_uncertainty=reference_uncertainty.value if reference_uncertainty else None,
        coverage_factor=coverage_factor.value if coverage_factor else None,
        replaces_id=replaces_id,
        replaced_because=replaced_because,
    )
    session.add(calibration)
    session.flush()
    session.add_all(
        records.CalibrationPoint(
            calibration_id=calibration.id,
            position=position,
            gauge_mpa=gauge.value,
            force_kn=force.value,
            as_read={"gauge_mpa": gauge.as_read(), "force_kn": force.as_read()},
        )
        for position, (gauge, force) in enumerate(points, start=1)
    )
    touched = results.touched_by(session, [replaces_id] if replaces_id else [])
    return Done("calibration", calibration.id, {"gauge": gauge_id, "touches": [issued.id for issued, _ in touched]})


def _check_replaced(session: Session, gauge_id: UUID, replaces_id: UUID | None, because: str | None) -> None:
    if replaces_id is None:
        return
    old = session.get(Calibration, replaces_id)
    if old is None or old.gauge_id != gauge_id:
        raise NotFound("There is no such calibration.")
    if not because:
        raise Invalid("A calibration is replaced for a reason.", {"replaced_because": "Give a reason."})
    if records.replacement_of(session, replaces_id) is not None:
        raise Invalid("This calibration was replaced already.", {"replaces_id": "Choose the newest one."})
