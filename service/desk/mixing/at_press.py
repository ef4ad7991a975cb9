"""What the page at the press offers: the next block, what was entered for the last one, and the gauge to pump to."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, look
from service.desk.mixing._checks import the_batch
from service.desk.mixing._places import Place, places_of
from service.desk.mixing._round import job_round
from service.desk.mixing._views import (
    BlockLine,
    PlaceLine,
    Scale,
    TestChargeLine,
    block_line,
    place_line,
    scale_of,
    test_charge_line,
)
from service.measured.forming import Forming, forming_gauges
from service.records import batch_queries
from service.records import batches as records
from service.records import blocks as block_records
from service.records.batch_queries import PlacedBatch
from service.records.batches import TrialBlock
from service.records.blocks import Block
from service.trade.mix.soil_needed import WORKING_DRY_DENSITY_KG_M3, dry_mass_per_block_kg
from service.typed import put_back, unit_of


@dataclass(frozen=True)
class GaugeOffer:
    """A gauge of a press that forms blocks, what it must show for the planned stress, and where it is to stop.

    A stress that is ``beyond`` where the gauge is to stop has no target there: nobody is sent to it.
    """

    id: UUID
    name: str
    unit: str
    target_gauge_mpa: float | None
    beyond: bool
    stop_mpa: float
    graduation_mpa: float
    calibrated: bool

    @property
    def pair(self) -> tuple[UUID, str]:
        """Return what a list of choices needs."""
        return self.id, self.name


@dataclass(frozen=True)
class Remembered:
    """What was typed for the last block, word for word, to be offered again."""

    charge_kg: Mapping[str, str]
    pressed_gauge_mpa: Mapping[str, str]
    pressed_stroke_mm: Mapping[str, str]
    dwell_s: Mapping[str, str]
    wet_mass_unit: str
    height_unit: str
    press_gauge_id: UUID | None
    mould_release: str
    # At how many corners the last block was measured; 0: there is none.
    corners: int


NOTHING = Remembered({}, {}, {}, {}, "", "", None, "", 0)


@dataclass(frozen=True)
class PressForm:
    """The page at the press."""

    batch_id: UUID
    job_id: UUID
    job_number: int
    recipe: str
    number: int
    mixed: bool
    place: PlaceLine | None
    label: str
    pressed: int
    drawn: int
    open_for_lost: list[PlaceLine]
    last: BlockLine | None
    remembered: Remembered
    charge_settled: bool
    test_charges: list[TestChargeLine]
    press_stress_mpa: float | None
    press_stroke_mm: float | None
    mould_height_mm: float
    # What a first test charge weighs: a block that fills the mould, as damp as the mix.
    full_mould_kg: float
    scale: Scale
    gauges: list[GaugeOffer]
    # Where the work goes on once all blocks are pressed.
    next_path: str
    next_word: str


@dataclass(frozen=True)
class BlockForm:
    """A block with everything that was typed when it was pressed, to be corrected."""

    id: UUID
    label: str
    batch_id: UUID
    job_id: UUID
    job_number: int
    typed: Mapping[str, Mapping[str, str]]
    heights: list[Mapping[str, str]]
    press_gauge_id: UUID | None
    mould_release: str | None
    cracked_because: str | None
    remark: str | None
    pressed_at: datetime
    lost_because: str | None
    gauges: list[GaugeOffer]


@look("block.press_form", by=STAFF)
def press_form(
    session: Session, caller: Caller, *, batch_id: UUID, position: int | None = None, is_trial: bool = False
) -> PressForm:
    """Return the page for the next block of a batch, for the place that was asked for, or for a trial charge."""
    found = the_batch(session, caller, batch_id)
    blocks = batch_queries.blocks_of_batch(session, batch_id)
    groups = batch_queries.groups_of(session, found.recipe.id)
    places = places_of(found.recipe, groups, batch_number=found.batch.number, blocks=blocks)
    taken = {block.position for block in blocks}
    free = [place for place in places if place.position not in taken]
    drawn = [place for place in places if place.in_place_of is None]
    place = _wanted(free, position)
    newest = max(blocks, key=lambda one: one.created_at, default=None)
    trials = records.trial_blocks_of(session, [batch_id])
    # Where no block is left to press, what the press needs is not looked up.
    is_over = place is None and not is_trial
    then = job_round(session, found.job.id) if is_over else None
    return PressForm(
        batch_id=batch_id,
        job_id=found.job.id,
        job_number=found.job.number,
        recipe=found.recipe.label,
        number=found.batch.number,
        mixed=found.batch.mixed_at is not None,
        place=place_line(place, None) if place else None,
        label=f"{found.job.number}-{found.recipe.label}{found.batch.number}-{place.position}" if place else "",
        pressed=sum(block.position <= len(drawn) for block in blocks),
        drawn=len(drawn),
        open_for_lost=[place_line(one, None) for one in free if one.in_place_of is not None],
        last=_last_line(session, found, newest),
        remembered=NOTHING if is_over else _remembered(session, _last_kept(blocks), trials),
        charge_settled=any(trial.accepted for trial in trials),
        test_charges=[test_charge_line(trial, found.mould) for trial in trials],
        press_stress_mpa=found.recipe.press_stress_mpa,
        press_stroke_mm=found.recipe.press_stroke_mm,
        mould_height_mm=found.mould.height_mm,
        full_mould_kg=_full_mould_kg(found),
        scale=scale_of(found.batch),
        gauges=[] if is_over else _gauges(session, caller, found),
        next_path=then.next_path if then else "",
        next_word=then.next_word if then else "",
    )


def _full_mould_kg(found: PlacedBatch) -> float:
    """Return about what a charge weighs that fills the mould; the first test charge corrects it."""
    mould = found.mould
    dry_kg = dry_mass_per_block_kg(
        length_mm=mould.length_mm,
        width_mm=mould.width_mm,
        height_mm=mould.height_mm,
        dry_density_kg_m3=found.job.machine_density_kg_m3 or WORKING_DRY_DENSITY_KG_M3,
    )
    return dry_kg * (1 + found.recipe.target_moisture)


def _wanted(free: Sequence[Place], position: int | None) -> Place | None:
    asked = next((place for place in free if place.position == position), None)
    return asked or next((place for place in free if place.in_place_of is None), None)


def _last_kept(blocks: Sequence[Block]) -> list[Block]:
    """Return the blocks that were not lost, the newest first: of a lost one there may be nothing to remember."""
    return sorted((one for one in blocks if one.lost_at is None), key=lambda one: one.created_at, reverse=True)


def _last_line(session: Session, found: PlacedBatch, newest: Block | None) -> BlockLine | None:
    if newest is None:
        return None
    heights = block_records.heights_of(session, [newest.id]).get(newest.id, [])
    return block_line(newest, heights, moisture=None, wetted_at=found.batch.wetted_at)


def _remembered(session: Session, kept: Sequence[Block], trials: Sequence[TrialBlock]) -> Remembered:
    lately = [*kept[:2], *(batch_queries.last_kept_blocks(session) if not kept else [])]
    last = lately[0] if lately else None
    found = block_records.heights_of(session, [one.id for one in lately])
    measured = [found.get(one.id, []) for one in lately]
    typed = last.as_read if last else {}
    accepted = next((trial for trial in reversed(trials) if trial.accepted), None)
    # The accepted trial settles the charge of this batch; from the second block on the last block says it.
    first = accepted is not None and not kept
    settled = accepted.as_read if accepted is not None and first else {}
    return Remembered(
        charge_kg=put_back(settled.get("charge_kg") or typed.get("charge_kg", {})),
        pressed_gauge_mpa=put_back(settled.get("pressed_gauge_mpa") or typed.get("pressed_gauge_mpa", {})),
        pressed_stroke_mm=put_back(settled.get("pressed_stroke_mm") or typed.get("pressed_stroke_mm", {})),
        dwell_s=put_back(typed.get("dwell_s", {})),
        wet_mass_unit=unit_of([one.as_read.get("wet_mass_kg", {}) for one in lately]),
        height_unit=unit_of([heights[0].as_read.get("height_mm", {}) for heights in measured if heights]),
        press_gauge_id=last.press_gauge_id if last else None,
        mould_release=(last.mould_release or "") if last else "",
        corners=len(measured[0]) if measured else 0,
    )


def _gauges(session: Session, caller: Caller, found: PlacedBatch) -> list[GaugeOffer]:
    return [_offer(one, found) for one in forming_gauges(session, today=caller.clock.today)]


def _offer(forming: Forming, found: PlacedBatch) -> GaugeOffer:
    stress = found.recipe.press_stress_mpa
    target = forming.target_mpa(stress, found.mould) if stress is not None else None
    return GaugeOffer(
        id=forming.gauge.id,
        name=f"{forming.press.name}, {forming.gauge.name}",
        unit=forming.gauge.unit,
        target_gauge_mpa=target,
        beyond=stress is not None and target is None,
        stop_mpa=forming.stop_mpa,
        graduation_mpa=forming.gauge.graduation_mpa,
        calibrated=forming.line.calibrated is not None,
    )


@look("block.pressing", by=STAFF)
def block_form(session: Session, caller: Caller, *, block_id: UUID) -> BlockForm:
    """Return a block with everything that was typed when it was pressed."""
    placed = block_records.placed(session, block_id)
    found = the_batch(session, caller, placed.batch.id)
    block = placed.block
    heights = block_records.heights_of(session, [block.id]).get(block.id, [])
    return BlockForm(
        id=block.id,
        label=block.label,
        batch_id=found.batch.id,
        job_id=found.job.id,
        job_number=found.job.number,
        typed={name: put_back(read) for name, read in block.as_read.items()},
        heights=[put_back(one.as_read.get("height_mm", {})) for one in heights],
        press_gauge_id=block.press_gauge_id,
        mould_release=block.mould_release,
        cracked_because=block.cracked_because,
        remark=block.remark,
        pressed_at=block.pressed_at,
        lost_because=block.lost_because,
        gauges=_gauges(session, caller, found),
    )
