"""A gauge on a day: its zero is taken off before force is read, and its calibration counts through its last day."""

from datetime import date, timedelta
from types import SimpleNamespace
from typing import Any, cast

import pytest

from service.measured.gauge import GaugeLine
from service.trade.press.calibration import Geometry, press_by_geometry

RAM = press_by_geometry(ram_diameter_mm=50.0, rams=1, efficiency=1.0)
LAST_DAY = date(2027, 3, 1)


def calibrated(line: Geometry, *, zero_mpa: float) -> GaugeLine:
    # Of a calibration only its zero and its last day are asked for here.
    known = SimpleNamespace(calibration=SimpleNamespace(zero_mpa=zero_mpa, valid_until=LAST_DAY), points=[])
    return GaugeLine(line, cast(Any, known))


def session(zero_mpa: float) -> Any:
    return SimpleNamespace(zero_before_mpa=zero_mpa)


def test_what_the_gauge_shows_unloaded_on_the_day_is_taken_off() -> None:
    # By hand: a ram of 50 mm has 1963.495 mm2, so 10 MPa push with 19.63495 kN.
    line = GaugeLine(RAM, None)
    assert line.force_kn(10.0, session(0.0)) == pytest.approx(19.63495, abs=5e-6)
    assert line.force_kn(10.4, session(0.4)) == pytest.approx(19.63495, abs=5e-6)
    assert line.force_kn(9.8, session(-0.2)) == pytest.approx(19.63495, abs=5e-6)


def test_a_zero_that_was_there_at_the_calibration_is_no_shift() -> None:
    line = calibrated(RAM, zero_mpa=0.3)
    assert line.shift_mpa(session(0.3)) == 0.0
    assert line.force_kn(10.1, session(0.4)) == pytest.approx(19.63495, abs=5e-6)


def test_a_calibration_counts_through_its_last_day_common_practice_no_published_source() -> None:
    line = calibrated(RAM, zero_mpa=0.0)
    assert not line.over_on(LAST_DAY)
    assert line.over_on(LAST_DAY + timedelta(days=1))
