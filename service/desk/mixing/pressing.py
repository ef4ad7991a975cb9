"""At the press: the trial block that settles the charge, then every block in turn, the lost ones counted too."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, Done, act
from service.desk.mixing._checks import open_batch, refuse, require_above_zero
from service.desk.mixing._places import Place, places_of
from service.errors import Conflict, Invalid
from service.measured.forming import forming_gauges
from service.measured.gauge import limit_faults
from service.records import batch_queries, crushings, durability_tests, presses
from service.records import batches as records
from service.records import blocks as block_records
from service.records.as_read import as_read, columns_of, corrected
from service.records.batch_queries import PlacedBatch
from service.records.batches import Batch, TrialBlock
from service.records.blocks import Block, BlockHeight
from service.records.presses import Mould
from service.trade.block.durability_tests import USED_UP
from service.trade.block.measurements import block_volume_m3, density_kg_m3
from service.typed import Typed

MOST_HEIGHTS = 8
WHICH_GAUGE = "Say which gauge this was read from."
# No soil is denser than the rock it came from, and nothing pressed is lighter than this. They stop a mass in pounds
# written as kilograms and a height in inches as millimetres, not poor blocks.
DENSITY_KG_M3 = (500.0, 3200.0)


@dataclass(frozen=True)
class Pressed:
    """How a block was pressed and what it measured."""

    charge_kg: Typed | None = None
    heights_mm: tuple[Typed, ...] = ()
    wet_mass_kg: Typed | None = None
    press_gauge_id: UUID | None = None
    pressed_gauge_mpa: Typed | None = None
    pressed_stroke_mm: Typed | None = None
    dwell_s: Typed | None = None
    mould_release: str | None = None
    cracked_because: str | None = None
    remark: str | None = None
    # True if the gauge did show a value above the working limit of the press.
    above_limit: bool = False

    def quantities(self) -> dict[str, Typed | None]:
        """Return the quantities of the block's own row, by column."""
        names = ("charge_kg", "wet_mass_kg", "pressed_gauge_mpa", "pressed_stroke_mm", "dwell_s")
        return {name: getattr(self, name) for name in names}

    def words(self) -> dict[str, Any]:
        """Return everything else of the block's own row."""
        names = ("press_gauge_id", "mould_release", "cracked_because", "remark")
        return {name: getattr(self, name) for name in names}


@act("batch.try_charge", by=STAFF)
def try_charge(
    session: Session,
    caller: Caller,
    *,
    batch_id: UUID,
    charge_kg: Typed,
    height_mm: Typed,
    wet_mass_kg: Typed | None = None,
    pressed_gauge_mpa: Typed | None = None,
    pressed_stroke_mm: Typed | None = None,
    press_gauge_id: UUID | None = None,
    accepted: bool = False,
    made_at: datetime | None = None,
    above_limit: bool = False,
) -> Done:
    """Keep a trial block; an accepted one settles the charge of the blocks that count."""
    found = open_batch(session, caller, batch_id)
    batch = _mixed(found)
    typed = {
        "charge_kg": charge_kg,
        "height_mm": height_mm,
        "wet_mass_kg": wet_mass_kg,
        "pressed_gauge_mpa": pressed_gauge_mpa,
        "pressed_stroke_mm": pressed_stroke_mm,
    }
    require_above_zero(typed)
    refuse(_gauge_faults(session, caller, pressed_gauge_mpa, press_gauge_id, above_limit=above_limit))
    _check_density(found.mould, wet_mass_kg, (height_mm,), field="height_mm")
    trial = TrialBlock(
        batch_id=batch.id,
        position=len(records.trial_blocks_of(session, [batch.id])) + 1,
        accepted=accepted,
        made_at=caller.clock.past(made_at, field="made_at"),
        made_by=caller.doer,
        **columns_of(typed),
    )
    session.add(trial)
    session.flush()
    return Done("trial_block", trial.id, {"batch": batch.id, "accepted": accepted, "above_limit": above_limit})


