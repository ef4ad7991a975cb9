"""Between which bounds a number of a calculation is plausible, by its key: far outside of use, and far inside of where
a calculation would take long. What names no unit is a share or has a line of its own."""

from typing import NamedTuple


class Range(NamedTuple):
    """The least and the most a number may be, whatever its sign; 0 is the calculation's own matter."""

    least: float
    most: float


SHARE = Range(1e-9, 100)
STRESS = Range(1e-4, 1e4)
MONEY = Range(1e-9, 1e12)
COUNT = Range(1, 1e9)

# By the ending of a key; the longest that fits counts.
BY_ENDING: dict[str, Range] = {
    "_mpa": STRESS,
    "_mpa_s": STRESS,
    "_kn": Range(1e-6, 1e7),
    "_kn_s": Range(1e-6, 1e7),
    "_kn_m": Range(1e-6, 1e7),
    "_mm": Range(1e-7, 1e7),
    "_m": Range(1e-4, 1e4),
    "_m2": Range(1e-6, 1e6),
    "_cm2": Range(1e-4, 1e6),
    "_ml": Range(1e-3, 1e7),
    "_l": Range(1e-6, 1e6),
    "_g": Range(1e-6, 1e9),
    "_kg": Range(1e-9, 1e9),
    "_kg_l": Range(1e-6, 1e3),
    "_kg_m3": Range(1e-3, 1e6),
    "_per_kg": Range(1e-9, 1e9),
    "_days": Range(1e-6, 1e6),
    "_hours": Range(1e-6, 1e6),
    "_hours_max": Range(1e-6, 1e6),
    "_c": Range(1e-6, 1e3),
    "_share": SHARE,
    "_sd": Range(1e-6, 100),
    "_limit": SHARE,
}
# By a key that names no unit.
BY_KEY: dict[str, Range] = {
    "share": SHARE,
    "shares": SHARE,
    "at": SHARE,
    "low": SHARE,
    "high": SHARE,
    "moisture": SHARE,
    "water": SHARE,
    "plastic": SHARE,
    "waste": SHARE,
    "efficiency": SHARE,
    "plasticity_index": SHARE,
    "liquid_limit_oven_dried": SHARE,
    "assurance": SHARE,
    "coverage": SHARE,
    "confidence": SHARE,
    "margin": SHARE,
    "scale_uncertainty": SHARE,
    "scatter": Range(1e-6, 100),
    "spread": Range(1e-6, 100),
    "variation": SHARE,
    "off_curve": Range(1e-6, 100),
    "own_way": Range(1e-6, 100),
    "uneven": Range(1e-6, 100),
    "mixes": Range(1e-6, 100),
    "slope": Range(1e-6, 100),
    "bend": Range(1e-6, 100),
    "bulk_density_kg_l": Range(1e-6, 1e3),
    "fines": SHARE,
    "survived": COUNT,
    "fell_apart": COUNT,
    "cement": Range(1e-6, 1e3),
    "soil": Range(1e-6, 1e3),
    "parts": Range(1e-6, 1e6),
    "minutes": Range(1e-6, 1e8),
    "reading": Range(1e-6, 1e4),
    "meniscus": Range(1e-6, 1e4),
    "specific_gravity": Range(1e-3, 1e3),
    "depth_at_0_mm": Range(1e-7, 1e7),
    "rams": Range(1, 1e4),
    "blows": Range(1, 1e6),
    "n": Range(1, 1e6),
    "blocks": COUNT,
    "batches": COUNT,
    "costs": MONEY,
    "prices_per_kg": MONEY,
}
# What maps names to numbers; there the key of the mapping says what a number is.
PRICES = frozenset({"costs", "prices_per_kg"})
MAPPINGS = PRICES | {"dry_kg", "carbon_per_kg", "bulk_density_kg_l"}
ENDINGS = sorted(BY_ENDING, key=len, reverse=True)


def range_of(key: str) -> Range | None:
    """Return between which bounds a number under a key is plausible; an unknown key is refused elsewhere."""
    if key in BY_KEY:
        return BY_KEY[key]
    return next((BY_ENDING[ending] for ending in ENDINGS if key.endswith(ending)), None)
