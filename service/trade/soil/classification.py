"""A grading curve and the limits of its fines -> group symbol and name by ASTM D2487, every decision in words."""

import math
from dataclasses import dataclass
from fractions import Fraction

from service.trade.soil.fines import Fines, fines_of
from service.trade.soil.grading import FINES_BELOW_MM, GRAVEL_ABOVE_MM, Curve, Passing, describe
from service.trade.validation import refuse, require

COBBLES_ABOVE_MM = 75
BOULDERS_ABOVE_MM = 300

# What is equal on paper may differ in the last binary digit after a subtraction or a division.
NOISE = 1e-9

# No particle is smaller: a curve that must be drawn on to here never gets to 10 %.
SMALLEST_MM = 1e-9

_COARSE = {"G": "gravel", "S": "sand"}
_LEAST_CU = {"G": 4, "S": 6}
_GRADED = {"W": "well-graded", "P": "poorly graded"}
_FINE_NAMES = {
    "CL": "lean clay",
    "CH": "fat clay",
    "ML": "silt",
    "MH": "elastic silt",
    "CL-ML": "silty clay",
}


@dataclass(frozen=True)
class Classification:
    """Group symbol, group name and the decisions that led there, in order."""

    symbol: str
    name: str
    steps: tuple[str, ...]


@dataclass(frozen=True)
class _Parts:
    gravel: float
    sand: float
    fines: float

    @property
    def coarse(self) -> float:
        return self.gravel + self.sand


def classify(
    curve: Curve,
    *,
    liquid_limit: float | None = None,
    plastic_limit: float | None = None,
    liquid_limit_oven_dried: float | None = None,
    non_plastic: bool = False,
) -> Classification:
    """Return the group symbol and name of a soil, with every decision as a sentence.

    Parameters
    ----------
    curve : Curve
        Shares passing; must give shares at 4.75 and 0.075 mm.
    liquid_limit : float or None
        Water over dry mass, above 0; may be missing when fines are under 5 %, or when non-plastic.
    plastic_limit : float or None
        Likewise; absent when non-plastic.
    liquid_limit_oven_dried : float or None
        Liquid limit after drying in the oven, above 0; None when not measured.
    non_plastic : bool
        True when no thread could be rolled.

    Returns
    -------
    Classification
        For the part below 75 mm; limits rounded to whole percent, half up; shares unrounded.

    Raises
    ------
    Invalid
        If the curve does not give the shares it must, a limit is missing or not above 0, or a plastic limit
        stands beside `non_plastic`.

    Source
    ------
    d2487-names : sections 11 to 13 and Table 1.

    Examples
    --------
    >>> curve = Curve((Passing(4.75, 1.0), Passing(0.075, 0.60)))
    >>> soil = classify(curve, liquid_limit=0.37, plastic_limit=0.17)
    >>> soil.symbol, soil.name
    ('CL', 'Sandy lean clay')
    """
    require(positive=_given(liquid_limit, plastic_limit, liquid_limit_oven_dried))
    below, bigger, steps = _below_cobbles(curve)
    parts = _parts(below)
    fines = None
    if parts.fines >= 0.05 - NOISE:
        fines = fines_of(
            liquid_limit=liquid_limit,
            plastic_limit=plastic_limit,
            liquid_limit_oven_dried=liquid_limit_oven_dried,
            non_plastic=non_plastic,
        )
    elif non_plastic and plastic_limit is not None:
        refuse({"plastic_limit": "A soil without a thread has no plastic limit."})
    if fines is not None and parts.fines >= 0.5 - NOISE:
        found = _fine_grained(parts, fines)
    else:
        found = _coarse_grained(below, parts, fines)
    name = _with(found.name, [bigger] if bigger else [])
    return Classification(found.symbol, name[0].upper() + name[1:], (*steps, *found.steps))


def _given(*limits: float | None) -> dict[str, float]:
    names = ("liquid_limit", "plastic_limit", "liquid_limit_oven_dried")
    return {name: limit for name, limit in zip(names, limits, strict=True) if limit is not None}


