"""Typed text becomes a number, or one sentence for its field."""

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from service.errors import Invalid
from service.words.prices import read_price_per_kg
from service.words.text_to_numbers import (
    Writing,
    read_choice,
    read_count,
    read_date,
    read_money,
    read_quantity,
    read_time,
    read_words,
)
from service.words.units import KINDS, UNIT_NAMES, convert, dial_unit, offered, unit_label

# handbook.json, topic "units"; the factor of the psi was seen on conversion pages, the pound and the inch are exact.
HANDBOOK = [
    pytest.param(1, "psi", "kPa", 6.894757293, 1e-9, id="handbook.json U-01 NIST SP 811 factors"),
    pytest.param(300, "psi", "MPa", 2.068427, 1e-6, id="handbook.json U-02 780 CMR prints 2068 kPa"),
    pytest.param(50, "psi", "MPa", 0.344738, 1e-6, id="handbook.json U-04 780 CMR prints 345 kPa"),
    pytest.param(35, "psi", "MPa", 0.241317, 1e-6, id="handbook.json U-05 780 CMR prints 241 kPa"),
    pytest.param(1, "kgf/cm2", "kPa", 98.0665, 1e-12, id="handbook.json U-07 by definition"),
    pytest.param(66.52, "kgf/cm2", "MPa", 6.52338, 1e-5, id="handbook.json U-08 Bhutan report p.14"),
    pytest.param(500 / 60, "lbf", "N", 37.069, 0.05, id="handbook.json U-10 780 CMR 2109.3.1.2.3 a second"),
    pytest.param(20, "kgf/cm2", "MPa", 1.96133, 1e-5, id="handbook.json U-11 kgf by definition"),
    pytest.param(1, "lb", "kg", 0.45359237, 1e-15, id="international pound by definition"),
    pytest.param(1, "ft", "mm", 304.8, 1e-12, id="international foot by definition"),
    pytest.param(212, "°F", "°C", 100.0, 1e-9, id="boiling point by definition of the Fahrenheit degree"),
    pytest.param(12.4, "tf", "kN", 121.60246, 1e-9, id="12400 kg x 9.80665 m/s2 = 121602.46 N by hand"),
    pytest.param(1, "lb/ft3", "kg/m3", 0.45359237 / 0.3048**3, 1e-9, id="pound over cubic foot by definition"),
]


@pytest.mark.parametrize(("value", "unit", "to", "expected", "tolerance"), HANDBOOK)
def test_units_change_as_published(value, unit, to, expected, tolerance):
    assert convert(value, unit, to) == pytest.approx(expected, abs=tolerance)


def test_a_typed_quantity_keeps_its_text_and_its_unit():
    typed = read_quantity(" 7.25 ", field="mass_kg", kind="mass", unit="lb")
    assert (typed.text, typed.unit) == ("7.25", "lb")
    assert typed.value == pytest.approx(7.25 * 0.45359237, rel=1e-15)
    assert typed.as_read() == {"text": "7.25", "unit": "lb"}


@pytest.mark.parametrize("text", ["7.25 lb", "7.25lb", "7.25 LBS", "7.25 pounds"])
def test_a_unit_behind_the_number_outranks_the_select(text):
    assert read_quantity(text, field="mass_kg", kind="mass", unit="kg").unit == "lb"


@pytest.mark.parametrize(
    "text",
    ["", "  ", "1,5", "1,000.5", "1..2", "2 3", "nan", "inf", "-inf", "1e999", "9**9**9", "0x10", "1_000", "٣", "７",
     "1" * 400, "1e-400", "1e-300", "--1", "5 1/0", "1/2/3",
     "22 lb 17 oz", "22 lb 6", "22 oz 6 lb", "1 2/3/4", "1e", "7.25 stone", "7.25 kN", "-3", "1e300", "kg", "1\x002"],
)  # fmt: skip
def test_nonsense_is_refused_for_its_own_field(text):
    with pytest.raises(Invalid) as refused:
        read_quantity(text, field="mass_kg", kind="mass", unit="kg")
    assert list(refused.value.fields) == ["mass_kg"]
    assert refused.value.fields["mass_kg"].endswith(".")


def test_a_decimal_comma_is_met_with_advice():
    with pytest.raises(Invalid, match="Use a point before the decimals"):
        read_quantity("1,5", field="mass_kg", kind="mass", unit="kg")


def test_a_unit_of_another_quantity_is_named_among_those_offered():
    with pytest.raises(Invalid, match=r"kg, g, t, lb, oz"):
        read_quantity("7.25 kN", field="mass_kg", kind="mass", unit="kg")


def test_a_number_without_any_unit_is_refused_when_several_are_offered():
    with pytest.raises(Invalid, match="one of these units"):
        read_quantity("7.25", field="mass_kg", kind="mass")


def test_a_share_above_the_whole_is_refused_in_the_unit_it_was_typed_in():
    with pytest.raises(Invalid, match="Only 0 to 100 % can be meant"):
        read_quantity("150", field="share", kind="share", unit="%")


