"""From shares with their basis to what to weigh, and back."""

from fractions import Fraction
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from service.errors import Invalid
from service.trade.mix.batch import (
    BatchPlan,
    BlocksWanted,
    Component,
    SoilInHand,
    Stabiliser,
    Weighed,
    achieved_mix,
    plan_batch,
    shares_on_both_bases,
)
from tests.cases import cases, near

POUND_KG = 0.45359237


@pytest.mark.parametrize("case", cases("batch"))
def test_a_batch_agrees_with_the_source(case: dict[str, Any]) -> None:
    given, expected = case["inputs"], case["expected"]
    plan = plan_batch(
        start=BlocksWanted(given["blocks"], given["block_volume_m3"] * given["dry_density_kg_m3"]),
        components=[Component("soil", 1.0, given["soil_moisture"])],
        stabilisers=[Stabiliser("cement", given["stabiliser_fraction_of_dry_soil"], "dry soil")],
        moisture=given["target_moisture"],
    )
    found = {
        "dry_total_kg": plan.total_dry_kg,
        "dry_soil_kg": plan.dry_kg["soil"],
        "cement_kg": plan.dry_kg["cement"],
        "moist_soil_to_weigh_kg": plan.weigh_kg["soil"],
        "water_to_add_kg": plan.water_kg,
    }
    assert found == {key: near(value, tolerance=case["tolerance"]) for key, value in expected.items()}


@pytest.mark.parametrize("case", cases("shares"))
def test_a_share_on_the_other_basis_agrees_with_the_source(case: dict[str, Any]) -> None:
    given, expected = case["inputs"], case["expected"]
    share = (
        given["percent_of_dry_soil"] / 100
        if "percent_of_dry_soil" in given
        else given["cement_parts"] / given["soil_parts"]
    )
    both = shares_on_both_bases([Stabiliser("cement", share, "dry soil")])["cement"]
    of_mix = expected.get("percent_of_total_dry_mass", expected.get("percent_of_mix"))
    assert both.dry_mix * 100 == near(of_mix, tolerance=case["tolerance"])
    assert both.dry_soil * 100 == near(expected.get("percent_of_soil", share * 100), tolerance=case["tolerance"])


@pytest.mark.parametrize(("basis", "cement_lb"), [("dry mix", 0.27), ("dry soil", 0.25)])
def test_cement_for_a_little_dry_soil_by_common_practice_no_published_source(basis: Any, cement_lb: float) -> None:
    plan = plan_batch(
        start=SoilInHand(3.14 * POUND_KG),
        components=[Component("soil", 1.0, 0.0)],
        stabilisers=[Stabiliser("cement", 0.08, basis)],
        moisture=0.06,
    )
    assert round(plan.weigh_kg["cement"] / POUND_KG, 2) == cement_lb


def test_cement_and_lime_on_different_bases_add_up_to_the_dry_mix() -> None:
    # Hand: 10 kg of soil, lime 10 % of soil = 1 kg; cement 20 % of mix: M = (10 + 1) / 0.8 = 13.75, cement 2.75.
    plan = plan_batch(
        start=SoilInHand(10.0),
        components=[Component("soil", 1.0, 0.0)],
        stabilisers=[Stabiliser("lime", 0.1, "dry soil"), Stabiliser("cement", 0.2, "dry mix")],
        moisture=0.0,
    )
    assert plan.dry_kg == {"soil": 10.0, "lime": 1.0, "cement": 2.75}
    assert plan.total_dry_kg == 13.75


def test_moisture_on_dry_soil_leaves_the_stabiliser_out_of_the_basis() -> None:
    # Hand: 10 % of 10 kg of soil = 1.0 kg, of 12.5 kg of mix = 1.25 kg.
    recipe: dict[str, Any] = {
        "start": SoilInHand(10.0),
        "components": [Component("soil", 1.0, 0.0)],
        "stabilisers": [Stabiliser("cement", 0.2, "dry mix")],
        "moisture": 0.1,
    }
    assert plan_batch(**recipe, moisture_basis="dry soil").water_kg == 1.0
    assert plan_batch(**recipe, moisture_basis="dry mix").water_kg == 1.25


