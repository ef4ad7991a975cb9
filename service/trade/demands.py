"""What a rule asks of tests beside crushing: absorption, bending, water drip and spray, wetting and drying."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Any, Literal, get_args

from service.trade.bounds import require

BlockTest = Literal["absorption", "bending", "drip", "spray", "wetting and drying"]
Verdict = Literal["met", "not met", "too few", "no readings"]

PSI_MPA = 4.4482216152605 / 645.16
UNITS: dict[BlockTest, dict[str, float]] = {
    "absorption": {"%": 0.01},
    "bending": {"MPa": 1.0, "psi": PSI_MPA},
    "drip": {"index": 1.0},
    "spray": {"index": 1.0},
    "wetting and drying": {"%": 0.01},
}

# A pit of exactly 5 mm is in the next class, an erosion of exactly 20 mm in an hour in the lower one.
DRIP_MM = (5.0, 10.0, 15.0)
SPRAY_MM_PER_HOUR = (20.0, 50.0, 90.0, 120.0)


@dataclass(frozen=True)
class Demand:
    """One limit on another test than crushing: at least for bending, at most for all others."""

    name: str
    test: BlockTest
    statistic: Literal["mean", "each"]
    limit: float
    unit: str
    blocks: int

    @property
    def limit_si(self) -> float:
        """The limit as a share, in MPa, or as the index itself."""
        return self.limit * UNITS[self.test][self.unit]

    @property
    def at_least(self) -> bool:
        """Whether more is better."""
        return self.test == "bending"


def drip_index(*, depth_mm: float) -> int:
    """Return the erosion index of a block on which water dripped.

    Parameters
    ----------
    depth_mm : float
        Depth of the pit, in mm; 0 or more.

    Returns
    -------
    int
        2 below 5 mm, 3 below 10 mm, 4 below 15 mm, 5 from there on, which fails.

    Raises
    ------
    Invalid
        If the depth is below 0.

    Source
    ------
    nzs-4298 : drip test, from memory.

    Examples
    --------
    >>> [drip_index(depth_mm=depth) for depth in (1, 5, 10, 15)]
    [2, 3, 4, 5]
    """
    require(not_negative={"depth_mm": depth_mm})
    return 2 + sum(depth_mm >= edge for edge in DRIP_MM)


def spray_index(*, depth_mm: float, minutes: float) -> int:
    """Return the erosion index of a block that was sprayed.

    Parameters
    ----------
    depth_mm : float
        Deepest erosion, in mm; 0 or more.
    minutes : float
        How long the spray ran, in minutes; above 0.

    Returns
    -------
    int
        1 to 20 mm in an hour, 2 to 50, 3 to 90, 4 to 120, 5 above, which fails.

    Raises
    ------
    Invalid
        If a number is out of range.

    Source
    ------
    nzs-4298 : spray test, from memory.

    Examples
    --------
    30 mm in half an hour are 60 mm in an hour:

    >>> spray_index(depth_mm=30, minutes=30)
    3
    """
    require(not_negative={"depth_mm": depth_mm}, positive={"minutes": minutes})
    return 1 + sum(depth_mm / minutes * 60 > edge for edge in SPRAY_MM_PER_HOUR)


def mass_lost(*, before_kg: float, after_kg: float) -> float:
    """Return the share of its dry mass that a block lost in wetting, drying and brushing.

    Parameters
    ----------
    before_kg : float
        Oven-dry mass before the first cycle, in kg; above 0.
    after_kg : float
        Oven-dry mass after the last cycle, in kg; above 0.

    Returns
    -------
    float
        Loss over the mass before, unrounded; negative where it gained.

    Raises
    ------
    Invalid
        If a mass is not above 0.

    Source
    ------
    d559 : loss of mass, without the correction for water of hydration.

    Examples
    --------
    >>> round(mass_lost(before_kg=2.0, after_kg=1.9), 6)
    0.05
    """
    require(positive={"before_kg": before_kg, "after_kg": after_kg})
    return (before_kg - after_kg) / before_kg


def verdict_of(demand: Demand, values: Sequence[float]) -> Verdict:
    """Return whether readings meet a demand, reading it as it stands.

    Parameters
    ----------
    demand : Demand
        A limit on one test.
    values : Sequence[float]
        One value a block, in the unit of `limit_si`; may be empty.

    Returns
    -------
    Verdict
        "not met" as soon as it is missed; "too few" where the limit is kept by fewer blocks than it asks for.

    Source
    ------
    own-rule

    Examples
    --------
    >>> most = Demand("absorption", "absorption", "mean", 20, "%", 3)
    >>> verdict_of(most, [0.18, 0.22, 0.19]), verdict_of(most, [0.18]), verdict_of(most, [0.25])
    ('met', 'too few', 'not met')
    """
    if not values:
        return "no readings"
    asked = [fmean(values)] if demand.statistic == "mean" else list(values)
    limit, slack = demand.limit_si, 1e-12
    kept = all(value >= limit - slack if demand.at_least else value <= limit + slack for value in asked)
    if not kept:
        return "not met"
    return "met" if len(values) >= demand.blocks else "too few"


def demand_of(row: object) -> Demand | dict[str, str]:
    """Return a demand from plain data, or a sentence for each key at fault.

    Parameters
    ----------
    row : object
        Mapping with the keys of `Demand`.

    Returns
    -------
    Demand or dict[str, str]
        The demand, or what is wrong by key; the key "" speaks of the whole.

    Source
    ------
    own-words

    Examples
    --------
    >>> demand_of({"name": "drip", "test": "drip", "statistic": "each", "limit": 4, "unit": "mm", "blocks": 1})
    {'unit': 'Choose one of index.'}
    """
    if not isinstance(row, Mapping):
        return {"": "Give the demand as keys and values."}
    wrong = _faults(row)
    if wrong:
        return wrong
    return Demand(
        **{key: row[key] for key in ("name", "test", "statistic", "unit", "blocks")}, limit=float(row["limit"])
    )


def _faults(row: Mapping[str, Any]) -> dict[str, str]:
    units = next((units for test, units in UNITS.items() if test == row.get("test")), {})
    limit, blocks, name = row.get("limit"), row.get("blocks"), row.get("name")
    limit_right = isinstance(limit, int | float) and not isinstance(limit, bool) and 0 < limit <= 100_000
    checks = {
        "name": (isinstance(name, str) and 0 < len(name.strip()) <= 200, "Name the demand."),
        "test": (row.get("test") in get_args(BlockTest), f"Choose one of {', '.join(get_args(BlockTest))}."),
        "statistic": (row.get("statistic") in ("mean", "each"), "Choose mean or each."),
        "limit": (limit_right, "Give a limit above 0."),
        "unit": (row.get("unit") in units, f"Choose one of {', '.join(units)}."),
        "blocks": (isinstance(blocks, int) and not isinstance(blocks, bool) and 1 <= blocks <= 100, "From 1 to 100."),
    }
    return {key: sentence for key, (right, sentence) in checks.items() if not right}
