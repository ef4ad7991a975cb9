"""Which recipes of a job one curve goes through, by hand from what the plan varied."""

from types import SimpleNamespace

import pytest

from service.desk.results._compositions import compositions_of
from service.desk.results._series import Series, rows_of
from service.trade.strength.censored_readings import broke
from service.trade.strength.estimate_result import Composition


def recipe(label, *, soil="hill", dose=0.0, name="cement", sand=0.0, water=0.09, press=None):
    parts = [SimpleNamespace(name=soil, role="component", share=1 - sand, over_dry_soil=None, hauled_in=False)]
    if sand:
        parts.append(SimpleNamespace(name="sand", role="component", share=sand, over_dry_soil=None, hauled_in=True))
    if dose:
        parts.append(SimpleNamespace(name=name, role="stabiliser", share=dose, over_dry_soil=dose, hauled_in=False))
    return SimpleNamespace(
        label=label, parts=tuple(parts), target_moisture=water, moisture_basis="dry mix",
        press_stress_mpa=press, press_stroke_mm=None,
    )  # fmt: skip


def of(*recipes):
    return compositions_of(recipes, [one.label for one in recipes])


def test_shares_of_one_stabiliser_are_on_the_curve_and_water_that_follows_them_is_not():
    found = of(recipe("A", dose=0.04, water=0.08), recipe("B", dose=0.06, water=0.09))
    assert found == {"A": Composition(0.04, 0.0), "B": Composition(0.06, 0.0)}


@pytest.mark.parametrize(
    "other",
    [
        recipe("N"),
        recipe("N", soil="river", dose=0.05),
        recipe("N", dose=0.05, name="lime"),
        recipe("N", dose=0.05, press=2.0),
    ],
)
def test_no_stabiliser_another_soil_another_stabiliser_or_another_press_stands_outside(other):
    assert set(of(recipe("A", dose=0.04), recipe("B", dose=0.06), other)) == {"A", "B"}


def test_added_sand_beside_the_stabiliser_is_on_the_curve_too():
    found = of(recipe("A", dose=0.05), recipe("B", dose=0.05, sand=0.2), recipe("C", dose=0.08, sand=0.2))
    assert found == {"A": Composition(0.05, 0.0), "B": Composition(0.05, 0.2), "C": Composition(0.08, 0.2)}


def test_sand_without_stabiliser_has_a_curve_of_its_own():
    assert of(recipe("A"), recipe("B", sand=0.3)) == {"A": Composition(0.0, 0.0), "B": Composition(0.0, 0.3)}


def test_water_counts_where_nothing_else_differs():
    found = of(recipe("A", dose=0.05, water=0.08), recipe("B", dose=0.05, water=0.10))
    assert found == {"A": Composition(0.05, 0.0, 0.08), "B": Composition(0.05, 0.0, 0.10)}


def test_of_two_soils_the_longer_series_has_the_curve_and_alike_recipes_have_none():
    two = [recipe(f"r{n}", soil="river", dose=dose) for n, dose in enumerate((0.04, 0.06, 0.08))]
    assert set(of(recipe("A", dose=0.04), recipe("B", dose=0.08), *two)) == {"r0", "r1", "r2"}
    assert of(recipe("A", dose=0.05), recipe("B", dose=0.05)) == {}


def test_a_recipe_of_which_no_block_was_crushed_is_not_counted():
    assert compositions_of([recipe("A", dose=0.04), recipe("B", dose=0.06)], ["A"]) == {}


def test_blocks_without_stabiliser_are_no_point_of_the_curve_along_it():
    blocks = [
        SimpleNamespace(reading=broke(stress_mpa=2.0), facts=SimpleNamespace(recipe=name, condition="dry", batch=1))
        for name in "NAB"
    ]
    shares = (("N", 0.0), ("A", 0.04), ("B", 0.08))
    assert [row.share for row in rows_of(Series("stabiliser", ("hill",), "cement", shares), blocks)] == [0.04, 0.08]
    assert len(rows_of(Series("sand", ("hill",), "sand", shares), blocks)) == 3