def test_frost_may_be_below_zero():
    assert read_quantity("−40", field="temperature_c", kind="temperature", unit="°F").value == pytest.approx(-40)


@pytest.mark.parametrize("kind", KINDS)
def test_both_systems_offer_the_same_quantity_and_know_its_units(kind):
    for unit in (*KINDS[kind].metric, *KINDS[kind].imperial, KINDS[kind].stored_in):
        assert unit in UNIT_NAMES
        assert convert(1.0, unit, KINDS[kind].stored_in) != 0
        assert set(KINDS[kind].imperial) <= set(KINDS[kind].metric)


def test_each_shop_is_offered_its_own_unit_first():
    assert offered("mass", "imperial")[0] == "lb"
    assert offered("mass", "metric")[0] == "kg"


@pytest.mark.parametrize("text", ["", "-1", "1.0", "1e3", "11", "abc", "٣", "9" * 40])
def test_a_count_is_a_whole_number_within_its_bounds(text):
    assert read_count(" 5 ", field="blocks", least=1, most=10) == 5
    with pytest.raises(Invalid):
        read_count(text, field="blocks", least=1, most=10)


@pytest.mark.parametrize("text", ["2027-02-30", "2027-13-01", "01/03/2027", "", "2027-3-1", "0001-01-01", "9999-01-01"])
def test_a_day_that_does_not_exist_is_refused(text):
    assert read_date("2028-02-29", field="promised_on") == date(2028, 2, 29)
    with pytest.raises(Invalid):
        read_date(text, field="promised_on")


def test_a_time_is_read_on_the_clock_of_the_shop():
    # Denver is seven hours behind in winter and six in summer.
    winter = read_time("2027-03-01T15:20", field="pressed_at", zone="America/Denver")
    summer = read_time("2027-07-01 15:20", field="pressed_at", zone="America/Denver")
    assert winter == datetime(2027, 3, 1, 22, 20, tzinfo=UTC)
    assert summer == datetime(2027, 7, 1, 21, 20, tzinfo=UTC)


def test_a_typed_offset_outranks_the_zone():
    moment = read_time("2027-03-01T15:20:30+01:00", field="pressed_at", zone="America/Denver")
    assert moment == datetime(2027, 3, 1, 14, 20, 30, tzinfo=UTC)


def test_the_hour_that_the_clocks_skip_is_refused():
    # 2027-03-14, 02:00 to 03:00 does not exist in Denver.
    with pytest.raises(Invalid, match="skip this hour"):
        read_time("2027-03-14T02:30", field="pressed_at", zone="America/Denver")


def test_in_the_hour_that_comes_twice_the_first_is_meant():
    # 2027-11-07 01:30 comes at 07:30 UTC in summer time and at 08:30 UTC after it.
    moment = read_time("2027-11-07T01:30", field="pressed_at", zone="America/Denver")
    assert moment == datetime(2027, 11, 7, 7, 30, tzinfo=UTC)


@pytest.mark.parametrize("text", ["2027-03-01", "2027-03-01T25:00", "2027-02-30T10:00", "yesterday", ""])
def test_a_time_that_does_not_exist_is_refused(text):
    with pytest.raises(Invalid):
        read_time(text, field="pressed_at", zone="America/Denver")


@pytest.mark.parametrize("text", ["", "0,18", "$", "1 USD", "-1", "1e3", "0.1234567", "1" * 30, "nan"])
def test_money_is_exact_and_plain(text):
    assert read_money("0.18", field="per_kg") == Decimal("0.18")
    with pytest.raises(Invalid):
        read_money(text, field="per_kg")


def test_a_price_of_a_pound_is_kept_as_that_of_a_kilogram():
    # 0.45359237 a pound is 1 a kilogram; 0.10 / 0.45359237 = 0.2204622...
    assert read_price_per_kg("0.10", field="per_kg", unit="lb") == Decimal("0.220462")
    assert read_price_per_kg("160", field="per_kg", unit="t") == Decimal("0.16")


def test_a_choice_is_one_of_those_offered():
    assert read_choice("broke", field="outcome", offered=("broke", "held")) == "broke"
    with pytest.raises(Invalid, match="Choose one"):
        read_choice("burst", field="outcome", offered=("broke", "held"))


def test_words_fit_their_column_and_hold_no_controls():
    assert read_words(" red, silty \r\n damp ", field="remarks", most=40) == "red, silty \n damp"
    for text in ("x" * 41, "a\x00b", "", "\ud800"):
        with pytest.raises(Invalid):
            read_words(text, field="remarks", most=40)


POUND = 0.45359237
INCH = 25.4


