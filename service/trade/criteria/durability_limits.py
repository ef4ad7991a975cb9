"""What a rule asks of tests beside crushing: absorption, bending, water drip and spray, wetting and drying."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Any, Literal, get_args

from service.trade.block.durability_tests import Endured

BlockTest = Literal["absorption", "damp surface", "bending", "drip", "spray", "wetting and drying"]
Verdict = Literal["met", "not met", "too few", "cannot tell", "no readings"]

PSI_MPA = 4.4482216152605 / 645.16
UNITS: dict[BlockTest, dict[str, float]] = {
    "absorption": {"%": 0.01},
    "damp surface": {"%": 0.01},
    "bending": {"MPa": 1.0, "psi": PSI_MPA},
    "drip": {"index": 1.0},
    "spray": {"index": 1.0},
    "wetting and drying": {"%": 0.01},
}
SLACK = 1e-12


@dataclass(frozen=True)
class Demand:
    """One limit on another test than crushing: at least for bending, at most for all others.

    ``hours`` in or on the water and ``cycles`` are the least that the test has to last; None where none is known.
    """

    name: str
    test: BlockTest
    statistic: Literal["mean", "each"]
    limit: float
    unit: str
    blocks: int
    hours: float | None = None
    cycles: int | None = None

    @property
    def limit_si(self) -> float:
        """The limit as a share, in MPa, or as the index itself."""
        return self.limit * UNITS[self.test][self.unit]

    @property
    def at_least(self) -> bool:
        """Whether more is better."""
        return self.test == "bending"

    def kept_by(self, value: float) -> bool:
        """Return whether a value is allowed by the limit."""
        return value >= self.limit_si - SLACK if self.at_least else value <= self.limit_si + SLACK

    def lasted(self, one: Endured) -> bool:
        """Return whether a test went on for as long as is asked for."""
        return (one.hours or 0.0) >= (self.hours or 0.0) and (one.cycles or 0) >= (self.cycles or 0)


def verdict_of(demand: Demand, found: Sequence[Endured]) -> Verdict:
    """Return whether blocks meet a demand, reading it as it stands.

    Parameters
    ----------
    demand : Demand
        A limit on one test.
    found : Sequence[Endured]
        What blocks of one recipe came to; those of other tests are passed over; may be empty.

    Returns
    -------
    Verdict
        "not met" as soon as it is missed or a block did not survive; "too few" where the limit is kept by fewer blocks
        than it asks for, or by tests that were broken off too soon; "cannot tell" where blocks that held may have
        borne it.

    Source
    ------
    own-rule

    Examples
    --------
    >>> most = Demand("absorption", "absorption", "mean", 20, "%", 3)
    >>> blocks = [Endured("absorption", share) for share in (0.18, 0.22, 0.19)]
    >>> verdict_of(most, blocks), verdict_of(most, blocks[:1]), verdict_of(most, blocks[1:2])
    ('met', 'too few', 'not met')
    """
    mine = [one for one in found if one.test == demand.test]
    if not mine:
        return "no readings"
    if any(one.value is None for one in mine):
        return "not met"
    kept, missed = _mean_kept(demand, mine) if demand.statistic == "mean" else _each_kept(demand, mine)
    if missed:
        return "not met"
    if not kept:
        return "cannot tell"
    return "met" if sum(demand.lasted(one) for one in mine) >= demand.blocks else "too few"


def _mean_kept(demand: Demand, mine: Sequence[Endured]) -> tuple[bool, bool]:
    """Return whether the mean is sure to be kept, and whether it is sure to be missed."""
    kept = demand.kept_by(fmean(one.value or 0.0 for one in mine))
    return kept, not kept and not any(one.at_least for one in mine)


def _each_kept(demand: Demand, mine: Sequence[Endured]) -> tuple[bool, bool]:
    missing = [one for one in mine if not demand.kept_by(one.value or 0.0)]
    return not missing, any(not one.at_least for one in missing)


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
    hours = row.get("hours")
    return Demand(
        **{key: row[key] for key in ("name", "test", "statistic", "unit", "blocks")},
        limit=float(row["limit"]),
        hours=None if hours is None else float(hours),
        cycles=row.get("cycles"),
    )


def _faults(row: Mapping[str, Any]) -> dict[str, str]:
    units = next((units for test, units in UNITS.items() if test == row.get("test")), {})
    limit, name = row.get("limit"), row.get("name")
    hours, cycles = row.get("hours"), row.get("cycles")
    checks = {
        "name": (isinstance(name, str) and 0 < len(name.strip()) <= 200, "Name the demand."),
        "test": (row.get("test") in get_args(BlockTest), f"Choose one of {', '.join(get_args(BlockTest))}."),
        "statistic": (row.get("statistic") in ("mean", "each"), "Choose mean or each."),
        "limit": (_is_number(limit), "Give a limit above 0."),
        "unit": (row.get("unit") in units, f"Choose one of {', '.join(units)}."),
        "blocks": (_is_count(row.get("blocks")), "From 1 to 100."),
        "hours": (hours is None or _is_number(hours), "Give the hours, above 0."),
        "cycles": (cycles is None or _is_count(cycles), "From 1 to 100 cycles."),
    }
    return {key: sentence for key, (right, sentence) in checks.items() if not right}


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and 0 < value <= 100_000


def _is_count(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= 100
