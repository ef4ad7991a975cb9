"""Numbers become text one way for page, print and mail."""

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.phrase import Phrase
from service.typed import as_shown
from service.words import numbers_to_text, prices
from service.words.sentences import say

# Rounded by hand, half away from zero.
BY_HAND = [(2.068427, 3, "2.07"), (0.0125, 2, "0.013"), (9.996, 3, "10"), (12345.0, 3, "12300"), (2.5, 1, "3"),
           (-2.5, 1, "-3"), (0.0, 3, "0"), (1.005, 3, "1.01"), (1e-7, 2, "0.0000001"), (39.9896, 4, "39.99"),
           (3.9996, 4, "4"), (99.95, 3, "100")]  # fmt: skip


@pytest.mark.parametrize(("value", "digits", "expected"), BY_HAND)
def test_a_number_is_rounded_as_with_a_pencil(value, digits, expected):
    assert numbers_to_text.significant(value, digits=digits) == expected


def test_a_stress_is_shown_in_both_systems():
    # 300 psi is 2.068427 MPa (NIST SP 811 factors).
    assert numbers_to_text.stress(2.068427, units="imperial") == "300 psi (2.07 MPa)"
    assert numbers_to_text.stress(2.068427, units="metric") == "2.07 MPa (300 psi)"


def test_what_was_held_is_at_least_and_never_rounded_up():
    # 10.6 MPa is 1537.4 psi, which a floor may not turn into 1540.
    assert numbers_to_text.stress(10.6, units="imperial", held=True) == "at least 1530 psi (10.6 MPa)"
    assert numbers_to_text.stress(10.69, units="metric", held=True) == "at least 10.6 MPa (1550 psi)"
    assert numbers_to_text.stress(10.6, units="metric", held=True, language="es") == "al menos 10.6 MPa (1530 psi)"


def test_a_floor_typed_in_psi_keeps_its_digits():
    assert numbers_to_text.figure(
        numbers_to_text.convert(1540, "psi", "MPa"), stored_in="MPa", to="psi", held=True
    ).endswith("1540 psi")


@given(value=st.floats(1e-6, 1e6), digits=st.integers(1, 6))
def test_a_floor_is_never_above_what_was_measured(value, digits):
    shown = float(numbers_to_text.significant(value, digits=digits, floor=True))
    assert shown <= value * (1 + 1e-11)
    assert shown >= value * (1 - 10.0 ** (1 - digits)) * (1 - 1e-11)


def test_masses_are_shown_in_the_readers_unit():
    assert numbers_to_text.own(0.45359237, "kg", units="imperial") == "1 lb"
    assert numbers_to_text.own(0.4536, "kg", units="metric") == "454 g"
    assert numbers_to_text.own(7.25, "kg", units="metric") == "7.25 kg"


def test_a_share_is_percent_without_idle_zeros():
    assert [numbers_to_text.percent(share) for share in (0.06, 0.0566, 1.0, 0.0)] == ["6 %", "5.7 %", "100 %", "0 %"]


@pytest.mark.parametrize(
    ("share", "expected"),
    [(0.85, "17 in 20 (85 %)"), (0.87, "about 17 in 20 (87 %)"), (0.97, "97 in 100 (97 %)"),
     (0.9999, "more than 99 in 100 (over 99 %)"), (1.0, "more than 99 in 100 (over 99 %)"),
     (0.0, "fewer than 1 in 100 (under 1 %)"), (0.02, "2 in 100 (2 %)")],
)  # fmt: skip
def test_a_probability_is_said_in_twentieths_and_percent(share, expected):
    assert numbers_to_text.chance(share) == expected


@given(st.floats(0, 1))
def test_the_twentieths_agree_with_the_percent_beside_them(share):
    part, whole = numbers_to_text.odds(round(100 * share))
    assert abs(part / whole - share) <= 0.03


def test_money_keeps_cents_and_the_parts_of_a_cent_that_matter():
    assert prices.money(Decimal("12.5"), currency="USD") == "$12.50"
    assert prices.money(Decimal("0.0413"), currency="USD") == "$0.041"
    assert prices.money(Decimal("0.41"), currency="USD") == "$0.41"