def test_waste_is_pressed_on_top_of_the_blocks() -> None:
    # Hand: 5 blocks of 1.40 kg are 7.00 kg, with 5 % waste 7.35 kg.
    plan = plan_batch(
        start=BlocksWanted(5, 1.40, 0.05), components=[Component("soil", 1.0, 0.0)], stabilisers=[], moisture=0.1
    )
    assert plan.total_dry_kg == 7.35


def test_a_mass_exactly_between_two_graduations_goes_up() -> None:
    # Hand: 0.2625 kg on a 5 g scale lies between 0.260 and 0.265; binary rounding would take it down.
    plan = plan_batch(
        start=SoilInHand(1.05),
        components=[Component("a", 0.25, 0.0), Component("b", 0.75, 0.0)],
        stabilisers=[],
        moisture=0.0,
        scale_graduation_kg=0.005,
    )
    assert plan.weigh_kg == {"a": 0.265, "b": 0.79}


def test_soil_too_wet_is_refused_and_told_how_dry_it_must_be() -> None:
    # Hand: 6 % of 10.6 kg of mix = 0.636 kg, over 10 kg of soil 6.36 %.
    with pytest.raises(Invalid) as refused:
        plan_batch(
            start=SoilInHand(10.0),
            components=[Component("soil", 1.0, 0.07)],
            stabilisers=[Stabiliser("cement", 0.06, "dry soil")],
            moisture=0.06,
        )
    assert "6.36 %" in refused.value.fields["moisture"]


def test_soil_exactly_as_wet_as_the_target_needs_no_water() -> None:
    plan = plan_batch(
        start=SoilInHand(4.2),
        components=[Component("a", 0.7, 0.07), Component("b", 0.3, 0.07)],
        stabilisers=[],
        moisture=0.07,
    )
    assert plan.water_kg == 0.0


def test_what_was_really_weighed_gives_what_was_achieved() -> None:
    # Hand: 10.4 kg at 4 % = 10 kg dry and 0.4 kg of water; 5 kg dry sand; 0.75 kg cement = 5 % of 15 kg.
    mix = achieved_mix(
        components=[Weighed("soil", 10.4, 0.04), Weighed("sand", 5.0)],
        stabilisers=[Weighed("cement", 0.75)],
        water_kg=1.1,
        moisture_basis="dry soil",
    )
    assert mix.components == {"soil": float(Fraction(2, 3)), "sand": float(Fraction(1, 3))}
    assert mix.stabilisers["cement"].dry_soil == 0.05
    assert mix.moisture == 0.1


@pytest.mark.parametrize(
    ("components", "stabilisers", "water_kg", "field"),
    [
        ([], [], 1.0, "components"),
        ([Weighed("a", 0.0)], [], 1.0, "components"),
        ([Weighed("a", 1.0), Weighed("a", 1.0)], [], 1.0, "components.1.name"),
        ([Weighed("a", 1.0)], [Weighed("a", 1.0)], 1.0, "stabilisers.0.name"),
        ([Weighed("a", 1.0)], [Weighed("b", -1.0)], 1.0, "stabilisers.0.weighed_kg"),
        ([Weighed("a", 1.0, -0.1)], [], 1.0, "components.0.moisture"),
        ([Weighed("a", 1.0)], [], -1.0, "water_kg"),
    ],
)
def test_a_weighing_that_cannot_be_is_refused_by_its_field(
    components: list[Weighed], stabilisers: list[Weighed], water_kg: float, field: str
) -> None:
    with pytest.raises(Invalid) as refused:
        achieved_mix(components=components, stabilisers=stabilisers, water_kg=water_kg)
    assert set(refused.value.fields) == {field}