@act("block.press", by=STAFF)
def press_block(
    session: Session,
    caller: Caller,
    *,
    batch_id: UUID,
    position: int,
    pressed: Pressed,
    lost_because: str | None = None,
    pressed_at: datetime | None = None,
) -> Done:
    """Keep one block at its place; its group and its turn at the crushing were drawn by lot."""
    found = open_batch(session, caller, batch_id)
    batch = _mixed(found)
    place = _free_place(session, found, position)
    _check(session, caller, pressed, lost=bool(lost_because))
    _check_density(found.mould, pressed.wet_mass_kg, pressed.heights_mm, field="heights_mm.0")
    at = _pressed_at(caller, batch, pressed_at)
    block = Block(
        batch_id=batch.id,
        recipe_group_id=place.group.id,
        position=position,
        crush_order=place.crush_order,
        label=f"{found.job.number}-{found.recipe.label}{batch.number}-{position}",
        pressed_at=at,
        pressed_by=caller.doer,
        length_mm=found.mould.length_mm,
        width_mm=found.mould.width_mm,
        lost_at=at if lost_because else None,
        lost_because=lost_because,
        **pressed.words(),
        **columns_of(pressed.quantities()),
    )
    session.add(block)
    session.flush()
    _add_heights(session, block, pressed.heights_mm, first=1)
    return Done("block", block.id, {"label": block.label, "lost": lost_because, "in_place_of": place.in_place_of})


def _mixed(found: PlacedBatch) -> Batch:
    if found.batch.mixed_at is None:
        raise Conflict("Write down first what was weighed into this batch, the water last.")
    return found.batch


def _free_place(session: Session, found: PlacedBatch, position: int) -> Place:
    blocks = batch_queries.blocks_of_batch(session, found.batch.id)
    taken = next((block for block in blocks if block.position == position), None)
    if taken is not None:
        raise Conflict(f"Block {taken.label} was recorded already. Reload the page to see it.")
    places = places_of(
        found.recipe,
        batch_queries.groups_of(session, found.recipe.id),
        batch_number=found.batch.number,
        blocks=blocks,
    )
    place = next((one for one in places if one.position == position), None)
    if place is None:
        raise Invalid("This batch has no such block.", {"position": f"From 1 to {len(places)}."})
    return place


def _pressed_at(caller: Caller, batch: Batch, given: datetime | None) -> datetime:
    at = caller.clock.past(given, field="pressed_at")
    if batch.wetted_at is not None and at < batch.wetted_at:
        raise Invalid("Pressed before it was wetted?", {"pressed_at": "Not before the water went in."})
    return at


def _check(session: Session, caller: Caller, pressed: Pressed, *, lost: bool) -> None:
    heights = {f"heights_mm.{index}": typed for index, typed in enumerate(pressed.heights_mm)}
    require_above_zero({**pressed.quantities(), "dwell_s": None, **heights})
    faults = {}
    if not lost and pressed.wet_mass_kg is None:
        faults["wet_mass_kg"] = "Weigh the block, or say that it is damaged or missing."
    if not lost and not pressed.heights_mm:
        faults["heights_mm.0"] = "Measure at least one height, better all four corners."
    if len(pressed.heights_mm) > MOST_HEIGHTS:
        faults["heights_mm"] = f"At most {MOST_HEIGHTS} heights."
    if pressed.pressed_gauge_mpa is not None and pressed.press_gauge_id is None:
        faults["press_gauge_id"] = WHICH_GAUGE
    gauge_mpa, above_limit = pressed.pressed_gauge_mpa, pressed.above_limit
    refuse(faults | _gauge_faults(session, caller, gauge_mpa, pressed.press_gauge_id, above_limit=above_limit))


def _gauge_faults(
    session: Session, caller: Caller, gauge_mpa: Typed | None, gauge_id: UUID | None, *, above_limit: bool
) -> dict[str, str]:
    """Return what is refused of a forming gauge: one that forms nothing, one not said, one above its limit."""
    forming = forming_gauges(session, today=caller.clock.today)
    if gauge_id is not None and gauge_id not in {one.gauge.id for one in forming} and not _forms(session, gauge_id):
        return {"press_gauge_id": "Choose one from the list."}
    mine = [one for one in forming if gauge_id in (None, one.gauge.id)]
    stops = {one.stop_mpa for one in mine}
    faults = [
        limit_faults(gauge_mpa, stop, field="pressed_gauge_mpa", above_limit=above_limit) for stop in sorted(stops)
    ]
    if gauge_id is None and any(faults) and not all(faults):
        # Below the limit of one press and above that of another: only which gauge it was tells.
        return {"press_gauge_id": WHICH_GAUGE}
    return faults[-1] if faults else {}