def _below_cobbles(curve: Curve) -> tuple[Curve, str, list[str]]:
    # The symbol is that of the part below 75 mm; what is bigger is only named.
    passing = curve.share_at(COBBLES_ABOVE_MM)
    if passing is None:
        return curve, "", ["The curve does not reach 75 mm; the whole is taken to be finer."]
    if passing >= 1 - NOISE:
        return curve, "", []
    if passing <= NOISE:
        refuse({"passing": "Nothing is finer than 75 mm, so there is no soil to classify."})
    points = [Passing(p.size_mm, p.share / passing) for p in curve.points if p.size_mm < COBBLES_ABOVE_MM]
    under_boulders = curve.share_at(BOULDERS_ABOVE_MM)
    boulders = under_boulders is not None and under_boulders < 1 - NOISE
    cobbles = under_boulders is None or under_boulders - passing > NOISE
    bigger = " and ".join(word for word, there in (("cobbles", cobbles), ("boulders", boulders)) if there)
    step = f"{_percent(1 - passing)} is coarser than 75 mm; it is left out and named as {bigger}."
    return Curve((Passing(COBBLES_ABOVE_MM, 1.0), *points)), bigger, [step]


def _parts(below: Curve) -> _Parts:
    finer_than_gravel, fines = below.share_at(GRAVEL_ABOVE_MM), below.share_at(FINES_BELOW_MM)
    if finer_than_gravel is None or fines is None:
        refuse({"passing": "The curve must give the shares finer than 4.75 mm and 0.075 mm."})
    return _Parts(gravel=1 - finer_than_gravel, sand=finer_than_gravel - fines, fines=fines)


def _fine_grained(parts: _Parts, fines: Fines) -> Classification:
    steps = [f"{_percent(parts.fines)} is finer than 0.075 mm, half or more: the soil is fine-grained.", *fines.steps]
    if fines.organic:
        symbol = "OH" if fines.high else "OL"
        base = "organic silt" if fines.kind == "M" else "organic clay"
        steps.append(f"Organic fines, liquid limit {'50 or more' if fines.high else 'below 50'}: {symbol}, {base}.")
    else:
        symbol = "CL-ML" if fines.kind == "CM" else f"{fines.kind}{'H' if fines.high else 'L'}"
        base = _FINE_NAMES[symbol]
        steps.append(f"The group is {symbol}, {base}.")
    name, words = _fine_name(base, parts)
    return Classification(symbol, name, (*steps, words))


def _fine_name(base: str, parts: _Parts) -> tuple[str, str]:
    kept = f"{_percent(parts.coarse)} is coarser than 0.075 mm"
    sandy = parts.sand >= parts.gravel - NOISE
    more, less = ("sand", "gravel") if sandy else ("gravel", "sand")
    if parts.coarse < 0.15 - NOISE:
        return base, f"{kept}, less than 15 %: nothing is added to the name."
    if parts.coarse < 0.30 - NOISE:
        return f"{base} with {more}", f'{kept}, 15 % or more but less than 30 %, mostly {more}: "with {more}".'
    front = "sandy" if sandy else "gravelly"
    other = parts.gravel if sandy else parts.sand
    words = f'{kept}, 30 % or more, mostly {more}: "{front}"'
    if other < 0.15 - NOISE:
        return f"{front} {base}", f"{words}; {less} is {_percent(other)}, less than 15 %: nothing more."
    return f"{front} {base} with {less}", f'{words}; {less} is {_percent(other)}, 15 % or more: "with {less}".'