@pytest.mark.parametrize(
    ("typed", "unit", "kind", "value", "kept"),
    [
        ("22 lb 6 oz", "lb", "mass", (22 + 6 / 16) * POUND, ("22 lb 6", "oz")),
        ("22 lb 6", "oz", "mass", (22 + 6 / 16) * POUND, ("22 lb 6", "oz")),
        ("22lb 6.5oz", "kg", "mass", (22 + 6.5 / 16) * POUND, ("22 lb 6.5", "oz")),
        ("22 pounds 6 ounces", "kg", "mass", (22 + 6 / 16) * POUND, None),
        ("2 1/4", "in", "length", 2.25 * INCH, ("2 1/4", "in")),
        ("2-1/4", "in", "length", 2.25 * INCH, ("2-1/4", "in")),
        ("2¼", "in", "length", 2.25 * INCH, ("2 1/4", "in")),
        ("3/8 in", "mm", "length", 0.375 * INCH, ("3/8", "in")),
        ("5' 3 1/2\"", "mm", "length", 63.5 * INCH, ("5 ft 3 1/2", "in")),
        ("12 000", "kg", "mass", 12_000.0, ("12000", "kg")),
        ("6 short tons", "lb", "mass", 12_000 * POUND, ("6", "short ton")),
        ("6 long tons", "lb", "mass", 13_440 * POUND, ("6", "long ton")),
        ("6 tonnes", "lb", "mass", 6_000.0, ("6", "t")),
        ("4500 lb", "kN", "force", 4500 * POUND * 9.80665e-3, ("4500", "lbf")),
        ("2 kg", "kN", "force", 2 * 9.80665e-3, ("2", "kgf")),
        ("1 h 30 min", "h", "hours", 1.5, ("1 h 30", "min")),
    ],
)  # fmt: skip
def test_numbers_are_read_as_people_write_them(typed, unit, kind, value, kept):
    # International pound and inch by definition; 16 ounces a pound, 2000 and 2240 pounds a ton.
    read = read_quantity(typed, field="x", kind=kind, unit=unit)
    assert read.value == pytest.approx(value, rel=1e-12)
    assert kept is None or (read.text, read.unit) == kept


def test_what_was_kept_is_read_again_as_the_same():
    for text, kind in (("22 lb 6 oz", "mass"), ("2 1/4 in", "length"), ("12 000 g", "mass"), ("6 short tons", "mass")):
        first = read_quantity(text, field="x", kind=kind)
        assert read_quantity(first.text, field="x", kind=kind, unit=first.unit) == first


def test_a_comma_parts_thousands_only_where_the_shop_says_so():
    shop = Writing("imperial", thousands=True)
    assert read_quantity("12,000", field="x", kind="mass", unit="lb", writing=shop).text == "12000"
    assert read_quantity("1,234,567.5 g", field="x", kind="mass", writing=shop).value == pytest.approx(1234.5675)
    assert read_money("1,500.25", field="x", writing=shop) == Decimal("1500.25")
    assert read_count("1,500", field="x", writing=shop) == 1500
    for wrong in ("1,5", "12,00", "1,0000", "1,000,5", ",5"):
        with pytest.raises(Invalid, match="A comma parts thousands here"):
            read_quantity(wrong, field="x", kind="mass", unit="lb", writing=shop)
    with pytest.raises(Invalid, match="no comma anywhere"):
        read_quantity("12,000", field="x", kind="mass", unit="lb", writing=Writing("imperial"))


def test_a_bare_ton_is_a_short_one_in_a_shop_of_pounds_and_asked_about_in_one_of_kilograms():
    pounds = read_quantity("6 tons", field="x", kind="mass", unit="lb", writing=Writing("imperial"))
    assert pounds.value == pytest.approx(12_000 * POUND)
    with pytest.raises(Invalid, match="Which ton"):
        read_quantity("6 tons", field="x", kind="mass", unit="kg")


def test_a_dial_that_shows_force_reads_the_pressure_behind_it():
    # 10000 lbf on a ram of 4 square inches is 2500 psi.
    dial = dial_unit("lbf", 4 * INCH**2)
    assert unit_label(dial) == "lbf"
    for text in ("10000", "10000 lbf", "10000 lb"):
        read = read_quantity(text, field="x", kind="pressure", unit=dial)
        assert (read.text, read.unit) == ("10000", dial)
        assert convert(read.value, "MPa", "psi") == pytest.approx(2500, rel=1e-9)
    with pytest.raises(Invalid):
        read_quantity("10000 lbf", field="x", kind="pressure", unit="psi")
    with pytest.raises(Invalid):
        read_quantity("1", field="x", kind="mass", unit=dial)
    for nonsense in ("lbf on 0 mm2", "lbf on 1e9 mm2", "lbf on -1 mm2", "lbf on 9**9**9 mm2"):
        with pytest.raises(Invalid):
            read_quantity("1", field="x", kind="pressure", unit=nonsense)


def test_a_bound_is_said_without_an_exponent():
    with pytest.raises(Invalid, match="Only 0 to 100000000 g can be meant here"):
        read_quantity("1e9", field="x", kind="mass", unit="g")