def test_days_and_hours_are_those_of_the_shop():
    assert numbers_to_text.day(date(2027, 3, 1)) == "1 Mar 2027"
    assert numbers_to_text.day(date(2027, 3, 1), language="es") == "1 mar 2027"
    assert numbers_to_text.time(datetime(2027, 3, 1, 22, 20, tzinfo=UTC), zone="America/Denver") == "1 Mar 2027, 15:20"
    assert (
        numbers_to_text.clock_field(datetime(2027, 3, 1, 22, 20, tzinfo=UTC), zone="America/Denver")
        == "2027-03-01T15:20"
    )


def test_a_number_that_is_none_is_not_shown():
    with pytest.raises(ValueError, match="finite"):
        numbers_to_text.significant(float("nan"))


def test_where_a_gauge_is_to_stop_is_rounded_down():
    # 38.3666 MPa are 5564.6 psi: rounded as usual, both would send the hand a little too far.
    assert numbers_to_text.figure(38.3666, stored_in="MPa", to="MPa", floor=True) == "38.3 MPa"
    assert numbers_to_text.figure(38.3666, stored_in="MPa", to="psi", floor=True) == "5560 psi"
    assert numbers_to_text.figure(38.3666, stored_in="MPa", to="MPa") == "38.4 MPa"


@pytest.mark.parametrize(
    ("typed", "units", "expected"),
    # By hand: 14 mm / 25.4 = 0.551 in; 50 psi x 0.00689476 = 0.345 MPa; a dial of force is named by its force alone.
    [("14 mm", "imperial", "14 mm (0.551 in)"), ("14 mm", "metric", "14 mm"), ("60 min", "imperial", "60 min"),
     ("50 psi", "metric", "50 psi (0.345 MPa)"), ("22 lb 6 oz", "metric", "22 lb 6 oz"), ("3", "metric", "3"),
     ("2400 lbf on 4560.4 mm2", "metric", "2400 lbf")],
)  # fmt: skip
def test_what_was_typed_stays_and_the_readers_system_stands_behind_it(typed, units, expected):
    assert numbers_to_text.as_typed(typed, units=units) == expected


@pytest.mark.parametrize(
    ("days", "expected"),
    [
        (0.0, "0 min"),
        (12.4 / 1440, "12 min"),
        (5.5 / 24, "5.5 h"),
        (1.5, "36 h"),
        (2.04, "2 days"),
        (28.46, "28.5 days"),
    ],
)
def test_how_long_it_lasted_is_said_in_the_unit_that_people_use(days, expected):
    assert numbers_to_text.lasted(days) == expected


@pytest.mark.parametrize(
    ("mpa", "step", "to", "expected"),
    # By hand: 2.365 MPa is 343 psi; a step of 0.13 MPa is 18.9 psi and tells tens; 9.96 told in tenths is 10.0.
    [(2.365, 0.13, "psi", "340"), (2.365, 0.13, "MPa", "2.4"), (9.96, 0.1, "MPa", "10.0"), (0.04, 0.1, "MPa", "0.0"),
     (2.365, 0.6 - 0.5, "MPa", "2.4")],
)  # fmt: skip
def test_a_reading_is_told_to_the_figure_of_its_gauge(mpa, step, to, expected):
    assert numbers_to_text.to_step(mpa, step_mpa=step, to=to) == expected


def test_a_stress_that_was_read_is_told_to_the_figure_of_its_gauge():
    # By hand: 2.9 MPa is 420.6 psi; a step of 0.13 MPa is 19 psi and tells tens.
    read = {"strength_mpa": 2.9, "strength_mpa_step": 0.13}
    assert say(Phrase("It read {strength_mpa}.", read), units="imperial") == "It read 420 psi (2.9 MPa)."
    assert say(Phrase("It read {strength_mpa}.", {"strength_mpa": 2.9})) == "It read 2.9 MPa (421 psi)."


def test_a_dial_of_force_is_named_by_its_force_alone():
    assert as_shown({"text": "2400", "unit": "lbf on 4560.4 mm2"}) == "2400 lbf"
    assert as_shown({"text": "10.5", "unit": "MPa"}) == "10.5 MPa"