def _coarse_grained(below: Curve, parts: _Parts, fines: Fines | None) -> Classification:
    gravelly = parts.gravel > parts.coarse / 2 + NOISE
    first, other = ("G", "sand") if gravelly else ("S", "gravel")
    steps = [
        f"{_percent(parts.fines)} is finer than 0.075 mm, less than half: the soil is coarse-grained.",
        f"Of the coarse part {_percent(parts.gravel / parts.coarse)} is coarser than 4.75 mm: "
        + ("more than half, a gravel." if gravelly else "half or less, a sand."),
    ]
    extra: list[str] = []
    if fines is None:
        symbol, name, words = _clean(below, parts, first)
    elif parts.fines <= 0.12 + NOISE:
        symbol, name, extra, words = _between(below, parts, first, fines)
    else:
        symbol, name, words = _dirty(parts, first, fines)
    steps += words
    share = parts.sand if gravelly else parts.gravel
    if share >= 0.15 - NOISE:
        extra.append(other)
        steps.append(f'{other.capitalize()} is {_percent(share)}, 15 % or more: "with {other}".')
    else:
        steps.append(f"{other.capitalize()} is {_percent(share)}, less than 15 %: not named.")
    if fines is not None and fines.organic:
        extra.append("organic fines")
        steps.append('The fines are organic: "with organic fines".')
    return Classification(symbol, _with(name, extra), tuple(steps))


def _clean(below: Curve, parts: _Parts, first: str) -> tuple[str, str, list[str]]:
    grade, words = _grade(below, first)
    symbol = f"{first}{grade}"
    name = f"{_GRADED[grade]} {_COARSE[first]}"
    return symbol, name, [f"Fines are {_percent(parts.fines)}, less than 5 %: grading decides.", words]


def _between(below: Curve, parts: _Parts, first: str, fines: Fines) -> tuple[str, str, list[str], list[str]]:
    grade, words = _grade(below, first)
    # Silty clay fines take the clay symbol, and only the name tells them apart.
    second = "M" if fines.kind == "M" else "C"
    symbol = f"{first}{grade}-{first}{second}"
    decision = f"Fines are {_percent(parts.fines)}, 5 to 12 %: grading and fines both decide, two symbols are given."
    steps = [decision, words, *fines.steps, f"Together: {symbol}, with {fines.word}."]
    return symbol, f"{_GRADED[grade]} {_COARSE[first]}", [fines.word], steps


def _dirty(parts: _Parts, first: str, fines: Fines) -> tuple[str, str, list[str]]:
    symbol = {"M": f"{first}M", "C": f"{first}C", "CM": f"{first}C-{first}M"}[fines.kind]
    adjective = {"M": "silty", "C": "clayey", "CM": "silty, clayey"}[fines.kind]
    name = f"{adjective} {_COARSE[first]}"
    decision = f"Fines are {_percent(parts.fines)}, more than 12 %: the fines decide."
    return symbol, name, [decision, *fines.steps, f"The group is {symbol}, {name}."]


def _grade(below: Curve, first: str) -> tuple[str, str]:
    least = _LEAST_CU[first]
    read = describe(below)
    d10, drawn_on = (read.d10_mm, "") if read.d10_mm else (_d10_drawn_on(below), " (the curve drawn on to D10)")
    if read.d60_mm is None or read.d30_mm is None:
        refuse({"passing": "The curve must reach up to 60 % passing."})
    if d10 is None:
        return "P", "The curve levels out above 10 %, so D10 cannot be read: poorly graded."
    cu, cc = read.d60_mm / d10, read.d30_mm**2 / (d10 * read.d60_mm)
    well = cu >= least - NOISE and 1 - NOISE <= cc <= 3 + NOISE
    return (
        "W" if well else "P",
        f"Cu is {cu:.3g} (at least {least} asked) and Cc {cc:.3g} (1 to 3 asked){drawn_on}: "
        f"{'well' if well else 'poorly'} graded.",
    )


def _d10_drawn_on(below: Curve) -> float | None:
    coarse, fine = below.points[-2:]
    if coarse.share <= fine.share:
        return None
    per_share = math.log(coarse.size_mm / fine.size_mm) / (coarse.share - fine.share)
    log_size = math.log(fine.size_mm) - (fine.share - 0.1) * per_share
    return math.exp(log_size) if log_size > math.log(SMALLEST_MM) else None


def _with(name: str, added: list[str]) -> str:
    # A name that already says "with" is carried on with "and".
    for word in added:
        name = f"{name} and {word}" if " with " in name else f"{name} with {word}"
    return name


def _percent(share: float) -> str:
    return f"{float(Fraction(repr(share)) * 100):.4g} %"