def _check_density(mould: Mould, mass_kg: Typed | None, heights_mm: tuple[Typed, ...], *, field: str) -> None:
    if mass_kg is None or not heights_mm:
        return
    heights = [typed.value for typed in heights_mm]
    volume = block_volume_m3(length_mm=mould.length_mm, width_mm=mould.width_mm, heights_mm=heights)
    density = density_kg_m3(mass_kg=mass_kg.value, volume_m3=volume)
    least, most = DENSITY_KG_M3
    if not least <= density <= most:
        told = "No block of this mass has these heights. Check both units."
        raise Invalid("Mass and height do not belong to one block.", {"wet_mass_kg": told, field: told})


def _forms(session: Session, gauge_id: UUID) -> bool:
    found = presses.gauges_by_id(session, [gauge_id]).get(gauge_id)
    return found is not None and found[1].forms


def _add_heights(session: Session, block: Block, heights: tuple[Typed, ...], *, first: int) -> None:
    for position, typed in enumerate(heights, start=first):
        read = as_read({"height_mm": typed})
        session.add(BlockHeight(block_id=block.id, position=position, height_mm=typed.value, as_read=read))
    session.flush()


@act("block.correct_pressing", by=STAFF)
def correct_block(
    session: Session,
    caller: Caller,
    *,
    block_id: UUID,
    pressed: Pressed,
    because: str,
    pressed_at: datetime | None = None,
) -> Done:
    """Correct how a block was pressed or what it measured; what was left empty is emptied, the old stays beside."""
    placed = block_records.placed(session, block_id)
    found = open_batch(session, caller, placed.batch.id)
    block = placed.block
    _check(session, caller, pressed, lost=block.lost_at is not None)
    _check_density(found.mould, pressed.wet_mass_kg, pressed.heights_mm, field="heights_mm.0")
    words = pressed.words()
    if pressed_at is not None:
        words["pressed_at"] = _pressed_at(caller, found.batch, pressed_at)
    by: dict[str, Any] = {"at": caller.stores.clock(), "by": caller.doer, "because": because}
    made = [corrected(session, block, typed=pressed.quantities(), words=words, **by)]
    heights = _correct_heights(session, block, pressed.heights_mm, by)
    if not any([*made, *heights]):
        raise Invalid("Nothing changed.", {"because": "All values are the same as before."})
    added = sum(isinstance(one, Typed) for one in heights)
    return Done("block", block.id, {"label": block.label, "because": because, "heights_added": added})


def _correct_heights(session: Session, block: Block, heights: tuple[Typed, ...], by: Mapping[str, Any]) -> list[Any]:
    present = block_records.heights_of(session, [block.id]).get(block.id, [])
    if len(heights) < len(present):
        missing = f"heights_mm.{len(heights)}"
        raise Invalid("A height is missing.", {missing: "Every corner that was measured keeps a height."})
    made: list[Any] = [
        corrected(session, row, typed={"height_mm": typed}, words={}, **by)
        for row, typed in zip(present, heights, strict=False)
    ]
    added = heights[len(present) :]
    _add_heights(session, block, added, first=len(present) + 1)
    return [*made, *added]


@act("block.lose", by=STAFF)
def lose_block(session: Session, caller: Caller, *, block_id: UUID, because: str) -> Done:
    """Count a block as lost, with the reason; it is never silently replaced."""
    placed = block_records.placed(session, block_id)
    open_batch(session, caller, placed.batch.id)
    block = placed.block
    session.refresh(block, with_for_update=True)
    if not because.strip():
        raise Invalid("Say what happened to the block.", {"because": "Say what happened to the block."})
    if block.lost_at is not None:
        raise Conflict("This block is recorded as damaged or missing already.")
    if crushings.standing_of(session, [block.id]):
        raise Conflict("This block was crushed already.")
    used = durability_tests.use_of(session, block.id)
    if used is not None:
        raise Conflict(f"This block was used up: it was {USED_UP[used]}.")
    block.lost_at, block.lost_because = caller.stores.clock(), because.strip()
    session.add(block)
    return Done("block", block.id, {"label": block.label, "because": because.strip()})
