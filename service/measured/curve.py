"""A soil's curve from its tests: the sieving, joined to the hydrometer where there was one."""

from service.records.soil_tests import WholeTest
from service.trade.soil.grading import Sieve
from service.trade.soil.hydrometer import Blank, Reading
from service.trade.soil.joined_curve import Graded, Oversize, Sieving, Suspension, graded

ML_PER_L = 1000.0


def curve_of(sieved: WholeTest | None, settled: WholeTest | None, oversize: Oversize | None = None) -> Graded | None:
    """Return the joined curve, None without a sieving."""
    if sieved is None or sieved.sieve is None:
        return None
    head = sieved.sieve
    sieves = [Sieve(one.size_mm, one.retained_g) for one in sieved.sieves]
    return graded(
        Sieving(sieves, head.pan_g, head.dry_mass_g, head.washed_dry_mass_g),
        suspension=_suspension(settled) if settled is not None else None,
        oversize=oversize,
    )


def _suspension(whole: WholeTest) -> Suspension | None:
    head = whole.hydrometer
    if head is None:
        return None
    return Suspension(
        readings=[
            Reading(one.after_min, one.reading, one.temperature_c)
            for one in whole.suspended
            if one.after_min is not None
        ],
        blanks=[Blank(one.reading, one.temperature_c) for one in whole.suspended if one.after_min is None],
        dry_mass_g=head.dry_mass_g,
        specific_gravity=head.specific_gravity,
        separation_mm=head.separation_mm,
        meniscus=head.meniscus,
        volume_ml=ML_PER_L * head.volume_l,
    )
