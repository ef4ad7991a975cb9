"""Sedimentation against a published reading series, other bodies' constants and reference water."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import Invalid
from service.trade.soil.grading import Passing, curve_of
from service.trade.soil.hydrometer import (
    Blank,
    Dimensions,
    Reading,
    Settled,
    blank_at,
    effective_depth_mm,
    join,
    settling,
    share_in_suspension,
    stokes_size_mm,
)
from service.trade.water_properties import water_density_g_cm3, water_viscosity_mpa_s
from tests.cases import near


@pytest.mark.parametrize(
    ("temperature_c", "density_kg_m3", "viscosity_mpa_s"),
    [
        # IAPWS-95 density and IAPWS R12-08 viscosity at 0.101325 MPa, by a reference library [computed].
        (5, 999.96663, 1.51817),
        (10, 999.70247, 1.30590),
        (15, 999.10262, 1.13757),
        (20, 998.20715, 1.00160),
        (23, 997.54139, 0.93213),
        (30, 995.64945, 0.79722),
        (40, 992.21635, 0.65273),
    ],
)
def test_water_agrees_with_the_reference_formulation(
    temperature_c: float, density_kg_m3: float, viscosity_mpa_s: float
) -> None:
    assert water_density_g_cm3(temperature_c=temperature_c) * 1000 == near(density_kg_m3, tolerance=0.004)
    assert water_viscosity_mpa_s(temperature_c=temperature_c) == near(viscosity_mpa_s, tolerance=0.0012)


@pytest.mark.parametrize(
    ("temperature_c", "k"),
    # ASTM D422 Table 3, D = K sqrt(L / T) in mm, cm and minutes, at a specific gravity of 2.65 [memory].
    [(16, 0.01435), (20, 0.01365), (25, 0.01286), (30, 0.01217)],
)
def test_stokes_agrees_with_the_constants_of_the_older_standard(temperature_c: float, k: float) -> None:
    size = stokes_size_mm(depth_mm=10, minutes=1, temperature_c=temperature_c, specific_gravity=2.65)
    assert size == near(k, tolerance=0.00004)


def test_stokes_agrees_with_the_british_formula() -> None:
    # BS 1377-2:1990, 9.6, as its form prints it [second-hand]: D = 0.005531 sqrt(viscosity Hr / ((ps - 1) t)),
    # in mPa s, mm and minutes. Its density of water is 1, ours 0.9982 at 20 C.
    size = stokes_size_mm(depth_mm=120, minutes=30, temperature_c=20, specific_gravity=2.70)
    assert size * 0.9982**0.5 == near(0.005531 * (1.002 * 120 / (1.70 * 30)) ** 0.5, tolerance=1e-6)


# A clay loam read with a 152H at 23 C, 50 g/l, specific gravity 2.65, reduced by a statistics library after
# ASTM D422 [second-hand]; readings above the blank there include 0.7 for the temperature.
CLAY_LOAM = [
    (0.66, 37.7, 0.05155, 0.754),
    (2.00, 31.7, 0.03102, 0.634),
    (5.00, 27.7, 0.02019, 0.554),
    (15.00, 21.7, 0.01214, 0.434),
    (30.00, 20.7, 0.00864, 0.414),
    (60.00, 18.7, 0.00618, 0.374),
    (180.00, 16.7, 0.00361, 0.334),
]


@pytest.mark.parametrize(("minutes", "above_blank", "size_mm", "share"), CLAY_LOAM)
def test_a_clay_loam_agrees_with_its_published_reduction(
    minutes: float, above_blank: float, size_mm: float, share: float
) -> None:
    blanks = [Blank(0.0, 23)]
    (found,) = settling([Reading(minutes, above_blank, 23)], blanks=blanks, dry_mass_g=50, specific_gravity=2.65)
    # The older standard's K has four figures.
    assert found.size_mm == pytest.approx(size_mm, rel=0.003)
    assert found.share == near(share, tolerance=1e-9)


@pytest.mark.parametrize(("reading", "depth_mm"), [(0, 163), (10, 147), (25, 122), (50, 81)])
def test_the_depth_of_a_usual_hydrometer_agrees_with_the_printed_table(reading: float, depth_mm: float) -> None:
    # ASTM D422 Table 2 in cm: 16.3, 14.7, 12.2, 8.1 [memory]; as a line 16.3 - 0.1641 R [second-hand].
    assert effective_depth_mm(reading=reading, dimensions=Dimensions()) == near(depth_mm, tolerance=0.6)


def test_the_blank_follows_the_density_of_water() -> None:
    # D7928 gives for a 152H A - 0.01248 T - 0.00795 T^2 [memory]: from 20 to 25 C that is 0.0624 + 1.7888 lower.
    assert blank_at([Blank(5.0, 20)], temperature_c=25) == near(5.0 - 1.8512, tolerance=0.02)
    assert blank_at([Blank(5.0, 20), Blank(5.0 - 1.8512, 25)], temperature_c=20) == near(5.0, tolerance=0.02)


def test_heavier_grains_are_fewer_for_the_same_reading() -> None:
    # 0.6226 x 2.80 / 1.80 = 0.96849 by hand.
    found = share_in_suspension(above_blank=25, dry_mass_g=50, specific_gravity=2.80)
    assert found == near(0.5 * 0.96855, tolerance=0.0001)
    half_a_litre = share_in_suspension(above_blank=25, dry_mass_g=50, specific_gravity=2.65, volume_ml=500)
    assert half_a_litre == near(0.25, tolerance=1e-12)


def test_the_meniscus_lifts_the_reading_for_the_depth_but_not_for_the_share() -> None:
    reading, blank = [Reading(60, 20, 20)], [Blank(4, 20)]
    (plain,) = settling(reading, blanks=blank, dry_mass_g=50, specific_gravity=2.65)
    (lifted,) = settling(reading, blanks=blank, dry_mass_g=50, specific_gravity=2.65, meniscus=1)
    assert lifted.share == plain.share
    # 1 g/l is 1.64 mm less of 162.95 - 32.8 = 130.15 mm.
    assert lifted.size_mm / plain.size_mm == near((128.51 / 130.15) ** 0.5, tolerance=0.00002)


@given(minutes=st.floats(0.5, 3000), temperature_c=st.floats(5, 40), specific_gravity=st.floats(2, 4))
def test_four_times_the_wait_is_half_the_size(minutes: float, temperature_c: float, specific_gravity: float) -> None:
    sizes = [
        stokes_size_mm(depth_mm=150, minutes=m, temperature_c=temperature_c, specific_gravity=specific_gravity)
        for m in (minutes, 4 * minutes)
    ]
    assert sizes[0] == pytest.approx(2 * sizes[1], rel=1e-12)


SIEVES = curve_of([Passing(4.75, 1.0), Passing(2.0, 0.9), Passing(0.075, 0.5)])


def test_the_curves_join_below_the_finest_sieve() -> None:
    joined = join(SIEVES, [Settled(1, 0.08, 0.56), Settled(60, 0.006, 0.4)], separation_mm=2.0)
    assert [(point.size_mm, point.share) for point in joined.curve.points][-1] == (0.006, near(0.36, tolerance=1e-12))
    assert (joined.left_out, joined.capped, len(joined.curve.points)) == (1, False, 4)


def test_a_point_above_the_sieves_is_capped_and_said_so() -> None:
    joined = join(SIEVES, [Settled(1, 0.05, 0.6)], separation_mm=2.0)
    assert (joined.curve.points[-1].share, joined.capped) == (0.5, True)


ONE = [Reading(60, 20, 20)]
HELD = {"blanks": [Blank(4, 20)], "dry_mass_g": 50, "specific_gravity": 2.65}


@pytest.mark.parametrize(
    ("readings", "keys", "field"),
    [
        ([], {}, "readings"),
        (ONE, {"blanks": []}, "blanks"),
        (ONE, {"blanks": [Blank(4, 60)]}, "blanks.0.temperature_c"),
        (ONE, {"blanks": [Blank(30, 20)]}, "readings.0.reading"),
        (ONE, {"dry_mass_g": 0}, "dry_mass_g"),
        (ONE, {"dry_mass_g": 10}, "readings.0.reading"),
        (ONE, {"specific_gravity": 1.0}, "specific_gravity"),
        (ONE, {"meniscus": -1}, "meniscus"),
        ([Reading(60, 20, 2)], {}, "readings.0.temperature_c"),
        ([Reading(60, 80, 20)], {}, "readings.0.reading"),
        ([Reading(0, 20, 20)], {}, "readings.0.minutes"),
        ([Reading(60, 20, 20), Reading(60, 18, 20)], {}, "readings.1.minutes"),
        ([Reading(60, 20, 20), Reading(90, 21, 20)], {}, "readings.1.reading"),
        (ONE, {"dimensions": Dimensions(depth_at_50_mm=200)}, "hydrometer.depth_at_50_mm"),
    ],
)
def test_what_cannot_be_used_is_refused_by_its_field(readings, keys, field) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(Invalid) as refused:
        settling(readings, **(HELD | keys))
    assert field in refused.value.fields


def test_sieves_that_stop_above_the_separation_cannot_be_joined() -> None:
    with pytest.raises(Invalid) as refused:
        join(curve_of([Passing(4.75, 0.9)]), [Settled(60, 0.006, 0.4)], separation_mm=2.0)
    assert "passing" in refused.value.fields
