"""A batch and its blocks as the pages at the mixer and the press show them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from math import fsum
from uuid import UUID

from service.desk.mixing._places import Place
from service.measured.crushed import name_of
from service.measured.density import densities
from service.records.batch_queries import NamedPart
from service.records.batches import Batch, TrialBlock
from service.records.blocks import Block, BlockHeight
from service.records.corrections import Correction, before_and_after
from service.records.presses import Mould
from service.records.recipes import Recipe
from service.records.soil_tests import MoistureCan
from service.trade.block.measurements import (
    block_volume_m3,
    densities_against_others,
    density_kg_m3,
    stands_out,
)
from service.trade.mix.batch import Achieved, Stabiliser, Weighed, achieved_mix, shares_on_both_bases
from service.trade.mix.soil_needed import charge_for_height_kg
from service.trade.soil.moisture import moisture_of_can


@dataclass(frozen=True)
class Scale:
    """The scale of a batch: the unit it shows, and its smallest step as it was typed."""

    unit: str
    step: str
    graduation_kg: float


@dataclass(frozen=True)
class PartLine:
    """One material to weigh: how much, out of what, and what was weighed."""

    id: UUID
    material: str
    kind: str
    role: str
    sack: str | None
    moisture: float
    planned_kg: float
    weighed_kg: float | None
    typed: Mapping[str, str]


@dataclass(frozen=True)
class ShareLine:
    """A share as planned and as achieved, on each basis that it has."""

    name: str
    basis: str
    planned: float
    achieved: float | None
    asked: bool


@dataclass(frozen=True)
class CanLine:
    """A can of the mix."""

    id: UUID
    moisture: float
    method: str
    done_at: datetime


@dataclass(frozen=True)
class TestChargeLine:
    """A trial fill, and the mass to try next by its height."""

    position: int
    charge_kg: float
    pressed_gauge_mpa: float | None
    pressed_stroke_mm: float | None
    height_mm: float
    wet_mass_kg: float | None
    wet_density_kg_m3: float | None
    next_charge_kg: float
    accepted: bool


@dataclass(frozen=True)
class BlockLine:
    """A pressed block, with what is worked out of it."""

    id: UUID
    label: str
    position: int
    charge_kg: float | None
    pressed_gauge_mpa: float | None
    pressed_stroke_mm: float | None
    wet_mass_kg: float | None
    height_mm: float | None
    wet_density_kg_m3: float | None
    dry_density_kg_m3: float | None
    density_off: float | None
    pressed_at: datetime
    minutes: float | None
    cracked_because: str | None
    lost_because: str | None
    remark: str | None

    @property
    def stands_out(self) -> bool:
        """Whether it is far denser or lighter than the other blocks of its batch."""
        return stands_out(self.density_off)


@dataclass(frozen=True)
class PlaceLine:
    """A place of the batch and the block in it, if it was pressed."""

    position: int
    condition: str
    name: str
    crush_order: int
    in_place_of: str | None
    block: BlockLine | None


@dataclass(frozen=True)
class ChangeLine:
    """One value that was corrected."""

    what: str
    was: str
    became: str
    because: str
    at: datetime


def scale_of(batch: Batch) -> Scale:
    """Return the scale as it was typed; one that came without a unit shows kilograms."""
    typed = batch.as_read.get("scale_graduation_kg", {"text": f"{batch.scale_graduation_kg:.6f}", "unit": "kg"})
    return Scale(typed["unit"], typed["text"], batch.scale_graduation_kg)


def part_line(one: NamedPart) -> PartLine:
    """Return a part as the sheet shows it."""
    return PartLine(
        id=one.part.id,
        material=one.material.name,
        kind=one.material.kind,
        role=one.planned.role,
        sack=one.receipt.label if one.receipt else None,
        moisture=one.part.moisture,
        planned_kg=one.part.planned_kg,
        weighed_kg=one.part.weighed_kg,
        typed=one.part.as_read.get("weighed_kg", {}),
    )


def achieved_of(parts: Sequence[NamedPart], water_kg: float | None) -> Achieved | None:
    """Return what the mix became, moisture over the dry mix; None until everything is weighed."""
    if water_kg is None or any(one.part.weighed_kg is None for one in parts):
        return None
    return achieved_mix(
        components=_weighed(parts, "component"), stabilisers=_weighed(parts, "stabiliser"), water_kg=water_kg
    )


def _weighed(parts: Sequence[NamedPart], role: str) -> list[Weighed]:
    """Return each material once, out of however many sacks it came."""
    by_part: dict[UUID, list[NamedPart]] = {}
    for one in parts:
        if one.planned.role == role:
            by_part.setdefault(one.planned.id, []).append(one)
    found = []
    for part_id, mine in by_part.items():
        wet = fsum(one.part.weighed_kg or 0.0 for one in mine)
        dry = fsum((one.part.weighed_kg or 0.0) / (1 + one.part.moisture) for one in mine)
        found.append(Weighed(str(part_id), wet, max(0.0, wet / dry - 1) if len(mine) > 1 else mine[0].part.moisture))
    return found


def share_lines(recipe: Recipe, parts: Sequence[NamedPart], achieved: Achieved | None) -> list[ShareLine]:
    """Return planned and achieved shares: components of the blend, stabilisers and water on both bases."""
    planned = {one.planned.id: one for one in parts}
    doses = {key: one for key, one in planned.items() if one.planned.role == "stabiliser"}
    both = shares_on_both_bases(
        [Stabiliser(str(key), one.planned.share, one.planned.basis) for key, one in doses.items()]  # type: ignore[arg-type]
    )
    lines = [
        ShareLine(
            one.material.name,
            "blend",
            one.planned.share,
            achieved.components[str(key)] if achieved else None,
            asked=True,
        )
        for key, one in planned.items()
        if one.planned.role == "component"
    ]
    for key, one in doses.items():
        got = achieved.stabilisers[str(key)] if achieved else None
        for basis, name in (("dry soil", "dry_soil"), ("dry mix", "dry_mix")):
            wanted, was = getattr(both[str(key)], name), getattr(got, name) if got else None
            lines.append(ShareLine(one.material.name, basis, wanted, was, asked=basis == one.planned.basis))
    soil_planned = 1 - fsum(share.dry_mix for share in both.values())
    return lines + _water_lines(recipe, soil_planned, achieved)


def _water_lines(recipe: Recipe, soil_planned: float, achieved: Achieved | None) -> list[ShareLine]:
    on_mix = recipe.moisture_basis == "dry mix"
    wanted_on_mix = recipe.target_moisture * (1.0 if on_mix else soil_planned)
    was_on_mix = achieved.moisture if achieved else None
    soil = 1 - fsum(share.dry_mix for share in achieved.stabilisers.values()) if achieved else 1.0
    return [
        ShareLine("Water", "dry mix", wanted_on_mix, was_on_mix, asked=on_mix),
        ShareLine(
            "Water",
            "dry soil",
            wanted_on_mix / soil_planned,
            was_on_mix / soil if was_on_mix is not None else None,
            asked=not on_mix,
        ),
    ]


def can_line(can: MoistureCan) -> CanLine:
    """Return a can of the mix with its water."""
    found = moisture_of_can(wet_kg=can.wet_kg, dry_kg=can.dry_kg, can_kg=can.can_kg)
    return CanLine(can.id, found, can.method, can.done_at)


def test_charge_line(trial: TrialBlock, mould: Mould) -> TestChargeLine:
    """Return a trial block with its density and the charge to try next."""
    volume = block_volume_m3(length_mm=mould.length_mm, width_mm=mould.width_mm, heights_mm=[trial.height_mm])
    return TestChargeLine(
        position=trial.position,
        charge_kg=trial.charge_kg,
        pressed_gauge_mpa=trial.pressed_gauge_mpa,
        pressed_stroke_mm=trial.pressed_stroke_mm,
        height_mm=trial.height_mm,
        wet_mass_kg=trial.wet_mass_kg,
        wet_density_kg_m3=density_kg_m3(mass_kg=trial.wet_mass_kg, volume_m3=volume) if trial.wet_mass_kg else None,
        next_charge_kg=charge_for_height_kg(
            charge_kg=trial.charge_kg, height_mm=trial.height_mm, wanted_mm=mould.height_mm
        ),
        accepted=trial.accepted,
    )


def block_line(
    block: Block, heights: Sequence[BlockHeight], *, moisture: float | None, wetted_at: datetime | None
) -> BlockLine:
    """Return a block with its densities; ``moisture`` is water over dry mix."""
    tall = [one.height_mm for one in heights]
    height_mm = fsum(tall) / len(tall) if tall else None
    wet, dry = densities(block, height_mm, moisture=moisture)
    return BlockLine(
        id=block.id,
        label=block.label,
        position=block.position,
        charge_kg=block.charge_kg,
        pressed_gauge_mpa=block.pressed_gauge_mpa,
        pressed_stroke_mm=block.pressed_stroke_mm,
        wet_mass_kg=block.wet_mass_kg,
        height_mm=height_mm,
        wet_density_kg_m3=wet,
        dry_density_kg_m3=dry,
        density_off=None,
        pressed_at=block.pressed_at,
        minutes=(block.pressed_at - wetted_at).total_seconds() / 60 if wetted_at else None,
        cracked_because=block.cracked_because,
        lost_because=block.lost_because,
        remark=block.remark,
    )


def beside_each_other(lines: Sequence[BlockLine]) -> list[BlockLine]:
    """Return the blocks of one batch, each with how far its density lies from the middle of the others."""
    # All blocks of a batch share its moisture, so that wet and dry densities are as far off as each other.
    off = densities_against_others([one.wet_density_kg_m3 for one in lines])
    return [replace(one, density_off=far) for one, far in zip(lines, off, strict=True)]


def place_line(place: Place, block: BlockLine | None) -> PlaceLine:
    """Return a place with its block."""
    group = place.group
    return PlaceLine(place.position, group.condition, name_of(group), place.crush_order, place.in_place_of, block)


def change_lines(corrections: Sequence[Correction], names: Mapping[UUID, str]) -> list[ChangeLine]:
    """Return every value that was corrected, as typed before and after."""
    return [
        ChangeLine(f"{names[one.subject_id]}, {_WORDS.get(column, column)}", _said(was), _said(became), one.because,
                   one.corrected_at)
        for one in corrections
        for column, (was, became) in before_and_after(one).items()
    ]  # fmt: skip


_WORDS = {
    "weighed_kg": "weighed",
    "water_kg": "water",
    "wetted_at": "wetted at",
    "pressed_at": "pressed at",
    "charge_kg": "mix in the mould",
    "wet_mass_kg": "mass",
    "pressed_gauge_mpa": "gauge",
    "pressed_stroke_mm": "stroke",
    "press_gauge_id": "which gauge",
    "dwell_s": "dwell",
    "height_mm": "height",
    "mould_release": "mould release",
    "cracked_because": "cracked",
    "remark": "remark",
    "mixed_at": "mixed at",
    "mixed_by": "mixed by",
    "covered_at": "covered at",
    "uncovered_at": "uncovered at",
    "block": "block",
    "trial_block": "trial fill",
}


def _said(told: Mapping[str, object]) -> str:
    typed = told.get("typed")
    if isinstance(typed, Mapping):
        return f"{typed['text']} {typed['unit']}"
    return "nothing" if told.get("value") is None else str(told["value"])
