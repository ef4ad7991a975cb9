"""Sieves, hydrometer and what was taken off before -> the curve of the soil as prepared, and of the soil as dug."""

from collections.abc import Sequence
from dataclasses import dataclass

from service.errors import Invalid
from service.trade.soil.grading import Curve, Passing, Sieve, sieve_curve
from service.trade.soil.hydrometer import Blank, Joined, Reading, join, settling
from service.trade.validation import refuse, require


@dataclass(frozen=True)
class Sieving:
    """The readings of one sieving."""

    sieves: Sequence[Sieve]
    pan_g: float
    dry_mass_g: float
    washed_dry_mass_g: float | None


@dataclass(frozen=True)
class Suspension:
    """The readings of one hydrometer test."""

    readings: Sequence[Reading]
    blanks: Sequence[Blank]
    dry_mass_g: float
    specific_gravity: float
    separation_mm: float
    meniscus: float
    volume_ml: float


@dataclass(frozen=True)
class Oversize:
    """What was taken off before: everything coarser than a size, and its share of the soil as dug."""

    size_mm: float
    share: float


@dataclass(frozen=True)
class Graded:
    """The curve of the soil as prepared, that of the soil as dug if something was taken off, and the remarks."""

    curve: Curve
    as_dug: Curve | None
    loss_share: float
    washed: bool
    by_hydrometer: tuple[Passing, ...]
    remarks: tuple[str, ...]


def graded(sieving: Sieving, *, suspension: Suspension | None = None, oversize: Oversize | None = None) -> Graded:
    """Return the one curve of a soil from everything that was read of its grains.

    Parameters
    ----------
    sieving : Sieving
        Of the soil as prepared, as in `sieve_curve`.
    suspension : Suspension or None
        As in `settling`; None when no hydrometer was read.
    oversize : Oversize or None
        Taken off before the sieving; size in mm above 0, share from 0 to below 1. None when nothing was.

    Returns
    -------
    Graded
        The sieves' points with the hydrometer's below them; the curve of the soil as dug, which ends at the size
        taken off; shares unrounded.

    Raises
    ------
    Invalid
        As `sieve_curve` and `settling` do, or if the oversize is out of range.

    Source
    ------
    d6913, d7928, mass-balance

    Examples
    --------
    Half of what was sieved passes 1 mm; a fifth of the soil as dug was taken off at 6 mm, so 40 % of it does:

    >>> done = graded(Sieving([Sieve(1.0, 50)], 50, 100, None), oversize=Oversize(6.0, 0.2))
    >>> done.curve.points[0].share, done.as_dug.points[-1].share
    (0.5, 0.4)
    """
    sieved = sieve_curve(
        sieves=sieving.sieves,
        pan_g=sieving.pan_g,
        dry_mass_g=sieving.dry_mass_g,
        washed_dry_mass_g=sieving.washed_dry_mass_g,
    )
    remarks: list[str] = []
    joined = _joined(sieved.curve, suspension, remarks) if suspension else None
    curve = joined.curve if joined else sieved.curve
    return Graded(
        curve=curve,
        as_dug=_as_dug(curve, oversize) if oversize else None,
        loss_share=sieved.loss_share,
        washed=sieving.washed_dry_mass_g is not None,
        by_hydrometer=curve.points[len(sieved.curve.points) :],
        remarks=tuple(remarks),
    )


def _joined(sieved: Curve, suspension: Suspension, remarks: list[str]) -> Joined | None:
    settled = settling(
        suspension.readings,
        blanks=suspension.blanks,
        dry_mass_g=suspension.dry_mass_g,
        specific_gravity=suspension.specific_gravity,
        meniscus=suspension.meniscus,
        volume_ml=suspension.volume_ml,
    )
    try:
        joined = join(sieved, settled, separation_mm=suspension.separation_mm)
    except Invalid as fault:
        remarks.append(f"The hydrometer is not joined to the sieves. {fault.fields['passing']}")
        return None
    if joined.left_out:
        remarks.append(f"{joined.left_out} of the hydrometer's readings overlap the sieves; there the sieves count.")
    if joined.capped:
        remarks.append(
            "The hydrometer found more than the finest sieve let through; the curve is held to the sieve. Look again."
        )
    return joined


def _as_dug(curve: Curve, oversize: Oversize) -> Curve:
    require(positive={"oversize_mm": oversize.size_mm}, not_negative={"oversize_share": oversize.share})
    if oversize.share >= 1:
        refuse({"oversize_share": "Nothing would be left of the soil."})
    left = 1 - oversize.share
    below = [Passing(one.size_mm, one.share * left) for one in curve.points if one.size_mm < oversize.size_mm]
    return Curve((Passing(oversize.size_mm, left), *below))
