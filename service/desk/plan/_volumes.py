"""Parts by volume on their way into a recipe: through what was weighed of each material, or what somebody says."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from sqlmodel import Session

from service.desk.plan._checks import ComponentGiven, StabiliserGiven
from service.errors import Invalid
from service.records import sack_stock, soil_tests
from service.records.jobs import Job
from service.records.materials import Material
from service.records.recipes import PartVolume
from service.records.sack_stock import SackInHand
from service.trade.mix.volume_parts import VolumePart, shares_by_volume
from service.trade.soil.moisture import Can, moisture_of_cans
from service.typed import Typed

KG_M3_OF_KG_L = 1000.0
# A litre of what blocks are made of weighs more than foam and less than solid rock.
LEAST_KG_M3, MOST_KG_M3 = 200.0, 3000.0


@dataclass(frozen=True)
class VolumeGiven:
    """So many parts of a material; a density that nobody measured here says from where it was taken."""

    material_id: UUID
    parts: Typed
    taken_kg_m3: Typed | None = None
    taken_from: str = ""


@dataclass(frozen=True)
class VolumesGiven:
    """A recipe in parts by volume."""

    components: tuple[VolumeGiven, ...]
    stabilisers: tuple[VolumeGiven, ...]


@dataclass(frozen=True)
class Weighed:
    """Parts of a material and how heavily it lies: damp with its water, or dry."""

    material_id: UUID
    parts: float
    density_kg_m3: float
    damp: bool
    moisture: float | None
    taken_from: str | None
    read: dict[str, dict[str, str]]

    def row(self, recipe_part_id: UUID) -> PartVolume:
        """Return it as it is kept beside the share."""
        return PartVolume(
            recipe_part_id=recipe_part_id,
            density_kg_m3=self.density_kg_m3,
            damp=self.damp,
            moisture=self.moisture,
            taken_from=self.taken_from,
            as_read=self.read,
        )

    @property
    def part(self) -> VolumePart:
        """Return it as the arithmetic takes it."""
        return VolumePart(str(self.material_id), self.parts, self.density_kg_m3 / KG_M3_OF_KG_L, self.moisture or 0.0)


def weighed_parts(
    session: Session, job: Job, given: VolumesGiven, materials: Mapping[UUID, Material]
) -> dict[UUID, Weighed]:
    """Return every part with how heavily its material lies, newest measurement first; refuse what nobody weighed."""
    asked = [(f"components.{index}", one, True) for index, one in enumerate(given.components)]
    asked += [(f"stabilisers.{index}", one, False) for index, one in enumerate(given.stabilisers)]
    known = soil_tests.bulk_densities(session, material_ids=[one.material_id for _, one, _ in asked])
    in_hand = sack_stock.sacks_in_hand(session, job.id)
    found: dict[UUID, Weighed] = {}
    faults: dict[str, str] = {}
    for place, one, damp_counts in asked:
        material = materials.get(one.material_id)
        told = _faults(one, material, twice=one.material_id in found)
        if not told and material is not None:
            densities = {row.damp: row.kg_l for row in known if row.material_id == one.material_id}
            water = _moisture(in_hand, one.material_id) if damp_counts else 0.0
            weighed = _weighed(one, densities, water)
            if isinstance(weighed, Weighed):
                found[one.material_id] = weighed
            else:
                told = {"parts": weighed.format(name=material.name)}
        faults |= {f"{place}.{field}": sentence for field, sentence in told.items()}
    if faults:
        only = next(iter(faults.values()))
        raise Invalid(only if len(faults) == 1 else "Check the marked fields.", faults)
    return found


def _faults(one: VolumeGiven, material: Material | None, *, twice: bool) -> dict[str, str]:
    if material is None:
        return {"material_id": "Choose one from the list."}
    if twice:
        return {"material_id": "This is in the recipe already."}
    told = {} if one.parts.value > 0 else {"parts": "This must be above 0."}
    if one.taken_kg_m3 is not None:
        if not LEAST_KG_M3 <= one.taken_kg_m3.value <= MOST_KG_M3:
            told["taken_kg_m3"] = "No soil or powder weighs this. Check the unit."
        if not one.taken_from.strip():
            told["taken_from"] = "Say where this figure is from; it was not measured here."
    return told


def _weighed(one: VolumeGiven, densities: Mapping[bool, float], water: float | None) -> Weighed | str:
    """Return how heavily it lies, or the sentence that says what is missing."""
    if one.taken_kg_m3 is not None:
        read = {"density_kg_m3": one.taken_kg_m3.as_read()}
        return Weighed(
            one.material_id, one.parts.value, one.taken_kg_m3.value, False, None, one.taken_from.strip(), read
        )
    if True in densities and water is not None:
        return Weighed(one.material_id, one.parts.value, KG_M3_OF_KG_L * densities[True], True, water, None, {})
    if False in densities:
        return Weighed(one.material_id, one.parts.value, KG_M3_OF_KG_L * densities[False], False, None, None, {})
    if True in densities:
        return "Weigh a moisture can of {name}: its bulk density was measured damp."
    return "Weigh a full bucket of {name} first, or enter a figure and its source."


def _moisture(in_hand: Sequence[SackInHand], material_id: UUID) -> float | None:
    mine = [one for one in in_hand if one.material.id == material_id]
    cans = [Can(wet_kg=can.wet_kg, dry_kg=can.dry_kg, can_kg=can.can_kg) for sack in mine for can in sack.cans]
    return moisture_of_cans(cans).moisture if cans else None


def as_shares(
    given: VolumesGiven, weighed: Mapping[UUID, Weighed]
) -> tuple[tuple[ComponentGiven, ...], tuple[StabiliserGiven, ...]]:
    """Return the recipe in shares: components of the blend, stabilisers of the dry soil."""
    shares = shares_by_volume(
        components=[weighed[one.material_id].part for one in given.components],
        stabilisers=[weighed[one.material_id].part for one in given.stabilisers],
    )
    return (
        tuple(ComponentGiven(UUID(name), _share(share)) for name, share in shares.components.items()),
        tuple(StabiliserGiven(UUID(name), _share(share), "dry soil") for name, share in shares.stabilisers.items()),
    )


def _share(value: float) -> Typed:
    return Typed(value, repr(value), "of 1")