parts = st.integers(min_value=1, max_value=1000)
damp = st.integers(min_value=0, max_value=99).map(lambda thousandths: thousandths / 1000)
bases = st.sampled_from(["dry soil", "dry mix"])


@st.composite
def plans(draw: st.DrawFn) -> tuple[BatchPlan, list[Component], float, str]:
    weights = draw(st.lists(parts, min_size=1, max_size=5))
    components = [Component(f"c{i}", weight / sum(weights), draw(damp)) for i, weight in enumerate(weights)]
    given = draw(st.lists(st.tuples(parts, bases), max_size=3))
    stabilisers = [Stabiliser(f"s{i}", share / 4000, basis) for i, (share, basis) in enumerate(given)]
    moisture, basis = draw(st.integers(100, 400)) / 1000, draw(bases)
    start = draw(
        st.one_of(
            st.floats(0.01, 500).map(SoilInHand),
            st.builds(BlocksWanted, st.integers(1, 99), st.floats(0.1, 20), st.floats(0, 0.5)),
        )
    )
    plan = plan_batch(
        start=start, components=components, stabilisers=stabilisers, moisture=moisture, moisture_basis=basis
    )
    return plan, components, moisture, basis


@given(plans())
@settings(max_examples=200, deadline=None)
def test_no_mass_is_lost_or_made(drawn: tuple[BatchPlan, list[Component], float, str]) -> None:
    plan, components, moisture, basis = drawn
    assert sum(plan.dry_kg.values()) == pytest.approx(plan.total_dry_kg, rel=1e-12)
    assert sum(plan.weigh_kg.values()) + plan.water_kg == pytest.approx(plan.total_wet_kg, rel=1e-12)
    soil = sum(plan.dry_kg[part.name] for part in components)
    over = plan.total_dry_kg if basis == "dry mix" else soil
    assert plan.total_wet_kg - plan.total_dry_kg == pytest.approx(moisture * over, abs=1e-12 * plan.total_wet_kg)
    assert plan.achieved.moisture == pytest.approx(moisture, rel=1e-12)
    shares = {part.name: pytest.approx(part.share, rel=1e-9) for part in components}
    assert plan.achieved.components == shares


@given(st.lists(st.tuples(parts, bases), min_size=1, max_size=4))
@settings(max_examples=200, deadline=None)
def test_shares_go_to_the_other_basis_and_back(given: list[tuple[int, Any]]) -> None:
    there = shares_on_both_bases([Stabiliser(f"s{i}", share / 5000, basis) for i, (share, basis) in enumerate(given)])
    for basis in ("dry soil", "dry mix"):
        key = basis.replace(" ", "_")
        again = shares_on_both_bases([Stabiliser(name, getattr(both, key), basis) for name, both in there.items()])
        for name, both in there.items():
            assert again[name].dry_soil == pytest.approx(both.dry_soil, rel=1e-12)
            assert again[name].dry_mix == pytest.approx(both.dry_mix, rel=1e-12)


@given(plans(), st.sampled_from([0.001, 0.005, 0.01]))
@settings(max_examples=100, deadline=None)
def test_rounding_to_the_scale_moves_no_mass_by_more_than_half_a_step(
    drawn: tuple[BatchPlan, list[Component], float, str], step: float
) -> None:
    exact, components, moisture, basis = drawn
    assume(min(exact.weigh_kg.values()) >= step)
    rounded = plan_batch(
        start=SoilInHand(sum(exact.dry_kg[part.name] for part in components)),
        components=components,
        stabilisers=[Stabiliser(name, both.dry_soil, "dry soil") for name, both in exact.stabiliser_shares.items()],
        moisture=moisture,
        moisture_basis=basis,
        scale_graduation_kg=step,
    )
    for name, mass in rounded.weigh_kg.items():
        assert abs(mass - exact.weigh_kg[name]) <= step / 2 * (1 + 1e-9)
        assert round(mass / step) * step == pytest.approx(mass, rel=1e-12)
