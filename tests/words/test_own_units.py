"""What an American bench reads: pounds and ounces, commas, marks of a dial, sieves by number, both units in a sentence.

A pound is 0.45359237 kg and sixteen ounces, an inch 25.4 mm, by definition; a psi is 0.00689475729 MPa.
Openings of sieves: ASTM E11, alternative designations.
"""

import pytest

from service.errors import Invalid
from service.typed import put_back, unit_of
from service.words import sieves
from service.words.both_systems import in_both
from service.words.numbers_to_text import as_typed, figure, on_dial, stress, thousands_parted
from service.words.scales import mass_as_read, weighed
from service.words.text_to_numbers import Writing, read_money, read_quantity

PSI = 0.00689475729
OUNCE_KG = 0.45359237 / 16
AMERICAN = Writing("imperial", thousands=True)


@pytest.mark.parametrize(
    ("ounces", "step", "shown"),
    [
        (419.0, "1/2", "26 lb 3 oz"),
        (419.26, "1/2", "26 lb 3 1/2 oz"),
        (79.5, "1/2", "4 lb 15 1/2 oz"),
        (15.0, "1/2", "15 oz"),
        (160.1, "1/2", "10 lb"),
        (0.5, "1/4", "1/2 oz"),
        (419.0, "0.1", "26 lb 3.0 oz"),
    ],
)
def test_a_scale_of_pounds_and_ounces_is_told_as_it_reads(ounces, step, shown):
    assert weighed(ounces * OUNCE_KG, unit="oz", step=step) == shown


@pytest.mark.parametrize(
    ("kg", "unit", "step", "shown"),
    [(11.878, "kg", "0.02", "11.88 kg"), (1.2345, "g", "50", "1250 g"), (2.5, "lb", "0.01", "5.51 lb")],
)
def test_another_scale_is_told_to_its_own_steps(kg, unit, step, shown):
    assert weighed(kg, unit=unit, step=step) == shown


def test_a_mass_typed_in_two_units_comes_back_in_two_units():
    typed = read_quantity("4 lb 15 1/2 oz", field="mass", kind="mass", writing=AMERICAN)
    assert mass_as_read(typed.value, typed.as_read(), units="imperial") == "4 lb 15 1/2 oz"
    assert mass_as_read(2.0, {"text": "2", "unit": "kg"}, units="imperial") == "4.409 lb"


def test_one_odd_entry_changes_the_unit_of_no_field():
    ounces, pounds = {"text": "79.5", "unit": "oz"}, {"text": "4.97", "unit": "lb"}
    both = {"text": "4 lb 15 1/2", "unit": "oz"}
    assert unit_of([ounces, pounds]) == "" and unit_of([ounces]) == "" and unit_of([]) == ""
    assert unit_of([both, both]) == "" and unit_of([ounces, ounces, pounds]) == "oz"
    assert put_back({"text": "No. 4", "unit": ""}) == {"text": "No. 4", "unit": ""}


def test_a_comma_parts_thousands_in_every_figure_of_a_shop_that_writes_so():
    with thousands_parted(True):
        assert figure(30_000, stored_in="lbf", to="lbf", digits=4) == "30,000 lbf"
        assert stress(8105.8 * PSI, units="imperial", floor=True) == "8,100 psi (55.8 MPa)"
        assert as_typed("30000 lbf", units="imperial") == "30,000 lbf"
        assert on_dial(8105.8 * PSI, step_mpa=100 * PSI, to="psi") == "8,100 psi"
        assert figure(999.4, stored_in="psi", to="psi") == "999 psi"
        read = read_quantity("30,000", field="force", kind="force", unit="lbf", writing=AMERICAN)
        assert read.text == "30000"
    assert figure(30_000, stored_in="lbf", to="lbf", digits=4) == "30000 lbf"


