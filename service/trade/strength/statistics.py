"""Few readings -> a value that most of what follows will exceed: tolerance factors, EN 1990, NZS 4298, Grubbs."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from service.trade.validation import refuse, require

Distribution = Literal["normal", "lognormal"]

# EN 1990 Annex D, Table D1: the factor for the 5 % value.
KN_KNOWN = {1: 2.31, 2: 2.01, 3: 1.89, 4: 1.83, 5: 1.80, 6: 1.77, 8: 1.74, 10: 1.72, 20: 1.68, 30: 1.67}
KN_UNKNOWN = {3: 3.37, 4: 2.63, 5: 2.33, 6: 2.18, 8: 2.00, 10: 1.92, 20: 1.76, 30: 1.73}
CHARACTERISTIC_SHARE = 0.95

NZS_SPECIMENS = 5
NZS_SPREAD_FACTOR = 1.5


@dataclass(frozen=True)
class Spread:
    """Mean and standard deviation (n - 1) of readings; of their logarithms when ``logs``."""

    mean: float
    sd: float
    logs: bool


@dataclass(frozen=True)
class LowerValue:
    """A lower value in MPa, the factor it was made with and where that stands."""

    value_mpa: float
    factor: float
    factor_from: Literal["table", "formula"]


def tolerance_factor(*, n: int, coverage: float, confidence: float) -> float:
    """Return the one-sided normal tolerance factor k: with this confidence, mean - k s lies below that share.

    Parameters
    ----------
    n : int
        Number of readings; at least 2.
    coverage : float
        Share of what follows that is to exceed the value; above 0, below 1.
    confidence : float
        Chance that it does; above 0, below 1.

    Returns
    -------
    float
        k, from the exact non-central t; unrounded.

    Raises
    ------
    Invalid
        If a number is out of range.

    Source
    ------
    iso-16269-6 : k = t'(confidence; n - 1, z sqrt n) / sqrt n.

    Examples
    --------
    >>> round(tolerance_factor(n=5, coverage=0.95, confidence=0.75), 3)
    2.463
    """
    if n < 2:
        refuse({"n": "At least 2 readings are needed."})
    shares = {"coverage": coverage, "confidence": confidence}
    outside = [name for name, share in shares.items() if not 0 < share < 1]
    if outside:
        refuse(dict.fromkeys(outside, "This must be above 0 and below 1."))
    # Loaded when it is needed, here and below: it is slow to load.
    from scipy.special import nctdtrit, ndtri

    root = math.sqrt(n)
    return float(nctdtrit(n - 1, ndtri(coverage) * root, confidence)) / root


def kn_factor(*, n: int, v_known: bool) -> float:
    """Return the factor k_n of EN 1990 for the 5 % value, by its formula.

    Parameters
    ----------
    n : int
        Number of readings; at least 1 when the coefficient of variation is known, else at least 2.
    v_known : bool
        Whether the coefficient of variation is known from before.

    Returns
    -------
    float
        z or t(n - 1), times sqrt(1 + 1/n); unrounded.

    Raises
    ------
    Invalid
        If there are too few readings.

    Source
    ------
    en-1990-d1 : the table is this predictive factor, rounded.

    Examples
    --------
    >>> round(kn_factor(n=5, v_known=False), 3), round(kn_factor(n=5, v_known=True), 3)
    (2.335, 1.802)
    """
    from scipy.special import ndtri, stdtrit

    _check_count(n, v_known=v_known)
    quantile = ndtri(CHARACTERISTIC_SHARE) if v_known else stdtrit(n - 1, CHARACTERISTIC_SHARE)
    return float(quantile) * math.sqrt(1 + 1 / n)


def kn_printed(*, n: int, v_known: bool) -> float | None:
    """Return the factor k_n as Table D1 prints it.

    Parameters
    ----------
    n : int
        Number of readings.
    v_known : bool
        Whether the coefficient of variation is known from before.

    Returns
    -------
    float or None
        The printed value; None for a number of readings that has no column.

    Source
    ------
    en-1990-d1

    Examples
    --------
    >>> kn_printed(n=5, v_known=False), kn_printed(n=7, v_known=False)
    (2.33, None)
    """
    return (KN_KNOWN if v_known else KN_UNKNOWN).get(n)


def spread_of(values_mpa: Sequence[float], *, distribution: Distribution = "normal") -> Spread:
    """Return mean and standard deviation of readings, or of their logarithms.

    Parameters
    ----------
    values_mpa : Sequence[float]
        One or more readings in MPa, each above 0.
    distribution : Distribution
        Whether the readings or their logarithms are normal.

    Returns
    -------
    Spread
        With n - 1; the deviation of one reading is 0. Unrounded.

    Raises
    ------
    Invalid
        If there is no reading or one is not above 0 (field ``values_mpa.0``).

    Source
    ------
    computed-here : definition of mean and standard deviation.

    Examples
    --------
    >>> spread_of([2.0, 4.0]).mean, round(spread_of([2.0, 4.0]).sd, 6)
    (3.0, 1.414214)
    """
    if not values_mpa:
        refuse({"values_mpa": "At least one reading is needed."})
    require(positive={f"values_mpa.{place}": value for place, value in enumerate(values_mpa)})
    logs = distribution == "lognormal"
    values = [math.log(value) for value in values_mpa] if logs else list(values_mpa)
    mean = math.fsum(values) / len(values)
    squares = math.fsum((value - mean) ** 2 for value in values)
    return Spread(mean=mean, sd=math.sqrt(squares / (len(values) - 1)) if len(values) > 1 else 0.0, logs=logs)


def lower_value_mpa(spread: Spread, *, factor: float) -> float:
    """Return the value that lies a factor of standard deviations below the mean.

    Parameters
    ----------
    spread : Spread
        Mean and deviation, of readings in MPa or of their logarithms.
    factor : float
        Standard deviations below.

    Returns
    -------
    float
        m - k s in MPa, or exp(m - k s) for logarithms; never below 0, for a strength is not. Unrounded.

    Source
    ------
    en-1990-d1 : form of the normal and the lognormal value.

    Examples
    --------
    >>> lower_value_mpa(Spread(mean=3.0, sd=0.5, logs=False), factor=2.0)
    2.0
    """
    low = spread.mean - factor * spread.sd
    return math.exp(low) if spread.logs else max(low, 0.0)


def characteristic_en_1990(
    values_mpa: Sequence[float], *, distribution: Distribution = "normal", variation: float | None = None
) -> LowerValue:
    """Return the 5 % value of EN 1990 Annex D, with the printed factor where there is one.

    Parameters
    ----------
    values_mpa : Sequence[float]
        Readings in MPa, each above 0; at least 1 with a known variation, else at least 3 (Table D1 starts there).
    distribution : Distribution
        Normal, or lognormal.
    variation : float or None
        Coefficient of variation known from before, above 0; None when it is estimated from the readings.

    Returns
    -------
    LowerValue
        m (1 - k V) or, lognormal, exp(m_y - k s_y), where a known V gives s_y = sqrt(ln(V^2 + 1)).

    Raises
    ------
    Invalid
        If there are too few readings, or a number is out of range.

    Source
    ------
    en-1990-d1

    Examples
    --------
    Mean 2.54, s 0.33615, printed factor 2.33:

    >>> round(characteristic_en_1990([2.1, 2.4, 2.5, 2.7, 3.0]).value_mpa, 4)
    1.7568
    """
    n = len(values_mpa)
    known = variation is not None
    if n < (1 if known else min(KN_UNKNOWN)):
        refuse({"values_mpa": f"At least {1 if known else min(KN_UNKNOWN)} readings are needed."})
    spread = spread_of(values_mpa, distribution=distribution)
    if variation is not None:
        require(positive={"variation": variation})
        sd = math.sqrt(math.log1p(variation**2)) if spread.logs else variation * spread.mean
        spread = Spread(mean=spread.mean, sd=sd, logs=spread.logs)
    printed = kn_printed(n=n, v_known=known)
    factor = printed or kn_factor(n=n, v_known=known)
    return LowerValue(lower_value_mpa(spread, factor=factor), factor, "table" if printed else "formula")


def characteristic_nzs_4298(values_mpa: Sequence[float]) -> float:
    """Return the characteristic value of five specimens by NZS 4298.

    Parameters
    ----------
    values_mpa : Sequence[float]
        Exactly five readings in MPa, each above 0.

    Returns
    -------
    float
        (1 - 1.5 s / mean) times the lowest, in MPa; never below 0. Unrounded.

    Raises
    ------
    Invalid
        If there are not five readings, or one is not above 0.

    Source
    ------
    nzs-4298

    Examples
    --------
    (1 - 1.5 x 0.33615 / 2.54) x 2.1:

    >>> round(characteristic_nzs_4298([2.1, 2.4, 2.5, 2.7, 3.0]), 4)
    1.6831
    """
    if len(values_mpa) != NZS_SPECIMENS:
        refuse({"values_mpa": f"The rule is for exactly {NZS_SPECIMENS} readings."})
    spread = spread_of(values_mpa)
    return max((1 - NZS_SPREAD_FACTOR * spread.sd / spread.mean) * min(values_mpa), 0.0)


def _check_count(n: int, *, v_known: bool) -> None:
    least = 1 if v_known else 2
    if n < least:
        refuse({"n": f"At least {least} readings are needed."})
