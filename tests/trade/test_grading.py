"""Sieve readings to a curve, and what is read off it."""

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.errors import Invalid
from service.trade.soil.grading import Passing, Sieve, curve_of, describe, sieve_curve
from tests.cases import cases, near


@pytest.mark.parametrize("case", cases("grading"))
def test_a_sieving_agrees_with_the_source(case: dict[str, Any]) -> None:
    given, expected, within = case["inputs"], case["expected"], case["tolerance"]
    *retained, pan = given["retained_g"]
    sieves = [Sieve(size, mass) for size, mass in zip(given["sieve_mm"], retained, strict=True)]
    done = sieve_curve(sieves=sieves, pan_g=pan, dry_mass_g=sum(given["retained_g"]))
    finer = [point.share * 100 for point in done.curve.points]
    assert finer == [near(percent, tolerance=within["percent_finer"]) for percent in expected["percent_finer"]]
    assert done.loss_share == 0
    read = describe(done.curve)
    found = {
        "D10": read.d10_mm,
        "D30": read.d30_mm,
        "D60": read.d60_mm,
        "Cu": read.cu,
        "Cc": read.cc,
        "gravel": 100 * (read.gravel_share or 0),
        "sand": 100 * (read.sand_share or 0),
        "fines": 100 * (read.fines_share or 0),
    }
    assert found == {key: near(expected[key], tolerance=within[key]) for key in found}


@pytest.mark.parametrize("case", cases("curves"))
def test_coefficients_agree_with_the_source(case: dict[str, Any]) -> None:
    given, expected = case["inputs"], case["expected"]
    if "sizes_mm" in given:
        points = [Passing(size, share / 100) for size, share in zip(given["sizes_mm"], given["passing"], strict=True)]
    else:
        points = [Passing(given["D60"], 0.6), Passing(given["D30"], 0.3), Passing(given["D10"], 0.1)]
    read = describe(curve_of(points))
    found = {"Cu": read.cu, "Cc": read.cc, "D10": read.d10_mm, "D30": read.d30_mm, "D60": read.d60_mm}
    wanted = {key: near(value, tolerance=case["tolerance"]) for key, value in expected.items() if key != "symbol"}
    assert {key: found[key] for key in wanted} == wanted


def test_washed_out_fines_pass_the_finest_sieve_and_are_not_a_loss() -> None:
    # Hand: 500 g, 100 g washed out; on the sieves 400 g, of which 12 + 380 kept and 6 in the pan: 2 g lost.
    # Accounted for 392 + 6 + 100 = 498 g; finer than 0.075 mm: 106 / 498.
    done = sieve_curve(sieves=[Sieve(0.075, 380), Sieve(4.75, 12)], pan_g=6, dry_mass_g=500, washed_dry_mass_g=400)
    assert done.loss_share == 2 / 400
    assert [point.size_mm for point in done.curve.points] == [4.75, 0.075]
    assert [point.share for point in done.curve.points] == pytest.approx([486 / 498, 106 / 498], rel=1e-15)


def test_everything_washed_out_loses_nothing() -> None:
    done = sieve_curve(sieves=[Sieve(0.075, 0)], pan_g=0, dry_mass_g=500, washed_dry_mass_g=0)
    assert done.loss_share == 0
    assert done.curve.points == (Passing(0.075, 1.0),)


def test_a_flat_curve_is_crossed_at_its_coarse_end() -> None:
    # Nothing was kept between 2 and 0.5 mm, and six tenths are finer than both.
    flat = sieve_curve(sieves=[Sieve(4, 40), Sieve(2, 0), Sieve(0.5, 0), Sieve(0.1, 50)], pan_g=10, dry_mass_g=100)
    assert describe(flat.curve).d60_mm == 4
    given_flat = curve_of([Passing(4, 1.0), Passing(2, 0.6), Passing(0.5, 0.6), Passing(0.1, 0.1)])
    assert describe(given_flat).d60_mm == 2


def test_a_curve_that_does_not_reach_is_not_drawn_further() -> None:
    read = describe(curve_of([Passing(2.0, 0.9), Passing(0.15, 0.2)]))
    assert (read.d10_mm, read.cu, read.cc) == (None, None, None)
    assert (read.gravel_share, read.sand_share, read.fines_share) == (None, None, None)
    assert read.d60_mm is not None


def test_a_curve_that_ends_at_one_is_one_above_its_coarsest_size() -> None:
    read = describe(curve_of([Passing(2.0, 1.0), Passing(0.075, 0.2)]))
    assert (read.gravel_share, read.sand_share, read.fines_share) == (0.0, 0.8, 0.2)


def test_between_two_sizes_the_share_is_straight_in_log_size() -> None:
    # Hand: 1 mm lies half way in log size between 10 and 0.1 mm.
    assert curve_of([Passing(10, 0.9), Passing(0.1, 0.3)]).share_at(1.0) == pytest.approx(0.6, rel=1e-15)


@pytest.mark.parametrize(
    ("points", "field"),
    [
        ([], "passing"),
        ([Passing(1, 0.5), Passing(1, 0.4)], "passing.1.size_mm"),
        ([Passing(1, 1.1)], "passing.0.share"),
        ([Passing(1, -0.1)], "passing.0.share"),
        ([Passing(0, 0.5)], "passing.0.size_mm"),
        ([Passing(0.1, 0.6), Passing(1, 0.5)], "passing.0.share"),
    ],
)
def test_a_curve_that_cannot_be_is_refused_by_its_field(points: list[Passing], field: str) -> None:
    with pytest.raises(Invalid) as refused:
        curve_of(points)
    assert set(refused.value.fields) == {field}


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"sieves": []}, "sieves"),
        ({"sieves": [Sieve(1, 5), Sieve(1, 5)]}, "sieves.1.size_mm"),
        ({"sieves": [Sieve(1, -5)]}, "sieves.0.retained_g"),
        ({"washed_dry_mass_g": 101}, "washed_dry_mass_g"),
        ({"washed_dry_mass_g": 0}, "washed_dry_mass_g"),
        ({"pan_g": -1}, "pan_g"),
        ({"dry_mass_g": 0}, "dry_mass_g"),
        ({"sieves": [Sieve(1, 0)], "pan_g": 0}, "sieves"),
    ],
)
def test_a_sieving_that_cannot_be_is_refused_by_its_field(given: dict[str, Any], field: str) -> None:
    with pytest.raises(Invalid) as refused:
        sieve_curve(**({"sieves": [Sieve(1, 50)], "pan_g": 50, "dry_mass_g": 100} | given))
    assert set(refused.value.fields) == {field}


@given(
    masses=st.lists(st.integers(0, 500), min_size=2, max_size=10),
    pan=st.integers(1, 300),
    washed_out=st.integers(0, 300),
    order=st.randoms(use_true_random=False),
)
@settings(max_examples=200, deadline=None)
def test_a_curve_never_rises_and_holds_all_that_is_accounted_for(
    masses: list[int], pan: int, washed_out: int, order: Any
) -> None:
    sieves = [Sieve(10 / 2**step, mass) for step, mass in enumerate(masses)]
    order.shuffle(sieves)
    put_on = sum(masses) + pan
    done = sieve_curve(sieves=sieves, pan_g=pan, dry_mass_g=put_on + washed_out, washed_dry_mass_g=put_on)
    shares = [point.share for point in done.curve.points]
    assert shares == sorted(shares, reverse=True)
    assert shares[-1] == pytest.approx((pan + washed_out) / (put_on + washed_out), rel=1e-12)
    assert done.loss_share == 0
