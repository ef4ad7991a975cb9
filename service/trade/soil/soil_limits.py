"""Envelopes, thresholds and bands a soil is held against: the published ones, or a shop's own copies in their place."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

from service.trade.soil.grading_envelopes import Bound, Envelope, published_envelopes
from service.trade.soil.starting_recipes import ShrinkageBands, published_shrinkage_bands
from service.trade.soil.suitability import DATA, Threshold, published_thresholds
from service.trade.sources import Standing
from service.trade.validation import refuse

ENVELOPE, THRESHOLD, OWN_ENVELOPE = "envelope:", "threshold:", "envelope:own-"
SHRINKAGE, LOSS = "shrinkage-bands", "sieve-loss"


@dataclass(frozen=True)
class LossLimit:
    """The loss of a sieving, over what was put on the sieves, above which it is flagged."""

    high: float
    source: str
    standing: Standing | Literal["own"]


@dataclass(frozen=True)
class SoilLimits:
    """Everything a soil should meet."""

    envelopes: tuple[Envelope, ...]
    thresholds: tuple[Threshold, ...]
    shrinkage: ShrinkageBands
    loss: LossLimit


def published_bands() -> SoilLimits:
    """Return the published envelopes, thresholds, shrinkage bands and limit of loss.

    Returns
    -------
    SoilLimits
        Each with source and standing.

    Source
    ------
    kenya-housing, bru-1974, extension-mix, soil-selection, shrinkage-bands, d6913

    Examples
    --------
    >>> published_bands().loss.high, published_bands().loss.standing
    (0.005, 'memory')
    """
    (row,) = tomllib.loads((DATA / "sieve_loss.toml").read_text("utf-8"))["limit"]
    loss = LossLimit(row["high"], row["source"], row["standing"])
    return SoilLimits(published_envelopes(), published_thresholds(), published_shrinkage_bands(), loss)


def bands_with(own: Mapping[str, Mapping[str, Any]]) -> SoilLimits:
    """Return the bands that count for a shop: its own copies in the place of the published ones.

    Parameters
    ----------
    own : Mapping[str, Mapping[str, Any]]
        By key, as `checked_own` takes them.

    Returns
    -------
    SoilLimits
        Own ones stand as "own" and name what they rest on; envelopes of the shop's own come last.

    Raises
    ------
    Invalid
        As `checked_own` does.

    Source
    ------
    computed-here : a copy in the place of what it was copied from.

    Examples
    --------
    >>> bands_with({"sieve-loss": {"high": 0.01, "rests_on": "our scale"}}).loss
    LossLimit(high=0.01, source='our scale', standing='own')
    """
    own = {key: checked_own(key, values) for key, values in own.items()}
    bands = published_bands()
    added = tuple(_envelope(key, values) for key, values in own.items() if key.startswith(OWN_ENVELOPE))
    loss, shrinkage = own.get(LOSS), own.get(SHRINKAGE)
    return SoilLimits(
        envelopes=(*(_own_envelope(one, own.get(ENVELOPE + one.key)) for one in bands.envelopes), *added),
        thresholds=tuple(_own_threshold(one, own.get(THRESHOLD + one.key)) for one in bands.thresholds),
        shrinkage=ShrinkageBands(
            tuple((float(low), int(parts)) for low, parts in shrinkage["bands"]),
            float(shrinkage["to_mm"]),
            str(shrinkage["rests_on"]),
            "own",
        )
        if shrinkage
        else bands.shrinkage,
        loss=LossLimit(float(loss["high"]), str(loss["rests_on"]), "own") if loss else bands.loss,
    )


def checked_own(key: str, values: Mapping[str, Any]) -> Mapping[str, Any]:
    """Return the values of a copy that makes sense.

    Parameters
    ----------
    key : str
        "envelope:", "threshold:" and the key of a published one, "envelope:own-..." for one of the shop's own,
        "shrinkage-bands" or "sieve-loss".
    values : Mapping[str, Any]
        "rests_on" in words, and "bounds" [{"size_mm", "low", "high"}], "low" and "high", "bands" [[from_mm, parts]]
        and "to_mm", or "high".

    Returns
    -------
    Mapping[str, Any]
        The values as they came.

    Raises
    ------
    Invalid
        If nothing is said of what it rests on, a bound is out of order, or the key is not known.

    Source
    ------
    computed-here : order of bounds.

    Examples
    --------
    >>> checked_own("sieve-loss", {"high": 0.01, "rests_on": "our scale"})["high"]
    0.01
    """
    if not str(values.get("rests_on", "")).strip():
        refuse({"rests_on": "Say where it comes from."})
    bands = published_bands()
    known = {ENVELOPE + one.key for one in bands.envelopes}
    if key in known or key.startswith(OWN_ENVELOPE):
        _check_bounds(values["bounds"])
    elif key in {THRESHOLD + one.key for one in bands.thresholds}:
        _check_threshold(values)
    elif key == SHRINKAGE:
        _check_steps(values)
    elif key == LOSS:
        if not 0 < values["high"] < 1:
            refuse({"high": "A share above 0 % and below 100 %."})
    else:
        refuse({"key": "There is no such band."})
    return values


def _check_bounds(bounds: list[Mapping[str, float]]) -> None:
    if not bounds:
        refuse({"bounds": "At least one size is needed."})
    faults = {}
    for place, one in enumerate(bounds):
        if one["size_mm"] <= 0 or one["size_mm"] in [other["size_mm"] for other in bounds[:place]]:
            faults[f"bounds.{place}.size_mm"] = "A size above 0, each once."
        if not 0 <= one["low"] <= one["high"] <= 1:
            faults[f"bounds.{place}.high"] = "At least the low bound, and at most 100 %."
    if faults:
        refuse(faults)


def _check_threshold(values: Mapping[str, Any]) -> None:
    low, high = values.get("low"), values.get("high")
    if low is None and high is None:
        refuse({"high": "At least one bound is needed."})
    if low is not None and low < 0:
        refuse({"low": "0 or more."})
    if low is not None and high is not None and high < low:
        refuse({"high": "At least the low bound."})


def _check_steps(values: Mapping[str, Any]) -> None:
    starts = [low for low, _ in values["bands"]]
    if not starts or starts[0] != 0 or starts != sorted(set(starts)):
        refuse({"bands": "The first band begins at 0, and each next one higher."})
    if any(parts < 1 for _, parts in values["bands"]):
        refuse({"bands": "At least one part of soil."})
    if values["to_mm"] < starts[-1]:
        refuse({"to_mm": "Not below the beginning of the last band."})


def _envelope(key: str, values: Mapping[str, Any]) -> Envelope:
    return Envelope(key.removeprefix(ENVELOPE), str(values["name"]), _bounds(values), str(values["rests_on"]), "own")


def _own_envelope(one: Envelope, values: Mapping[str, Any] | None) -> Envelope:
    if values is None:
        return one
    return replace(one, bounds=_bounds(values), source=str(values["rests_on"]), standing="own")


def _bounds(values: Mapping[str, Any]) -> tuple[Bound, ...]:
    rows = sorted(values["bounds"], key=lambda row: -float(row["size_mm"]))
    return tuple(Bound(float(row["size_mm"]), float(row["low"]), float(row["high"])) for row in rows)


def _own_threshold(one: Threshold, values: Mapping[str, Any] | None) -> Threshold:
    if values is None:
        return one
    return replace(one, low=values.get("low"), high=values.get("high"), source=str(values["rests_on"]), standing="own")
