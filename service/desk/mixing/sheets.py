"""What the pages at the mixer and the press show: the round of a job, one batch, and the next block."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, look
from service.desk.mixing._checks import the_batch
from service.desk.mixing._places import places_of
from service.desk.mixing._round import Round, job_round
from service.desk.mixing._views import (
    BlockLine,
    CanLine,
    ChangeLine,
    PartLine,
    PlaceLine,
    Scale,
    ShareLine,
    TestChargeLine,
    achieved_of,
    beside_each_other,
    block_line,
    can_line,
    change_lines,
    part_line,
    place_line,
    scale_of,
    share_lines,
    test_charge_line,
)
from service.records import batch_queries, corrections, jobs
from service.records import batches as records
from service.records import blocks as block_records
from service.records import moisture_trials as mix_trials
from service.records.batch_queries import NamedPart, PlacedBatch
from service.records.batches import TrialBlock
from service.records.blocks import Block, BlockHeight
from service.records.moisture_trials import Pot
from service.trade.mix.mixer_loads import MOST_SCALE_ERROR, MixerLoads, mixer_loads, scale_error

__all__ = ["BatchSheet", "Round", "batch", "round_of"]

# The name under which a filling's water stands beside its parts.
WATER = "water"


@dataclass(frozen=True)
class Rough:
    """A stabiliser too small for its scale: the error, over its mass, that the steps alone make."""

    name: str
    error: float


@dataclass(frozen=True)
class BatchSheet:
    """Everything of one batch."""

    id: UUID
    job_id: UUID
    recipe_id: UUID
    recipe: str
    number: int
    batches: int
    scale: Scale
    parts: list[PartLine]
    water_planned_kg: float
    water_kg: float | None
    water_typed: dict[str, str]
    wetted_at: datetime | None
    mixed_at: datetime | None
    remark: str | None
    shares: list[ShareLine]
    moisture: float | None
    cans: list[CanLine]
    test_charges: list[TestChargeLine]
    places: list[PlaceLine]
    changes: list[ChangeLine]
    has_binder: bool
    mixer_kg: float | None
    mixer_loads: MixerLoads | None
    rough: list[Rough]
    # Whether blocks of this job came out of the same mould, so that no trial charge is needed.
    charge_known: bool

    @property
    def blocks(self) -> list[BlockLine]:
        """The blocks that were pressed, lost ones too."""
        return [place.block for place in self.places if place.block]

    @property
    def next_place(self) -> PlaceLine | None:
        """The first place without a block; one for a lost block is only taken when it is asked for."""
        return next((place for place in self.places if place.block is None and place.in_place_of is None), None)

    @property
    def longest_minutes(self) -> float | None:
        """How long after wetting the last block was pressed."""
        return max((block.minutes for block in self.blocks if block.minutes is not None), default=None)


@look("mixing.round", by=STAFF)
def round_of(session: Session, caller: Caller, *, job_id: UUID) -> Round:
    """Return the recipes of a job with their batches and what is next."""
    job = jobs.visible(session, job_id, seen_by=caller.seen_by)
    return job_round(session, job.id)


class _Found(NamedTuple):
    """The rows behind a sheet."""

    placed: PlacedBatch
    parts: list[NamedPart]
    blocks: list[Block]
    heights: dict[UUID, list[BlockHeight]]
    trials: list[TrialBlock]


@look("batch.sheet", by=STAFF)
def batch(session: Session, caller: Caller, *, batch_id: UUID) -> BatchSheet:
    """Return one batch: what to weigh, what was weighed, the trial block and the blocks."""
    placed = the_batch(session, caller, batch_id)
    blocks = batch_queries.blocks_of_batch(session, batch_id)
    heights = block_records.heights_of(session, [one.id for one in blocks])
    parts = batch_queries.parts_of_batch(session, batch_id)
    found = _Found(placed, parts, blocks, heights, records.trial_blocks_of(session, [batch_id]))
    achieved = achieved_of(parts, placed.batch.water_kg)
    moisture = achieved.moisture if achieved else None
    changes = corrections.corrections_of(session, list(_names(found)))
    pot = mix_trials.pot_of(session, batch_id)
    return BatchSheet(
        id=batch_id,
        job_id=placed.job.id,
        recipe_id=placed.recipe.id,
        recipe=placed.recipe.label,
        number=placed.batch.number,
        batches=placed.recipe.batches,
        scale=scale_of(placed.batch),
        parts=[part_line(one) for one in parts],
        water_planned_kg=placed.batch.water_planned_kg,
        water_kg=placed.batch.water_kg,
        water_typed=placed.batch.as_read.get("water_kg", {}),
        wetted_at=placed.batch.wetted_at,
        mixed_at=placed.batch.mixed_at,
        remark=placed.batch.remark,
        shares=share_lines(placed.recipe, parts, achieved),
        moisture=moisture,
        cans=[can_line(one) for one in batch_queries.cans_of_batch(session, batch_id)],
        test_charges=[test_charge_line(one, placed.mould) for one in found.trials],
        places=_place_lines(session, found, moisture),
        changes=change_lines(changes, _names(found)),
        has_binder=any(one.material.kind in ("cement", "lime") for one in parts),
        mixer_kg=pot.pot_kg if pot else None,
        mixer_loads=_mixer_loads(placed, parts, pot) if pot else None,
        rough=_rough(placed, parts),
        charge_known=bool(blocks) or _came_out_of_mould(session, placed),
    )


def _came_out_of_mould(session: Session, placed: PlacedBatch) -> bool:
    """Return whether blocks of the job were pressed in the mould of a batch."""
    return bool(batch_queries.masses_in_mould(session, placed.job.id, placed.recipe.mould_id))


def _mixer_loads(placed: PlacedBatch, parts: Sequence[NamedPart], pot: Pot) -> MixerLoads | None:
    """Return what goes into each filling of a pot that does not take the batch at once."""
    batch = placed.batch
    everything = {str(one.part.id): one.part.planned_kg for one in parts} | {WATER: batch.water_planned_kg}
    split = mixer_loads(everything, mixer_kg=pot.pot_kg, scale_graduation_kg=batch.scale_graduation_kg)
    return split if split.count > 1 else None


def _rough(placed: PlacedBatch, parts: Sequence[NamedPart]) -> list[Rough]:
    """Return the stabilisers whose share the steps of the scale alone may miss by more than is allowed."""
    step = placed.batch.scale_graduation_kg
    doses = [one for one in parts if one.planned.role == "stabiliser"]
    errors = [
        Rough(one.material.name, scale_error(scale_graduation_kg=step, mass_kg=one.part.planned_kg)) for one in doses
    ]
    return [one for one in errors if one.error > MOST_SCALE_ERROR]


def _place_lines(session: Session, found: _Found, moisture: float | None) -> list[PlaceLine]:
    batch = found.placed.batch
    groups = batch_queries.groups_of(session, found.placed.recipe.id)
    places = places_of(found.placed.recipe, groups, batch_number=batch.number, blocks=found.blocks)
    pressed = [
        block_line(one, found.heights.get(one.id, []), moisture=moisture, wetted_at=batch.wetted_at)
        for one in found.blocks
    ]
    lines = {one.position: one for one in beside_each_other(pressed)}
    return [place_line(place, lines.get(place.position)) for place in places]


def _names(found: _Found) -> dict[UUID, str]:
    """Return what each row of the batch is called, for the list of corrections."""
    names = {found.placed.batch.id: "The batch"}
    names |= {one.part.id: one.material.name for one in found.parts}
    names |= {one.id: f"Block {one.label}" for one in found.blocks}
    labels = {one.id: one.label for one in found.blocks}
    corners = [(height, labels[block_id]) for block_id, heights in found.heights.items() for height in heights]
    return names | {height.id: f"Block {label}, corner {height.position}" for height, label in corners}
