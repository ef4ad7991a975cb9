"""Sieve readings -> one curve of shares passing, and the figures that describe it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from service.trade.validation import refuse, require

GRAVEL_ABOVE_MM = 4.75
FINES_BELOW_MM = 0.075


@dataclass(frozen=True)
class Sieve:
    """What one sieve kept, dry."""

    size_mm: float
    retained_g: float


@dataclass(frozen=True)
class Passing:
    """One point of a curve: the share of the soil finer than a size."""

    size_mm: float
    share: float


@dataclass(frozen=True)
class Curve:
    """A grading curve, coarse to fine."""

    points: tuple[Passing, ...]

    def share_at(self, size_mm: float) -> float | None:
        """Return the share finer than a size: straight in log size; None outside the curve.

        Above its coarsest size the curve is 1 if it ends at 1.
        """
        coarsest = self.points[0]
        if size_mm > coarsest.size_mm:
            return 1.0 if coarsest.share == 1 else None
        for point in self.points:
            if point.size_mm == size_mm:
                return point.share
        for coarse, fine in zip(self.points, self.points[1:], strict=False):
            if fine.size_mm < size_mm < coarse.size_mm:
                way = math.log(size_mm / fine.size_mm) / math.log(coarse.size_mm / fine.size_mm)
                return fine.share + way * (coarse.share - fine.share)
        return None

    def size_at(self, share: float) -> float | None:
        """Return the size with this share finer, at the coarsest crossing; None where the curve does not reach."""
        if self.points[0].share == share:
            return self.points[0].size_mm
        for coarse, fine in zip(self.points, self.points[1:], strict=False):
            if fine.share == share:
                return fine.size_mm
            if fine.share < share < coarse.share:
                way = (share - fine.share) / (coarse.share - fine.share)
                return fine.size_mm * math.exp(way * math.log(coarse.size_mm / fine.size_mm))
        return None


@dataclass(frozen=True)
class SieveAnalysis:
    """A curve from sieves, and the share of the sieved mass that got lost on the way."""

    curve: Curve
    loss_share: float


@dataclass(frozen=True)
class Description:
    """What is read off a curve; None where the curve does not reach."""

    d10_mm: float | None
    d30_mm: float | None
    d60_mm: float | None
    cu: float | None
    cc: float | None
    gravel_share: float | None
    sand_share: float | None
    fines_share: float | None


def curve_of(points: Sequence[Passing]) -> Curve:
    """Return the curve through shares passing, in whatever order they were given.

    Parameters
    ----------
    points : Sequence[Passing]
        One or more; sizes in mm above 0, shares from 0 to 1.

    Returns
    -------
    Curve
        The points, coarse to fine.

    Raises
    ------
    Invalid
        If a size stands twice (field ``passing.1.size_mm``), a share is out of range or rises as size falls
        (field ``passing.1.share``).

    Source
    ------
    d6913

    Examples
    --------
    >>> curve_of([Passing(0.075, 0.2), Passing(4.75, 1.0)]).points[0].size_mm
    4.75
    """
    if not points:
        refuse({"passing": "At least one size is needed."})
    require(
        positive={f"passing.{index}.size_mm": point.size_mm for index, point in enumerate(points)},
        not_negative={f"passing.{index}.share": point.share for index, point in enumerate(points)},
    )
    _refuse_size_twice("passing", [point.size_mm for point in points])
    order = sorted(range(len(points)), key=lambda index: -points[index].size_mm)
    ceiling = 1.0
    for index in order:
        if points[index].share > ceiling:
            what = "rises as the size falls" if index != order[0] else "is above 1"
            refuse({f"passing.{index}.share": f"This share {what}."})
        ceiling = points[index].share
    return Curve(tuple(points[index] for index in order))


def sieve_curve(
    *, sieves: Sequence[Sieve], pan_g: float, dry_mass_g: float, washed_dry_mass_g: float | None = None
) -> SieveAnalysis:
    """Return the curve and the loss of a sieving.

    Parameters
    ----------
    sieves : Sequence[Sieve]
        One or more, in any order; sizes in mm above 0, masses kept in g, 0 or more.
    pan_g : float
        Mass in the pan, in g; 0 or more.
    dry_mass_g : float
        Dry mass before washing, in g; above 0.
    washed_dry_mass_g : float or None
        Dry mass left after washing over the finest sieve, in g; at most `dry_mass_g`. None when not washed.

    Returns
    -------
    SieveAnalysis
        Shares passing of what is accounted for (kept, pan and washed out), and the loss as a share of the
        mass put on the sieves; unrounded. A negative loss is a gain.

    Raises
    ------
    Invalid
        If a number is out of range, a size stands twice, more is left after washing than was there, or
        nothing is accounted for.

    Source
    ------
    d6913

    Examples
    --------
    100 g, of which 20 g are washed out, 50 g stay on 1 mm and 30 g reach the pan:

    >>> done = sieve_curve(sieves=[Sieve(1.0, 50)], pan_g=30, dry_mass_g=100, washed_dry_mass_g=80)
    >>> done.curve.points[0].share, done.loss_share
    (0.5, 0.0)
    """
    if not sieves:
        refuse({"sieves": "At least one sieve is needed."})
    put_on = dry_mass_g if washed_dry_mass_g is None else washed_dry_mass_g
    require(
        positive={"dry_mass_g": dry_mass_g} | {f"sieves.{i}.size_mm": sieve.size_mm for i, sieve in enumerate(sieves)},
        not_negative={"pan_g": pan_g, "washed_dry_mass_g": put_on}
        | {f"sieves.{i}.retained_g": sieve.retained_g for i, sieve in enumerate(sieves)},
    )
    _refuse_size_twice("sieves", [sieve.size_mm for sieve in sieves])
    if put_on > dry_mass_g:
        refuse({"washed_dry_mass_g": "Washing cannot add mass: at most the dry mass before it."})
    kept = sum((_exact(sieve.retained_g) for sieve in sieves), Fraction(0))
    accounted = kept + _exact(pan_g) + _exact(dry_mass_g) - _exact(put_on)
    if accounted == 0:
        refuse({"sieves": "Nothing was kept, washed out or found in the pan."})
    return SieveAnalysis(
        curve=_curve_below(sieves, accounted),
        loss_share=_loss(put_on=_exact(put_on), found=kept + _exact(pan_g)),
    )


def describe(curve: Curve) -> Description:
    """Return the sizes, coefficients and fractions that describe a curve.

    Parameters
    ----------
    curve : Curve
        A grading curve.

    Returns
    -------
    Description
        D10, D30 and D60 in mm, straight in log size at the coarsest crossing; Cu and Cc; shares above 4.75 mm,
        between, and below 0.075 mm. None where the curve does not reach; unrounded.

    Source
    ------
    d2487 : Cu, Cc and the bounds of gravel, sand and fines.

    Examples
    --------
    A straight line in log size from 10 mm to 0.01 mm, two thirds of the way up at 1 mm:

    >>> read = describe(curve_of([Passing(10, 1.0), Passing(0.01, 0.0)]))
    >>> round(read.d10_mm, 6), round(read.cu, 6)
    (0.019953, 31.622777)
    """
    d10, d30, d60 = (curve.size_at(share) for share in (0.1, 0.3, 0.6))
    above, fines = curve.share_at(GRAVEL_ABOVE_MM), curve.share_at(FINES_BELOW_MM)
    return Description(
        d10_mm=d10,
        d30_mm=d30,
        d60_mm=d60,
        cu=d60 / d10 if d10 and d60 else None,
        cc=d30**2 / (d10 * d60) if d10 and d30 and d60 else None,
        gravel_share=None if above is None else 1 - above,
        sand_share=None if above is None or fines is None else above - fines,
        fines_share=fines,
    )


def _exact(number: float) -> Fraction:
    # A share that is six tenths on paper must come out as 0.6, or a flat curve is crossed at its wrong end.
    return Fraction(repr(float(number)))


def _curve_below(sieves: Sequence[Sieve], accounted: Fraction) -> Curve:
    left = accounted
    points = []
    for sieve in sorted(sieves, key=lambda sieve: -sieve.size_mm):
        left -= _exact(sieve.retained_g)
        points.append(Passing(sieve.size_mm, float(left / accounted)))
    return Curve(tuple(points))


def _loss(*, put_on: Fraction, found: Fraction) -> float:
    if put_on == 0:
        if found:
            refuse({"washed_dry_mass_g": "Nothing was left after washing, yet something was sieved."})
        return 0.0
    return float((put_on - found) / put_on)


def _refuse_size_twice(field: str, sizes: Sequence[float]) -> None:
    seen: set[float] = set()
    faults = {}
    for index, size in enumerate(sizes):
        if size in seen:
            faults[f"{field}.{index}.size_mm"] = "This size is given twice."
        seen.add(size)
    if faults:
        refuse(faults)
