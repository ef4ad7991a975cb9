"""The gauges of the presses that form blocks, each with its line today and what it must show for a stress."""

from datetime import date
from typing import NamedTuple

from sqlmodel import Session

from service.measured.gauge import GaugeLine, above, line_on
from service.records import presses
from service.records.presses import Gauge, Mould, Press


class Forming(NamedTuple):
    """A gauge of a press that forms blocks, with its line today."""

    press: Press
    gauge: Gauge
    line: GaugeLine

    @property
    def stop_mpa(self) -> float:
        """Where the gauge is to stop."""
        return self.line.stop_mpa(self.press, self.gauge)

    def target_mpa(self, stress_mpa: float, mould: Mould) -> float | None:
        """Return what the gauge must show for a stress on the face of a mould, None beyond where it is to stop."""
        target = self.line.gauge_for(stress_mpa, mould)
        return None if above(target, self.stop_mpa) else target


def forming_gauges(session: Session, *, today: date) -> list[Forming]:
    """Return the gauges in use of the presses that form blocks."""
    forming = [(press, gauge) for press, gauge in presses.presses(session) if press.forms and gauge is not None]
    known = presses.calibrations_of(session, [gauge.id for _, gauge in forming])
    return [Forming(press, gauge, line_on(known[gauge.id], press, on=today)) for press, gauge in forming]


def within_reach(forming: list[Forming], stress_mpa: float, mould: Mould) -> bool:
    """Return whether a press makes a stress below its working limit; where none is listed nobody is sent to one."""
    return not forming or any(one.target_mpa(stress_mpa, mould) is not None for one in forming)


def most_mpa(forming: list[Forming], mould: Mould) -> float:
    """Return the highest stress that a press makes on the face of a mould below its working limit."""
    # A kilonewton on a square millimetre is a thousand megapascals.
    face_mm2 = mould.length_mm * mould.width_mm
    return max(one.line.line.force_kn(one.stop_mpa) for one in forming) * 1000 / face_mm2
