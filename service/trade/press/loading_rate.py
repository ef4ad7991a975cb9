"""How fast a block is to be loaded, and how fast the needle of a gauge climbs then."""

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Literal

from service.trade.criteria.codes_and_rules import MPA_IN
from service.trade.criteria.durability_limits import PSI_MPA
from service.trade.press.calibration import Calibration, Geometry
from service.trade.sources import Standing
from service.trade.validation import refuse, require

SECONDS_PER_MINUTE = 60.0
NEWTONS_PER_KN = 1000.0
LBF_KN = 0.0044482216152605
# What one of each unit is, in MPa/s and in kN/s.
STRESS_RATES = {"MPa/s": MPA_IN["MPa"], "MPa/min": 1 / SECONDS_PER_MINUTE, "psi/s": PSI_MPA}
LOAD_RATES = {"kN/s": 1.0, "N/s": 1 / NEWTONS_PER_KN, "lbf/min": LBF_KN / SECONDS_PER_MINUTE}


@dataclass(frozen=True)
class LoadingRate:
    """The rate that some criteria ask for in a test, from low to high in the unit of its source."""

    criteria: tuple[str, ...]
    test: Literal["crushing", "bending"]
    low: float
    high: float
    unit: str
    says: str
    source: str
    standing: Standing

    @property
    def ends(self) -> tuple[dict[str, float], dict[str, float]]:
        """Both ends as `gauge_rate` takes them."""
        name, factor = (
            ("stress_rate_mpa_s", STRESS_RATES[self.unit])
            if self.unit in STRESS_RATES
            else ("load_rate_kn_s", LOAD_RATES[self.unit])
        )
        return {name: self.low * factor}, {name: self.high * factor}


@dataclass(frozen=True)
class GaugeRate:
    """A rate of loading as force, as stress on the face and as the climb of the gauge."""

    load_rate_kn_s: float
    stress_rate_mpa_s: float
    gauge_rate_mpa_s: float


def gauge_rate(
    press: Geometry | Calibration,
    *,
    face_length_mm: float,
    face_width_mm: float,
    stress_rate_mpa_s: float | None = None,
    load_rate_kn_s: float | None = None,
) -> GaugeRate:
    """Return how fast the gauge climbs at a rate of loading.

    Parameters
    ----------
    press : Geometry or Calibration
        The press, by geometry or by calibration.
    face_length_mm, face_width_mm : float
        Sides of the loaded face, in mm; above 0.
    stress_rate_mpa_s : float or None
        Wanted rise of the stress, in MPa a second; above 0. Either this or the force.
    load_rate_kn_s : float or None
        Wanted rise of the force, in kN a second; above 0.

    Returns
    -------
    GaugeRate
        Force in kN/s, stress in MPa/s, gauge in MPa/s, unrounded; what stands at zero does not matter.

    Raises
    ------
    Invalid
        If a number is not above 0, or not exactly one rate is given.

    Source
    ------
    hydraulic-ram, stress

    Examples
    --------
    A ram of 100 cm2 without friction on a face of 100 cm2: the gauge climbs as the stress does.

    >>> press = Geometry(ram_diameter_mm=112.8379167, rams=1, efficiency=1.0, zero_mpa=0.0)
    >>> found = gauge_rate(press, face_length_mm=100, face_width_mm=100, stress_rate_mpa_s=0.05)
    >>> round(found.gauge_rate_mpa_s, 6), found.load_rate_kn_s
    (0.05, 0.5)
    """
    require(positive={"face_length_mm": face_length_mm, "face_width_mm": face_width_mm})
    area_mm2 = face_length_mm * face_width_mm
    if stress_rate_mpa_s is not None and load_rate_kn_s is not None:
        refuse({"load_rate_kn_s": "Give the rate of stress or that of force, not both."})
    if load_rate_kn_s is not None:
        require(positive={"load_rate_kn_s": load_rate_kn_s})
        load, stress = load_rate_kn_s, load_rate_kn_s * NEWTONS_PER_KN / area_mm2
    elif stress_rate_mpa_s is not None:
        require(positive={"stress_rate_mpa_s": stress_rate_mpa_s})
        load, stress = stress_rate_mpa_s * area_mm2 / NEWTONS_PER_KN, stress_rate_mpa_s
    else:
        refuse({"stress_rate_mpa_s": "Give the rate of stress or that of force."})
    slope = press.line.slope if isinstance(press, Calibration) else press.kn_per_mpa
    return GaugeRate(load, stress, load / slope)


def mean_rate(*, stress_mpa: float, loading_s: float) -> float:
    """Return the mean rate of loading of a block, from the first load to the highest reading.

    Parameters
    ----------
    stress_mpa : float
        Stress at the highest reading, in MPa; 0 or above.
    loading_s : float
        Time from the first load to it, in s; above 0.

    Returns
    -------
    float
        In MPa/s, unrounded.

    Raises
    ------
    Invalid
        If a number is out of its range.

    Source
    ------
    own-words

    Examples
    --------
    9 MPa in a minute and a half:

    >>> mean_rate(stress_mpa=9.0, loading_s=90.0)
    0.1
    """
    require(not_negative={"stress_mpa": stress_mpa}, positive={"loading_s": loading_s})
    return stress_mpa / loading_s


@cache
def published_rates() -> tuple[LoadingRate, ...]:
    """Return the rates of loading that published criteria ask for.

    Returns
    -------
    tuple[LoadingRate, ...]
        In the order of their file; each with source and standing.

    Source
    ------
    halved-block, en-772-1-rate, is-3495-1, nbr-8492, d1633-rate, 780-cmr-2109.3.1.2.3

    Examples
    --------
    >>> published_rates()[1].low, published_rates()[1].unit
    (0.05, 'MPa/s')
    """
    rows = tomllib.loads(Path(__file__).with_name("loading_rates.toml").read_text("utf-8"))["rate"]
    return tuple(
        LoadingRate(**{**row, "criteria": tuple(row["criteria"]), "low": float(row["low"]), "high": float(row["high"])})
        for row in rows
    )


def rates_of(keys: Iterable[str]) -> tuple[LoadingRate, ...]:
    """Return the rates of loading that some criteria ask for.

    Parameters
    ----------
    keys : Iterable[str]
        Keys of criteria; one that states no rate, or is the shop's own, gives none.

    Returns
    -------
    tuple[LoadingRate, ...]
        Each rate once.

    Source
    ------
    own-words

    Examples
    --------
    >>> [rate.source for rate in rates_of(["une-41410-1", "ks-1070"])]
    ['en-772-1-rate']
    """
    asked = set(keys)
    return tuple(rate for rate in published_rates() if asked & set(rate.criteria))