@pytest.mark.parametrize(
    ("gauge", "step", "shown"),
    [(7430, 100, "7400 psi"), (8105.8, 100, "8100 psi"), (7430, 50, "7400 psi"), (7450.0, 25, "7450 psi"),
     (7400, 100, "7400 psi"), (40.35, 100, "40.3 psi")],
)  # fmt: skip
def test_a_hand_is_sent_to_a_mark_of_the_dial_and_never_above(gauge, step, shown):
    assert on_dial(gauge * PSI * (1 + 1e-12), step_mpa=step * PSI, to="psi") == shown


@pytest.mark.parametrize(
    ("typed", "opening_mm", "kept"),
    [("No. 4", 4.75, "No. 4"), ("no 10", 2.0, "No. 10"), ("#20", 0.85, "No. 20"), ("No.40", 0.425, "No. 40"),
     ("No. 60", 0.25, "No. 60"), ("No. 100", 0.15, "No. 100"), ("No. 140", 0.106, "No. 140"),
     ("No. 200", 0.075, "No. 200"), ("3/8 in", 9.5, "3/8 in"), ('3/4"', 19.0, "3/4 in"), ("3 in", 75.0, "3 in"),
     ("2 in", 50.0, "2 in"), ("1-1/2 in", 37.5, "1-1/2 in"), ("1 in", 25.0, "1 in"), ("0.425", 0.425, "0.425 mm"),
     ("0.3 in", 7.62, "0.3 in")],
)  # fmt: skip
def test_a_sieve_is_read_by_the_name_that_stands_on_it(typed, opening_mm, kept):
    read = read_quantity(typed, field="size", kind="opening", unit="mm", writing=AMERICAN)
    assert read.value == pytest.approx(opening_mm, rel=1e-12)
    assert f"{read.text} {read.unit}".strip() == kept


def test_a_sieve_number_that_nobody_knows_is_asked_for_in_millimetres():
    with pytest.raises(Invalid, match="not known here"):
        read_quantity("No. 7777"[:6], field="size", kind="opening", unit="mm", writing=AMERICAN)


def test_a_size_is_named_by_its_sieve_in_an_american_shop_alone():
    assert [sieves.sieve(size, units="imperial") for size in (4.75, 9.5, 0.0934)] == [
        "No. 4 (4.75 mm)", "3/8 in (9.5 mm)", "0.0934 mm",
    ]  # fmt: skip
    assert sieves.sieve(4.75, units="metric") == "4.75 mm"


@pytest.mark.parametrize(
    ("sentence", "both"),
    [
        ("At least 25 mm, so that code and label fit.", "At least 0.984 in (25 mm), so that code and label fit."),
        ("A box of 600 x 40 x 40 mm.", "A box of 23.6 x 1.57 x 1.57 in (600 x 40 x 40 mm)."),
        ("The most is 9.38 MPa.", "The most is 1360 psi (9.38 MPa)."),
        ("Dry it at 60 °C.", "Dry it at 140 °F (60 °C)."),
        ("Write 5 lb or 2 kg.", "Write 5 lb or 2 kg."),
        ("Age 28 days.", "Age 28 days."),
    ],
)
def test_a_fixed_sentence_names_both_units_to_an_american_shop(sentence, both):
    assert in_both(sentence, units="imperial") == both
    assert in_both(sentence, units="metric") == sentence


def test_abbreviations_with_a_point_and_a_currency_sign_are_read():
    assert read_quantity("5 lb. 2 oz.", field="mass", kind="mass", writing=AMERICAN).value == pytest.approx(
        82 * OUNCE_KG
    )
    assert read_quantity("3 1/16 in.", field="side", kind="length", writing=AMERICAN).value == pytest.approx(77.7875)
    assert str(read_money("$16.50", field="price", writing=AMERICAN)) == "16.50"
    with pytest.raises(Invalid, match="units: lb, oz"):
        read_quantity("5 stone", field="mass", kind="mass", writing=AMERICAN)
