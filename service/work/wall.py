"""`wall`: stress at the foot, slenderness, and how a single block compares. Not a design."""

from typing import Any

from service.trade.wall.wall_load import foot_stress_mpa, slenderness, unit_strength_ratio
from service.work.calculation import Calculation, Given, NotNegative, Positive


class WallGiven(Given):
    """A wall, the load on it, and the strength of a block."""

    density_kg_m3: Positive
    height_m: Positive
    thickness_mm: Positive
    line_load_kn_m: NotNegative = 0.0
    strength_mpa: Positive


def calculate(given: WallGiven) -> dict[str, Any]:
    """Return what the wall asks of its lowest block."""
    stress = foot_stress_mpa(
        density_kg_m3=given.density_kg_m3,
        height_m=given.height_m,
        thickness_mm=given.thickness_mm,
        line_load_kn_m=given.line_load_kn_m,
    )
    return {
        "foot_stress_mpa": stress,
        "slenderness": slenderness(height_m=given.height_m, thickness_mm=given.thickness_mm),
        "unit_strength_ratio": unit_strength_ratio(strength_mpa=given.strength_mpa, foot_stress_mpa=stress),
    }


CALCULATION = Calculation(
    model=WallGiven,
    run=calculate,
    formula="foot stress = density g height + line load / thickness; slenderness = height / thickness",
    source_keys=("self-weight", "geometry", "stress"),
)
