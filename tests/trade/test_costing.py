"""Money and carbon of a block."""

from decimal import Decimal
from typing import Any

import pytest

from service.errors import Invalid
from service.trade.wall.cost_and_carbon import block_cost, blocks_per_bag, blocks_per_m2, carbon_range_kg, money_text
from tests.cases import cases, near


@pytest.mark.parametrize("case", cases("carbon"))
def test_carbon_agrees_with_the_source(case: dict[str, Any]) -> None:
    given, expected = case["inputs"], case["expected"]
    # The lime case states its factor in its source: 950 kg a tonne.
    mass, factor = given.get("cement_per_block_kg", given.get("lime_kg")), given.get("factor_kgCO2e_per_kg", 0.950)
    done = block_cost(dry_kg={"x": mass}, prices_per_kg={"x": Decimal(0)}, carbon_per_kg={"x": factor})
    (carbon,) = expected.values()
    assert done.carbon_kg_per_block == near(carbon, tolerance=case["tolerance"])


def test_money_is_exact_where_binary_numbers_are_not() -> None:
    # Hand: 0.1 x 0.1 + 0.2 x 0.1 = 0.03; in binary numbers 0.030000000000000006.
    done = block_cost(
        dry_kg={"a": 0.1, "b": 0.2},
        prices_per_kg={"a": Decimal("0.1"), "b": Decimal("0.1")},
        carbon_per_kg={},
        blocks_per_m2=37,
    )
    assert done.cost_per_block == Decimal("0.03")
    assert done.cost_per_m2 == Decimal("1.11")


@pytest.mark.parametrize(
    ("amount", "text"),
    [("0", "0.000000"), ("0.0000005", "0.000001"), ("0.00000049", "0.000000"), ("1234567.8", "1234567.800000")],
)
def test_money_is_written_with_six_decimals_half_up(amount: str, text: str) -> None:
    assert money_text(Decimal(amount)) == text


def test_a_square_metre_is_rounded_once_and_not_from_the_rounded_block() -> None:
    # Hand: 0.0000004 x 10 = 0.000004, while the block alone is written as 0.000000.
    done = block_cost(dry_kg={"a": 1.0}, prices_per_kg={"a": Decimal("0.0000004")}, carbon_per_kg={}, blocks_per_m2=10)
    assert done.cost_per_m2 is not None
    assert (money_text(done.cost_per_block), money_text(done.cost_per_m2)) == ("0.000000", "0.000004")


def test_a_missing_factor_leaves_the_carbon_open_and_is_named() -> None:
    done = block_cost(
        dry_kg={"native": 1.3, "cement": 0.1},
        prices_per_kg={"native": Decimal(0), "cement": Decimal("0.18")},
        carbon_per_kg={"cement": 0.86},
        blocks_per_m2=37,
    )
    assert done.carbon_missing == ("native",)
    assert (done.carbon_kg_per_block, done.carbon_kg_per_m2) == (None, None)


def test_without_blocks_there_is_no_square_metre() -> None:
    done = block_cost(dry_kg={"a": 1.0}, prices_per_kg={"a": Decimal(1)}, carbon_per_kg={"a": 1.0})
    assert (done.cost_per_m2, done.carbon_kg_per_m2) == (None, None)
    assert done.carbon_kg_per_block == 1.0


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"dry_kg": {}}, "dry_kg"),
        ({"dry_kg": {"a": -1.0}}, "dry_kg.a"),
        ({"prices_per_kg": {}}, "prices_per_kg.a"),
        ({"prices_per_kg": {"a": Decimal(-1)}}, "prices_per_kg.a"),
        ({"carbon_per_kg": {"a": -1.0}}, "carbon_per_kg.a"),
        ({"blocks_per_m2": 0}, "blocks_per_m2"),
    ],
)
def test_a_cost_that_cannot_be_is_refused_by_its_field(given: dict[str, Any], field: str) -> None:
    with pytest.raises(Invalid) as refused:
        block_cost(**({"dry_kg": {"a": 1.0}, "prices_per_kg": {"a": Decimal(1)}, "carbon_per_kg": {}} | given))
    assert set(refused.value.fields) == {field}


def test_the_range_of_carbon_takes_every_factor_at_one_end() -> None:
    # 0.6 kg at 0.54 to 0.91 and 2 kg at 0.002 to 0.006: 0.328 to 0.558, by hand.
    ranges = {"cement": (0.54, 0.91), "sand": (0.002, 0.006)}
    found = carbon_range_kg(dry_kg={"cement": 0.6, "sand": 2.0}, ranges_per_kg=ranges)
    assert found == pytest.approx((0.328, 0.558))
    assert carbon_range_kg(dry_kg={"cement": 0.6, "lime": 0.1}, ranges_per_kg=ranges) is None


def test_a_wall_as_thick_as_the_block_is_long_shows_its_end() -> None:
    sides = {"length_mm": 295, "width_mm": 140, "height_mm": 90}
    # 1 / (0.295 x 0.090) = 37.66 and 1 / (0.140 x 0.090) = 79.37.
    assert blocks_per_m2(**sides, thickness_mm=140) == pytest.approx(37.665, abs=5e-4)
    assert blocks_per_m2(**sides, thickness_mm=300) == pytest.approx(79.365, abs=5e-4)
    assert blocks_per_m2(**sides) == blocks_per_m2(**sides, thickness_mm=140)


def test_a_bag_divides_by_what_a_block_takes() -> None:
    assert blocks_per_bag(bag_kg=25, stabiliser_kg=0.5) == 50
