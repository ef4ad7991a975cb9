"""A customer's soils side by side: what each is, as far as it was tested, so that one pit can be chosen."""

from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, look
from service.desk.intake._judging import ClassLine, Judged, bands_of, classed, grade, judged, measured, signs_of
from service.desk.intake.soil import SIGN_KINDS, _place, _plasticity, _shrinkage
from service.errors import NotFound
from service.records import criteria, materials, soil_tests
from service.records import customers as customer_records
from service.records.criteria import OwnBand
from service.records.materials import Material, SackOfMaterial
from service.records.soil_tests import WholeTest
from service.trade.soil.plasticity import Limits
from service.trade.soil.suitability import Measure

# More columns than this nobody compares; the newest soils come first.
SIDE_BY_SIDE = 8


@dataclass(frozen=True)
class SoilBeside:
    """One soil: where it was dug, for which jobs it came, and what its tests say."""

    id: UUID
    name: str
    pits: tuple[str, ...]
    depths_m: tuple[float, ...]
    jobs: tuple[tuple[UUID, int], ...]
    said: dict[Measure, float]
    limits: Limits | None
    non_plastic: bool
    soil_class: ClassLine
    judged: Judged
    signs: tuple[str, ...]


@dataclass(frozen=True)
class SoilsBeside:
    """A customer with the newest of their soils, out of all."""

    customer_id: UUID
    customer: str
    soils: list[SoilBeside]
    total: int


@look("soil.compare", by=STAFF)
def beside(session: Session, caller: Caller, *, customer_id: UUID) -> SoilsBeside:
    """Return a customer's soils side by side, in nine statements however many they are."""
    customer = customer_records.customer(session, customer_id)
    if customer is None:
        raise NotFound("There is no such customer.")
    soils, total = materials.soils_of_customer(session, customer_id, most=SIDE_BY_SIDE)
    ids = [one.id for one in soils]
    sacks = materials.sacks_of_materials(session, ids)
    tests = soil_tests.standing_tests(session, ids)
    own = criteria.own_bands(session)
    return SoilsBeside(
        customer.id,
        customer.name,
        [
            _beside(
                one,
                [sack for sack in sacks if sack.receipt.material_id == one.id],
                [test for test in tests if test.test.material_id == one.id],
                own,
            )
            for one in soils
        ],
        total,
    )


def _beside(
    soil: Material, sacks: Sequence[SackOfMaterial], tests: Sequence[WholeTest], own: Sequence[OwnBand]
) -> SoilBeside:
    newest = {_place(one): one for one in tests}
    found = grade(newest.get("sieve"), newest.get("hydrometer"), sacks)
    plasticity, shrinkage = _plasticity(newest), _shrinkage(newest.get("shrinkage"))
    signs = [*signs_of(tests), *(["organics"] if plasticity.organic else [])]
    index = plasticity.limits.plasticity_index if plasticity.limits else 0.0 if plasticity.non_plastic else None
    said = measured(found, shrinkage, index)
    return SoilBeside(
        soil.id,
        soil.name,
        tuple(dict.fromkeys(one.receipt.pit for one in sacks if one.receipt.pit)),
        tuple(sorted({one.receipt.depth_m for one in sacks if one.receipt.depth_m is not None})),
        tuple(dict.fromkeys((one.job.id, one.job.number) for one in sacks)),
        said,
        plasticity.limits,
        plasticity.non_plastic,
        classed(
            found,
            plasticity.limits,
            non_plastic=plasticity.non_plastic,
            oven_dried_limit=plasticity.oven_dried_limit,
        ),
        judged(said, signs, bands_of(own), None, None),  # type: ignore[arg-type]
        tuple(one.sign.sign for one in tests if one.test.kind in SIGN_KINDS and one.sign and one.sign.positive),
    )
