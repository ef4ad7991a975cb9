"""How fast the needle must climb: a rate of stress or force through ram and face onto the gauge, by hand."""

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import Invalid
from service.trade.criteria import codes_and_rules
from service.trade.press.calibration import CalibrationPoint, fit_calibration, press_by_geometry, read_gauge
from service.trade.press.loading_rate import gauge_rate, published_rates, rates_of

FACE = {"face_length_mm": 140.0, "face_width_mm": 90.0}
# 76.2 mm ram: 4560.367 mm2; with 5 % friction 4.332349 kN for each MPa.
PRESS = press_by_geometry(ram_diameter_mm=76.2, efficiency=0.95)


def test_a_rate_of_stress_is_told_on_the_gauge():
    # By hand: 0.05 MPa/s on 140 x 90 mm is 0.63 kN/s; over 0.95 x pi x 76.2^2 / 4 mm2 that is 0.145418 MPa/s.
    found = gauge_rate(PRESS, **FACE, stress_rate_mpa_s=0.05)
    assert found.load_rate_kn_s == pytest.approx(0.63)
    assert found.gauge_rate_mpa_s == pytest.approx(630 / (0.95 * math.pi * 76.2**2 / 4))
    assert found.gauge_rate_mpa_s == pytest.approx(0.145418, abs=5e-7)


def test_a_rate_of_force_does_not_ask_for_the_face():
    # By hand: 500 N/s over 4332.349 mm2 of working ram; on 12600 mm2 of block 0.0396825 MPa/s.
    found = gauge_rate(PRESS, **FACE, load_rate_kn_s=0.5)
    assert found.gauge_rate_mpa_s == pytest.approx(0.115411, abs=5e-7)
    assert found.stress_rate_mpa_s == pytest.approx(0.0396825, abs=5e-8)


def test_a_calibration_gives_its_slope_and_its_intercept_gives_nothing():
    # Force = 3 + 4 x gauge: 0.63 kN/s is 0.1575 MPa/s whatever stands at zero.
    line = fit_calibration([CalibrationPoint(gauge, 3 + 4 * gauge) for gauge in (5.0, 15.0, 25.0)])
    assert gauge_rate(line, **FACE, stress_rate_mpa_s=0.05).gauge_rate_mpa_s == pytest.approx(0.1575)


@given(rate=st.floats(1e-4, 10), gauge=st.floats(1, 50), seconds=st.floats(0.1, 100))
def test_what_the_needle_gains_is_what_the_block_gains(rate: float, gauge: float, seconds: float) -> None:
    climbed = gauge + seconds * gauge_rate(PRESS, **FACE, stress_rate_mpa_s=rate).gauge_rate_mpa_s
    before, after = (read_gauge(PRESS, gauge_mpa=one, **FACE).stress_mpa for one in (gauge, climbed))
    assert after - before == pytest.approx(rate * seconds, rel=1e-6, abs=1e-9)


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"stress_rate_mpa_s": 0.0}, "stress_rate_mpa_s"),
        ({"load_rate_kn_s": -1.0}, "load_rate_kn_s"),
        ({}, "stress_rate_mpa_s"),
        ({"stress_rate_mpa_s": 0.05, "load_rate_kn_s": 0.5}, "load_rate_kn_s"),
        ({"stress_rate_mpa_s": 0.05, "face_width_mm": 0.0}, "face_width_mm"),
    ],
)
def test_a_rate_that_says_nothing_is_refused_at_its_field(wrong: dict[str, Any], field: str) -> None:
    with pytest.raises(Invalid) as refused:
        gauge_rate(PRESS, **{**FACE, **wrong})
    assert field in refused.value.fields


# Each number as its source prints it, in MPa/s or kN/s by hand from the definitions of psi (6894.757293 Pa) and
# lbf (4.4482216 N).
@pytest.mark.parametrize(
    ("key", "test", "stress", "load"),
    [
        # EN 772-1, the lowest of its rates, second-hand
        ("une-41410-3", "crushing", (0.05, 0.05), None),
        # IS 3495-1: 14 N/mm2 a minute, second-hand: 14 / 60
        ("is-1725-1982-20", "crushing", (0.233333, 0.233333), None),
        # a paper on halved blocks: 0.15 to 0.25 MPa/s, second-hand
        ("xp-p13-901-2001-40", "crushing", (0.15, 0.25), None),
        # ASTM D1633: 20 psi/s give or take 10, memory
        ("nmac-ceb", "crushing", (0.0689476, 0.2068427), None),
        # NBR 8492: 500 N/s, memory
        ("nbr-8491", "crushing", None, (0.5, 0.5)),
        # 780 CMR 2109.3.1.2.3: 500 lbf a minute, printed there as 37 N/s, seen
        ("ibc-adobe", "bending", None, (0.0370685, 0.0370685)),
    ],
)
def test_a_criterion_has_the_rate_its_source_gives(
    key: str, test: str, stress: tuple[float, float] | None, load: tuple[float, float] | None
) -> None:
    (rate,) = rates_of([key])
    assert rate.test == test
    found = [gauge_rate(PRESS, **FACE, **one) for one in rate.ends]
    if stress is not None:
        assert [one.stress_rate_mpa_s for one in found] == pytest.approx(stress, abs=5e-7)
    if load is not None:
        assert [one.load_rate_kn_s for one in found] == pytest.approx(load, abs=5e-7)


def test_every_rate_belongs_to_a_criterion_that_is_published():
    named = [key for rate in published_rates() for key in rate.criteria]
    assert len(named) == len(set(named)) and set(named) <= set(codes_and_rules.published())


def test_criteria_that_share_a_rate_tell_it_once_and_a_criterion_without_one_tells_none():
    assert len(rates_of(["une-41410-1", "une-41410-3"])) == 1
    assert rates_of(["ks-1070", "a rule of the shop"]) == ()
