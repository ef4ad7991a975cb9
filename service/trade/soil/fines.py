"""What the fines of a soil are by their limits: clay, silt or both, high or low, organic or not."""

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from service.trade.soil.plasticity import a_line, u_line
from service.trade.validation import refuse, require

Kind = Literal["C", "M", "CM"]


@dataclass(frozen=True)
class Fines:
    """The fines of ASTM D2487: ``kind`` is clay, silt or silty clay, ``high`` a liquid limit of 50 or more."""

    kind: Kind
    high: bool
    organic: bool
    steps: tuple[str, ...]

    @property
    def word(self) -> str:
        """The fines in a word."""
        return {"C": "clay", "M": "silt", "CM": "silty clay"}[self.kind]


def whole_percent(share: float) -> int:
    """Return a share in whole percent, half up.

    Parameters
    ----------
    share : float
        Any finite share; its shortest decimal text is what is rounded.

    Returns
    -------
    int
        Whole percent.

    Source
    ------
    d2487-names : limits are taken to the nearest whole percent.

    Examples
    --------
    0.285 is 28.5 %, although 100 times its binary value is a little less:

    >>> whole_percent(0.285)
    29
    """
    return math.floor(Fraction(repr(float(share))) * 100 + Fraction(1, 2))


def fines_of(
    *,
    liquid_limit: float | None,
    plastic_limit: float | None,
    liquid_limit_oven_dried: float | None = None,
    non_plastic: bool = False,
) -> Fines:
    """Return what the fines are, by the A-line, the index and the limit after oven drying.

    Parameters
    ----------
    liquid_limit : float or None
        Water over dry mass, above 0; may be None when non-plastic.
    plastic_limit : float or None
        Likewise; None when non-plastic.
    liquid_limit_oven_dried : float or None
        Liquid limit after drying in the oven, above 0; None when not measured.
    non_plastic : bool
        True when no thread could be rolled.

    Returns
    -------
    Fines
        Decided on limits in whole percent, with a sentence for each decision.

    Raises
    ------
    Invalid
        If a limit is missing or not above 0, or a plastic limit stands beside `non_plastic`.

    Source
    ------
    d2487-names : section 12, A-line 0.73 (LL - 20), on the line counts as above; organic below 75 %.

    Examples
    --------
    LL 61, PL 31: the index 30 lies above 0.73 x 41 = 29.93:

    >>> fines = fines_of(liquid_limit=0.61, plastic_limit=0.31)
    >>> fines.kind, fines.high
    ('C', True)
    """
    _check(liquid_limit, plastic_limit, liquid_limit_oven_dried, non_plastic=non_plastic)
    liquid = None if liquid_limit is None else whole_percent(liquid_limit)
    organic, drying = _organic(liquid, liquid_limit_oven_dried)
    high = liquid is not None and liquid >= 50
    kind: Kind
    if liquid is None or plastic_limit is None:
        kind, words = "M", ["No thread can be rolled: the fines are non-plastic, a silt."]
    elif plastic_limit > (liquid_limit or 0):
        kind, words = "M", ["The plastic limit is above the liquid limit: the fines are non-plastic, a silt."]
    else:
        kind, words = _by_index(liquid, liquid - whole_percent(plastic_limit))
    return Fines(kind, high, organic, (*words, drying))


def organic_by_drying(*, liquid_limit: float, liquid_limit_oven_dried: float) -> bool:
    """Return whether fines lose so much of their liquid limit in the oven that they are organic.

    Parameters
    ----------
    liquid_limit, liquid_limit_oven_dried : float
        Water over dry mass, before and after drying in the oven, each above 0.

    Returns
    -------
    bool
        True below 75 % of the limit before, both in whole percent.

    Raises
    ------
    Invalid
        If a limit is not above 0.

    Source
    ------
    d2487-names : section 12, organic below 75 %.

    Examples
    --------
    29 of 40 is 0.725, 30 of 40 is 0.75 exactly:

    >>> organic_by_drying(liquid_limit=0.40, liquid_limit_oven_dried=0.29)
    True
    >>> organic_by_drying(liquid_limit=0.40, liquid_limit_oven_dried=0.30)
    False
    """
    require(positive={"liquid_limit": liquid_limit, "liquid_limit_oven_dried": liquid_limit_oven_dried})
    return _organic(whole_percent(liquid_limit), liquid_limit_oven_dried)[0]


def _check(
    liquid_limit: float | None, plastic_limit: float | None, oven_dried: float | None, *, non_plastic: bool
) -> None:
    limits = {"liquid_limit": liquid_limit, "plastic_limit": plastic_limit, "liquid_limit_oven_dried": oven_dried}
    if non_plastic and plastic_limit is not None:
        refuse({"plastic_limit": "A soil without a thread has no plastic limit."})
    needed = () if non_plastic else ("liquid_limit", "plastic_limit")
    missing = [name for name in needed if limits[name] is None]
    if missing:
        refuse(dict.fromkeys(missing, "This is required when fines are 5 % or more."))
    if oven_dried is not None and liquid_limit is None:
        refuse({"liquid_limit": "This is required with the limit after oven drying."})
    require(positive={name: limit for name, limit in limits.items() if limit is not None})


def _organic(liquid: int | None, oven_dried: float | None) -> tuple[bool, str]:
    if liquid is None or oven_dried is None:
        return False, "The liquid limit after oven drying was not measured: the fines are taken as inorganic."
    dried = whole_percent(oven_dried)
    organic = 100 * dried < 75 * liquid
    words = f"After oven drying the liquid limit is {dried}, before it {liquid}: "
    return organic, words + ("below 75 % of it, organic." if organic else "at least 75 % of it, inorganic.")


def _by_index(liquid: int, index: int) -> tuple[Kind, list[str]]:
    point = f"Liquid limit {liquid}, plasticity index {index}, A-line {100 * float(a_line(Fraction(liquid, 100))):.4g}"
    words = []
    limit, at = Fraction(liquid, 100), Fraction(index, 100)
    if at > u_line(limit):
        words.append(f"{point}: the point is above the U-line 0.9 (LL - 8); check the limits.")
    if index < 4:
        return "M", [*words, f"{point}: an index below 4, a silt."]
    if at < a_line(limit):
        return "M", [*words, f"{point}: below the A-line, a silt."]
    if index <= 7:
        return "CM", [*words, f"{point}: on or above the A-line with an index of 4 to 7, a silty clay."]
    return "C", [*words, f"{point}: on or above the A-line with an index above 7, a clay."]
