"""Readings of a 152H hydrometer -> sizes and shares by Stokes' law, joined to the curve of the sieves."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from service.errors import Invalid
from service.trade.soil.grading import Curve, Passing
from service.trade.validation import refuse, require
from service.trade.water_properties import water_density_g_cm3, water_viscosity_mpa_s

GRAVITY_M_S2 = 9.80665

# The scale of a 152H reads g of soil of this specific gravity in a litre.
SCALE_SPECIFIC_GRAVITY = 2.65
SCALE_TOP = 50

# A share a little above 1 is a reading's scatter; more is a wrong mass or a wrong blank.
MOST_SHARE = 1.05
SCALE_LEAST, SCALE_MOST = -5, 60


@dataclass(frozen=True)
class Dimensions:
    """Of the hydrometer and its cylinder; the depths are from the top of the bulb to the marks 0 and 50."""

    depth_at_0_mm: float = 105.0
    depth_at_50_mm: float = 23.0
    bulb_length_mm: float = 140.0
    bulb_volume_ml: float = 67.0
    cylinder_area_cm2: float = 27.8


@dataclass(frozen=True)
class Blank:
    """A reading in water with dispersant but no soil."""

    reading: float
    temperature_c: float


@dataclass(frozen=True)
class Reading:
    """A reading in the suspension, read where the blank was read."""

    minutes: float
    reading: float
    temperature_c: float


@dataclass(frozen=True)
class Settled:
    """What one reading says: the share of the specimen finer than a size."""

    minutes: float
    size_mm: float
    share: float


@dataclass(frozen=True)
class Joined:
    """One curve of sieves and hydrometer; points left out overlapped the sieves, capped ones lay above them."""

    curve: Curve
    left_out: int
    capped: bool


def effective_depth_mm(*, reading: float, dimensions: Dimensions) -> float:
    """Return how deep below the surface a hydrometer measures.

    Parameters
    ----------
    reading : float
        Reading corrected for the meniscus, in g/l; -5 to 60.
    dimensions : Dimensions
        Of hydrometer and cylinder, each above 0, the mark 50 nearer to the bulb than 0.

    Returns
    -------
    float
        Depth in mm to the middle of the bulb, less half of what the bulb lifts the surface; unrounded.

    Raises
    ------
    Invalid
        If the reading is off the scale or a dimension is out of range.

    Source
    ------
    d7928 : effective depth.

    Examples
    --------
    105 + (140 - 67 / 27.8 x 10) / 2 for a reading of 0:

    >>> round(effective_depth_mm(reading=0, dimensions=Dimensions()), 2)
    162.95
    """
    _check_dimensions(dimensions)
    if not SCALE_LEAST <= reading <= SCALE_MOST:
        refuse({"reading": f"This must be from {SCALE_LEAST} to {SCALE_MOST}."})
    per_unit = (dimensions.depth_at_50_mm - dimensions.depth_at_0_mm) / SCALE_TOP
    lifted_mm = dimensions.bulb_volume_ml / dimensions.cylinder_area_cm2 * 10
    return dimensions.depth_at_0_mm + per_unit * reading + (dimensions.bulb_length_mm - lifted_mm) / 2


def stokes_size_mm(*, depth_mm: float, minutes: float, temperature_c: float, specific_gravity: float) -> float:
    """Return the size of the spheres that have just fallen through a depth.

    Parameters
    ----------
    depth_mm : float
        In mm; above 0.
    minutes : float
        Since the suspension came to rest; above 0.
    temperature_c : float
        Of the suspension; 5 to 40.
    specific_gravity : float
        Of the soil's particles; above 1.

    Returns
    -------
    float
        Diameter in mm, unrounded.

    Raises
    ------
    Invalid
        If a number is out of range.

    Source
    ------
    d7928 : Stokes' law, D = sqrt(18 viscosity depth / (density g (Gs - 1) time)).

    Examples
    --------
    100 mm in 60 minutes at 20 C:

    >>> round(stokes_size_mm(depth_mm=100, minutes=60, temperature_c=20, specific_gravity=2.65), 5)
    0.00557
    """
    require(positive={"depth_mm": depth_mm, "minutes": minutes})
    _check_gravity(specific_gravity)
    viscosity_pa_s = water_viscosity_mpa_s(temperature_c=temperature_c) / 1000
    lighter_kg_m3 = 1000 * water_density_g_cm3(temperature_c=temperature_c) * (specific_gravity - 1)
    speed_m_s = depth_mm / 1000 / (60 * minutes)
    return 1000 * math.sqrt(18 * viscosity_pa_s * speed_m_s / (lighter_kg_m3 * GRAVITY_M_S2))


def share_in_suspension(
    *, above_blank: float, dry_mass_g: float, specific_gravity: float, volume_ml: float = 1000.0
) -> float:
    """Return the share of a specimen still in suspension at the depth of the hydrometer.

    Parameters
    ----------
    above_blank : float
        Reading less the blank at the same temperature, in g/l; 0 or more.
    dry_mass_g : float
        Dry soil in the cylinder, in g; above 0.
    specific_gravity : float
        Of the soil's particles; above 1.
    volume_ml : float
        Of the suspension, in ml; above 0.

    Returns
    -------
    float
        Share of the dry specimen, unrounded.

    Raises
    ------
    Invalid
        If a number is out of range.

    Source
    ------
    d7928 : mass finer, 152H: 0.6226 Gs / (Gs - 1), which is 1 at 2.65.

    Examples
    --------
    >>> share_in_suspension(above_blank=25, dry_mass_g=50, specific_gravity=2.65)
    0.5
    """
    require(positive={"dry_mass_g": dry_mass_g, "volume_ml": volume_ml}, not_negative={"above_blank": above_blank})
    _check_gravity(specific_gravity)
    scale = SCALE_SPECIFIC_GRAVITY
    as_read = specific_gravity / (specific_gravity - 1) * (scale - 1) / scale
    return as_read * above_blank * (volume_ml / 1000) / dry_mass_g


def blank_at(blanks: Sequence[Blank], *, temperature_c: float) -> float:
    """Return what the hydrometer would read without soil at a temperature.

    Parameters
    ----------
    blanks : Sequence[Blank]
        One or more readings in water with dispersant; temperatures 5 to 40.
    temperature_c : float
        Wanted; 5 to 40.

    Returns
    -------
    float
        Mean of the blanks, each brought to that temperature by the density of water; g/l, unrounded.

    Raises
    ------
    Invalid
        If there is no blank or a temperature is out of range (field ``blanks.0.temperature_c``).

    Source
    ------
    d7928 : offset readings follow the density of water.

    Examples
    --------
    >>> blank_at([Blank(4.0, 20), Blank(5.0, 20)], temperature_c=20)
    4.5
    """
    if not blanks:
        refuse({"blanks": "At least one reading without soil is needed."})
    # 1 g/cm3 more of density is this many g/l on the scale.
    per_density = 1000 * SCALE_SPECIFIC_GRAVITY / (SCALE_SPECIFIC_GRAVITY - 1)
    wanted = water_density_g_cm3(temperature_c=temperature_c)
    brought = [
        blank.reading + per_density * (wanted - _under(f"blanks.{place}", blank.temperature_c))
        for place, blank in enumerate(blanks)
    ]
    return math.fsum(brought) / len(brought)


def settling(
    readings: Sequence[Reading],
    *,
    blanks: Sequence[Blank],
    dry_mass_g: float,
    specific_gravity: float,
    meniscus: float = 0.0,
    volume_ml: float = 1000.0,
    dimensions: Dimensions | None = None,
) -> tuple[Settled, ...]:
    """Return the sizes and shares that the readings of one suspension say.

    Parameters
    ----------
    readings : Sequence[Reading]
        One or more, by rising time; minutes above 0, temperatures 5 to 40.
    blanks : Sequence[Blank]
        One or more, read where the suspension was read.
    dry_mass_g : float
        Dry soil in the cylinder, in g; above 0.
    specific_gravity : float
        Of the soil's particles; above 1.
    meniscus : float
        What is added to a reading at the top of the meniscus to get the one at its foot; 0 or more.
    volume_ml : float
        Of the suspension; above 0.
    dimensions : Dimensions or None
        Of hydrometer and cylinder; None for those of a usual 152H.

    Returns
    -------
    tuple[Settled, ...]
        One for each reading, shares of the specimen, unrounded; a share may pass 1 by up to 0.05.

    Raises
    ------
    Invalid
        If times do not rise, a reading lies below the blank, rises over the one before or gives more than was
        put in (field ``readings.1.reading``).

    Source
    ------
    d7928

    Examples
    --------
    >>> one = [Reading(minutes=60, reading=25, temperature_c=20)]
    >>> (found,) = settling(one, blanks=[Blank(5, 20)], dry_mass_g=50, specific_gravity=2.65)
    >>> round(found.size_mm, 5), found.share
    (0.00615, 0.4)
    """
    if not readings:
        refuse({"readings": "At least one reading is needed."})
    require(not_negative={"meniscus": meniscus})
    found: list[Settled] = []
    for place, reading in enumerate(readings):
        try:
            above = reading.reading - blank_at(blanks, temperature_c=reading.temperature_c)
            depth = effective_depth_mm(reading=reading.reading + meniscus, dimensions=dimensions or Dimensions())
            size = stokes_size_mm(
                depth_mm=depth,
                minutes=reading.minutes,
                temperature_c=reading.temperature_c,
                specific_gravity=specific_gravity,
            )
        except Invalid as fault:
            refuse(_placed(fault, place))
        if above < 0:
            refuse({f"readings.{place}.reading": "This is below the reading without soil."})
        share = share_in_suspension(
            above_blank=above, dry_mass_g=dry_mass_g, specific_gravity=specific_gravity, volume_ml=volume_ml
        )
        settled = Settled(reading.minutes, size, share)
        _check_order(place, settled, found[-1] if found else None)
        found.append(settled)
    return tuple(found)


def join(sieved: Curve, settled: Sequence[Settled], *, separation_mm: float) -> Joined:
    """Return one curve of what the sieves say and, below them, the hydrometer.

    Parameters
    ----------
    sieved : Curve
        The sieves' curve of the whole soil; must reach the separation.
    settled : Sequence[Settled]
        Shares of a specimen of what passed the separation.
    separation_mm : float
        Size in mm below which the specimen was taken; above 0.

    Returns
    -------
    Joined
        The sieves' points, and those of the hydrometer finer than the finest sieve, as shares of the whole soil;
        none above the finest sieve's share.

    Raises
    ------
    Invalid
        If the sieves' curve does not reach the separation (field ``passing``).

    Source
    ------
    d7928 : the specimen's shares times the share that passes the separating sieve.

    Examples
    --------
    >>> sieves = Curve((Passing(2.0, 0.8), Passing(0.075, 0.6)))
    >>> joined = join(sieves, [Settled(60, 0.006, 0.5)], separation_mm=2.0)
    >>> joined.curve.points[-1].share
    0.4
    """
    require(positive={"separation_mm": separation_mm})
    passing = sieved.share_at(separation_mm)
    if passing is None:
        refuse({"passing": f"The sieves do not reach {separation_mm:g} mm, where the specimen was separated."})
    finest = sieved.points[-1]
    below = [Passing(point.size_mm, point.share * passing) for point in settled if point.size_mm < finest.size_mm]
    capped = any(point.share > finest.share for point in below)
    points = (*sieved.points, *(Passing(point.size_mm, min(point.share, finest.share)) for point in below))
    return Joined(Curve(points), left_out=len(settled) - len(below), capped=capped)


def _placed(fault: Invalid, place: int) -> dict[str, str]:
    own = ("reading", "minutes", "temperature_c")
    return {f"readings.{place}.{key}" if key in own else key: text for key, text in fault.fields.items()}


def _check_order(place: int, settled: Settled, before: Settled | None) -> None:
    if settled.share > MOST_SHARE:
        refuse({f"readings.{place}.reading": "This is more soil than was put in; check the mass and the blank."})
    if before and settled.minutes <= before.minutes:
        refuse({f"readings.{place}.minutes": "This must be later than the reading before."})
    if before and settled.share > before.share + 1e-12:
        refuse({f"readings.{place}.reading": "This is more soil in suspension than before."})


def _check_gravity(specific_gravity: float) -> None:
    if not 1 < specific_gravity < math.inf:
        refuse({"specific_gravity": "This must be above 1."})


def _check_dimensions(dimensions: Dimensions) -> None:
    require(positive={f"hydrometer.{name}": value for name, value in vars(dimensions).items()})
    if dimensions.depth_at_50_mm >= dimensions.depth_at_0_mm:
        refuse({"hydrometer.depth_at_50_mm": "The mark 50 is nearer to the bulb than the mark 0."})


def _under(prefix: str, temperature_c: float) -> float:
    try:
        return water_density_g_cm3(temperature_c=temperature_c)
    except Invalid as fault:
        refuse(fault.under(prefix).fields)
