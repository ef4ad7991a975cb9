"""What was measured on a soil, against published thresholds -> a verdict and its reasons."""

import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Literal, get_args

from service.trade.sources import Standing
from service.trade.validation import refuse, require

DATA = Path(__file__).parent

# A share worked from masses may miss a bound it equals by its last binary digit.
NOISE = 1e-9

Measure = Literal[
    "shrinkage", "clay_share", "silt_share", "sand_share", "gravel_share", "fines_share", "plasticity_index"
]
Sign = Literal["organics", "sulfates", "pollution", "black cotton"]
Verdict = Literal["use as it is", "amend", "not for blocks"]


@dataclass(frozen=True)
class Threshold:
    """Bounds on one measure, each bound itself inside; a side without a bound is open."""

    key: str
    measure: Measure
    low: float | None
    high: float | None
    says_below: str
    says_above: str
    source: str
    standing: Standing | Literal["own"]


@dataclass(frozen=True)
class Reason:
    """One measure against one threshold, or one sign; ``drives`` says whether the verdict depends on it."""

    about: str
    value: float | None
    low: float | None
    high: float | None
    inside: bool
    drives: bool
    says: str
    source: str
    standing: str


@dataclass(frozen=True)
class Suitability:
    """The verdict, every reason, and the measures that were not there to be judged."""

    verdict: Verdict
    reasons: tuple[Reason, ...]
    not_measured: tuple[str, ...]


# What a sign does besides stopping every recipe with a stabiliser, and what it says.
_SIGNS: dict[Sign, tuple[bool, str, str]] = {
    "organics": (True, "Signs of organic matter: not for blocks until a laboratory has cleared it.", "kenya-housing"),
    "black cotton": (True, "Signs of black cotton soil, which swells and shrinks: not for blocks.", "kenya-housing"),
    "pollution": (True, "Signs of pollution: touch it no further, and ask a laboratory.", "stop-rule"),
    "sulfates": (False, "Signs of sulfates: no cement and no lime until a laboratory has cleared it.", "stop-rule"),
}
_STANDING_OF_SIGN = {"kenya-housing": "seen", "stop-rule": "definition"}


@cache
def published_thresholds() -> tuple[Threshold, ...]:
    """Return the published thresholds, in the order of their file.

    Returns
    -------
    tuple[Threshold, ...]
        Shares of dry mass; each with source and standing.

    Source
    ------
    soil-selection, bru-1974, kenya-housing, extension-mix, walker-1995, composition-handbook

    Examples
    --------
    >>> published_thresholds()[0].measure, published_thresholds()[0].high
    ('shrinkage', 0.09)
    """
    rows = tomllib.loads((DATA / "suitability_thresholds.toml").read_text("utf-8"))["threshold"]
    open_side = {"low": None, "high": None, "says_below": "", "says_above": ""}
    return tuple(Threshold(**(open_side | row)) for row in rows)


def judge(
    measured: Mapping[Measure, float],
    *,
    signs: Iterable[Sign] = (),
    thresholds: Sequence[Threshold] | None = None,
) -> Suitability:
    """Return whether a soil is fit for pressed blocks, with every reason.

    Parameters
    ----------
    measured : Mapping[Measure, float]
        Shares of dry mass, plasticity index and linear shrinkage as fractions; each 0 or more, shares at most 1.
    signs : Iterable[Sign]
        Cues of organics, sulfates, pollution or black cotton soil.
    thresholds : Sequence[Threshold] or None
        The shop's own copies; None for the published ones.

    Returns
    -------
    Suitability
        "not for blocks" when a sign says so; else "amend" when a measure lies outside a threshold that may
        drive; else "use as it is". Thresholds from memory give reasons and drive nothing.

    Raises
    ------
    Invalid
        If a share is out of range, or there is neither a sign that stops nor a measure that could drive.

    Source
    ------
    soil-selection, bru-1974, kenya-housing, extension-mix, stop-rule

    Examples
    --------
    >>> judge({"shrinkage": 0.05}).verdict, judge({"shrinkage": 0.12}).verdict
    ('use as it is', 'amend')
    """
    _check(measured)
    rules = published_thresholds() if thresholds is None else thresholds
    of_signs = [_of_sign(sign) for sign in get_args(Sign) if sign in set(signs)]
    of_measures = [_of_measure(rule, measured[rule.measure]) for rule in rules if rule.measure in measured]
    stopped = any(reason.drives for reason in of_signs)
    if not stopped and not any(reason.drives for reason in of_measures):
        refuse({"box": "Measure shrinkage, clay, silt or fines: without one of them nothing can be judged."})
    outside = any(reason.drives and not reason.inside for reason in of_measures)
    driving = {rule.measure for rule in rules if rule.standing != "memory"}
    return Suitability(
        verdict="not for blocks" if stopped else "amend" if outside else "use as it is",
        reasons=(*of_signs, *of_measures),
        not_measured=tuple(measure for measure in get_args(Measure) if measure in driving - set(measured)),
    )


def _check(measured: Mapping[Measure, float]) -> None:
    require(not_negative={str(name): value for name, value in measured.items()})
    above = [name for name, value in measured.items() if value > 1 and name != "plasticity_index"]
    if above:
        refuse(dict.fromkeys(above, "A share is at most 1."))


def _of_sign(sign: Sign) -> Reason:
    drives, says, source = _SIGNS[sign]
    standing = _STANDING_OF_SIGN[source]
    return Reason(f"sign of {sign}", None, None, None, False, drives, says, source, standing)


def _of_measure(rule: Threshold, value: float) -> Reason:
    below = rule.low is not None and value < rule.low - NOISE
    above = rule.high is not None and value > rule.high + NOISE
    return Reason(
        about=rule.measure,
        value=value,
        low=rule.low,
        high=rule.high,
        inside=not below and not above,
        drives=rule.standing != "memory",
        says=rule.says_below if below else rule.says_above if above else "Inside.",
        source=rule.source,
        standing=rule.standing,
    )
