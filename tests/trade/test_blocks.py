"""Volume and densities of a block, and blocks from a batch."""

from typing import Any

import pytest

from service.errors import Invalid
from service.trade.block.measurements import (
    block_volume_m3,
    densities_against_others,
    density_against_others,
    density_kg_m3,
    dry_density_kg_m3,
    modulus_of_rupture_mpa,
    uptake,
)
from tests.cases import cases, near


@pytest.mark.parametrize("case", cases("density"))
def test_density_agrees_with_the_source(case: dict[str, Any]) -> None:
    given, expected = case["inputs"], case["expected"]
    if "wet_kg" in given:
        volume = given["volume_cm3"] / 1e6
        found = [
            dry_density_kg_m3(wet_mass_kg=wet, moisture=percent / 100, volume_m3=volume)
            for wet, percent in zip(given["wet_kg"], given["w_pct"], strict=True)
        ]
        assert found == [near(dry, tolerance=case["tolerance"]["dry_kg_m3"]) for dry in expected["dry_kg_m3"]]
    else:
        found_one = density_kg_m3(mass_kg=given["mass_kg"], volume_m3=given["volume_cm3"] / 1e6)
        assert found_one == near(expected["density_kg_m3"], tolerance=case["tolerance"])


def test_the_mean_of_four_corners_is_the_height() -> None:
    # Hand: 290 x 140 mm, heights 88, 92, 90, 94, mean 91 mm: 3,694,600 mm3.
    volume = block_volume_m3(length_mm=290, width_mm=140, heights_mm=[88, 92, 90, 94])
    assert volume == pytest.approx(0.0036946, rel=1e-14)


@pytest.mark.parametrize(
    ("length_mm", "heights_mm", "field"),
    [(290, [], "heights_mm"), (290, [90, 0], "heights_mm.1"), (float("nan"), [90], "length_mm")],
)
def test_a_measure_that_cannot_be_is_refused_by_its_field(
    length_mm: float, heights_mm: list[float], field: str
) -> None:
    with pytest.raises(Invalid) as refused:
        block_volume_m3(length_mm=length_mm, width_mm=140, heights_mm=heights_mm)
    assert set(refused.value.fields) == {field}


POUND_FORCE_KN, INCH_MM = 0.45359237 * 9.80665 / 1000, 25.4
PSI_MPA = POUND_FORCE_KN * 1000 / INCH_MM**2


@pytest.mark.parametrize("case", cases("flexure"))
def test_the_modulus_of_rupture_agrees_with_the_source(case: dict[str, Any]) -> None:
    given, expected = case["inputs"], case["expected"]
    modulus = modulus_of_rupture_mpa(
        force_kn=given["P_lbf"] * POUND_FORCE_KN,
        span_mm=given["L_in"] * INCH_MM,
        width_mm=given["b_in"] * INCH_MM,
        thickness_mm=given["t_in"] * INCH_MM,
    )
    assert modulus / PSI_MPA == near(expected["fr_psi"], tolerance=case["tolerance"])


@pytest.mark.parametrize("case", cases("absorption"))
def test_the_gain_agrees_with_the_source(case: dict[str, Any]) -> None:
    given, expected = case["inputs"], case["expected"]
    gain = uptake(mass_before_kg=given["dry_mass_g"] / 1000, mass_after_kg=given["mass_after_7d_g"] / 1000)
    assert gain * 100 == near(expected["gain_percent"], tolerance=case["tolerance"])


def test_a_block_that_crumbled_in_the_water_may_weigh_less() -> None:
    assert uptake(mass_before_kg=2.0, mass_after_kg=1.9) == pytest.approx(-0.05, rel=1e-12)


def test_each_block_of_a_batch_is_compared_with_the_others_and_not_with_itself() -> None:
    # By hand: 2,100 over the mean of 1,900 and 2,000; 1,900 over that of 2,000 and 2,100; one alone has no others.
    found = densities_against_others([2100, 1900, None, 2000])
    assert found[0] == pytest.approx(2100 / 1950 - 1) and found[1] == pytest.approx(1900 / 2050 - 1)
    assert found[2] is None and densities_against_others([1900, None]) == (None, None)


def test_a_block_is_compared_with_the_middle_of_the_others() -> None:
    # Hand: the median of 1800, 1900 and 2500 is 1900, of 1800 and 1900 it is 1850.
    assert density_against_others(density_kg_m3=1843, others_kg_m3=[2500, 1800, 1900]) == pytest.approx(-0.03)
    assert density_against_others(density_kg_m3=1850, others_kg_m3=[1800, 1900]) == 0
    with pytest.raises(Invalid) as refused:
        density_against_others(density_kg_m3=1850, others_kg_m3=[])
    assert set(refused.value.fields) == {"others_kg_m3"}
