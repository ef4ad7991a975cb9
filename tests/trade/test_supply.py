"""Soil needed and in hand, by hand calculation; the order of cutting is our own rule."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import Invalid
from service.trade.mix.soil_needed import GroupNeed, charge_for_height_kg, dry_mass_per_block_kg, left_kg, what_to_cut

DRY, WET = "as cured, 7 days", "soaked 4 h, 7 days"


def group(recipe: str, *, soaked: bool, blocks: int, kg: float = 2.0) -> GroupNeed:
    return GroupNeed(recipe, WET if soaked else DRY, soaked, blocks, kg)


def steps(groups, short_kg):
    found = what_to_cut(groups, short_kg=short_kg)
    return [(cut.recipe, cut.condition, cut.blocks_from, cut.blocks_to) for cut in found.steps], found.still_short_kg


def test_a_block_of_ten_inches_by_hand():
    # 0.254 x 0.254 x 0.089 m x 1850 kg/m3 = 0.005741924 x 1850 = 10.62256 kg.
    mass = dry_mass_per_block_kg(length_mm=254, width_mm=254, height_mm=89, dry_density_kg_m3=1850)
    assert mass == pytest.approx(10.6225594)


def test_what_was_taken_off_and_out_is_no_longer_in_the_sack():
    assert left_kg(received_kg=25.0, oversize_kg=1.2, taken_kg=8.8) == pytest.approx(15.0)
    assert left_kg(received_kg=25.0, oversize_kg=1.2, taken_kg=30.0) == 0


def test_a_block_too_low_asks_for_a_larger_charge():
    # 2.50 kg gave 96 mm where 100 mm are wanted: 2.50 x 100/96 = 2.604 kg.
    assert charge_for_height_kg(charge_kg=2.5, height_mm=96, wanted_mm=100) == pytest.approx(2.604166667)


def test_dry_blocks_go_first_and_the_largest_group_before_others():
    groups = [group("A", soaked=False, blocks=5), group("A", soaked=True, blocks=8), group("B", soaked=False, blocks=6)]
    # 2 kg a block and 3 kg missing: two blocks; B has six dry ones and gives one, then A and B have five each, and
    # the last recipe gives.
    assert steps(groups, 3.0) == ([("B", DRY, 6, 4)], 0.0)


def test_soaked_blocks_are_cut_only_when_the_dry_ones_are_down_to_three():
    groups = [group("A", soaked=False, blocks=4), group("A", soaked=True, blocks=5)]
    assert steps(groups, 4.0) == ([("A", DRY, 4, 3), ("A", WET, 5, 4)], 0.0)


def test_no_group_is_made_smaller_than_three_and_the_rest_is_said():
    groups = [group("A", soaked=False, blocks=4), group("A", soaked=True, blocks=3)]
    assert steps(groups, 10.0) == ([("A", DRY, 4, 3)], 8.0)


def test_nothing_is_cut_when_nothing_is_missing():
    assert steps([group("A", soaked=False, blocks=9)], 0.0) == ([], 0.0)


@given(st.lists(st.tuples(st.booleans(), st.integers(1, 12)), min_size=1, max_size=6), st.floats(0.01, 50))
def test_what_is_saved_and_what_is_still_missing_make_up_the_shortage(sizes, short_kg):
    groups = [GroupNeed("A", f"group {number}", soaked, blocks, 2.0) for number, (soaked, blocks) in enumerate(sizes)]
    found = what_to_cut(groups, short_kg=short_kg)
    saved = sum(cut.saves_kg for cut in found.steps)
    assert saved + found.still_short_kg >= short_kg - 1e-9
    # Never more than one block too many.
    assert saved < short_kg + 2.0


def test_a_shortage_below_nothing_is_refused():
    with pytest.raises(Invalid) as refused:
        what_to_cut([group("A", soaked=False, blocks=5)], short_kg=-1.0)
    assert set(refused.value.fields) == {"short_kg"}
