"""The force that bent a block: as it was read, or from the gauge by the line that counted on that day."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from uuid import UUID

from service.measured.gauge import GaugeLine, line_on
from service.phrase import Phrase
from service.records.durability_tests import Flexure, Told
from service.records.presses import Calibrated
from service.shop_clock import ShopClock


@dataclass(frozen=True)
class Force:
    """A force, and what is to be said against it; None where the gauge showed no more than its zero."""

    force_kn: float | None
    flags: tuple[Phrase, ...]


def force_of(told: Told, calibrations: Mapping[UUID, list[Calibrated]], clock: ShopClock) -> Force:
    """Return the force of a bending."""
    row = told.row
    if not isinstance(row, Flexure) or row.gauge_mpa is None or told.press is None or row.gauge_id is None:
        return Force(row.force_kn if isinstance(row, Flexure) else None, ())
    day = clock.day(row.done_at)
    known = line_on(calibrations.get(row.gauge_id, []), told.press, on=day)
    force = known.force_kn(row.gauge_mpa, told.press_session)
    flags = _flags(known, row.gauge_mpa - known.shift_mpa(told.press_session), ended=known.over_on(day))
    return Force(force if force > 0 else None, tuple(flags))


def _flags(known: GaugeLine, gauge_mpa: float, *, ended: bool) -> Iterator[Phrase]:
    if known.range_mpa is None:
        yield Phrase("No calibration was valid that day: force comes from the ram size alone.")
    elif not known.covers(gauge_mpa):
        least_mpa, most_mpa = known.range_mpa
        yield Phrase(
            "The gauge was outside the calibration, which goes from {least_mpa} to {most_mpa}.",
            {"least_mpa": least_mpa, "most_mpa": most_mpa},
        )
    if ended:
        yield Phrase("The calibration of the gauge had run out on that day.")
