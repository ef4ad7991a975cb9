"""Curing and crushing for programs: the queues, the water, the press, and every reading of a block."""

from typing import Annotated, Any, Literal
from uuid import UUID

from fastapi import Query
from pydantic import AwareDatetime, Field

from service.desk.crushing import press, queue, reading, sheet
from service.desk.crushing.crushing_facts import CrushingFacts
from service.desk.crushing.given import Given
from service.desk.crushing.queue import CrushingQueue
from service.desk.crushing.sheet import BlockSheet
from service.desk.curing import acts
from service.desk.curing import queue as curing
from service.desk.curing.queue import CuringQueue
from service.web.api_input import ABOVE_LIMIT, Line, Number, Sent, Tick, maybe_typed, typed
from service.web.authentication import ApiCaller
from service.web.room import Room
from service.words.sentences import say

router = Room(prefix="/api/v1", tags=["crushings"])

PageNumber = Annotated[int, Query(alias="page", ge=1, le=10_000)]
OfJob = Annotated[UUID | None, Query(description="One job's blocks only.")]
Zero = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=-10, le=10, examples=[0.2])]
UNITS = {
    "gauge_mpa": "MPa",
    "length_mm": "mm",
    "width_mm": "mm",
    "height_mm": "mm",
    "mass_kg": "kg",
    "water_hours": "h",
    "out_of_water_min": "min",
    "loading_s": "s",
}


class SoakForm(Sent):
    """Blocks of one batch that go into the water."""

    block_ids: Annotated[list[UUID], Field(min_length=1, max_length=200)]
    started_at: AwareDatetime | None = None


class SoakEnd(Sent):
    """Blocks of one batch that come out of the water."""

    block_ids: Annotated[list[UUID], Field(min_length=1, max_length=200)]
    ended_at: AwareDatetime | None = None


class PressSessionForm(Sent):
    """A gauge with nothing on the press, before the first block."""

    gauge_id: UUID
    zero_before_mpa: Zero


class PressSessionEnd(Sent):
    """The same gauge after the last block."""

    zero_after_mpa: Zero


class CrushingForm(Sent):
    """How one block ended at the press; quantities in the units of their names."""

    outcome: Annotated[Literal["broke", "held", "fell apart", "spoiled"], Field(examples=["broke"])]
    state: Annotated[Literal["as cured", "air-dry", "oven-dry", "soaked"], Field(examples=["soaked"])]
    press_session_id: Annotated[UUID | None, Field(description="Needed where a gauge was read.")] = None
    gauge_mpa: Annotated[Number | None, Field(examples=[17.5])] = None
    peak_read: Literal["held needle", "watched", "filmed", "logged"] | None = None
    held_because: Literal["press limit", "agreed stop", "leak"] | None = None
    spoiled_because: Line | None = None
    failure: Line | None = None
    orientation: Literal["flat", "on edge", "on end"] = "flat"
    faces: Literal["bare", "packed", "capped", "ground"] = "bare"
    length_mm: Annotated[Number | None, Field(examples=[140.0], description="Of the loaded face.")] = None
    width_mm: Annotated[Number | None, Field(examples=[90.0], description="Of the loaded face.")] = None
    height_mm: Number | None = None
    mass_kg: Number | None = None
    water_hours: Annotated[Number | None, Field(examples=[24.0])] = None
    out_of_water_min: Number | None = None
    loading_s: Annotated[Number | None, Field(description="From the first load to the highest reading.")] = None
    remark: Line | None = None
    crushed_at: Annotated[AwareDatetime | None, Field(description="With its offset; left out: now.")] = None
    above_limit: Annotated[Tick, Field(description=ABOVE_LIMIT)] = False

    def given(self) -> Given:
        """Return what was sent, as the desk takes it."""
        words = self.model_dump(exclude={*UNITS, *CORRECTING})
        quantities: dict[str, Any] = {name: maybe_typed(getattr(self, name), unit) for name, unit in UNITS.items()}
        return Given(**words, **quantities)


CORRECTING = ("because", "gauge_id")


class CrushingCorrection(CrushingForm):
    """A reading in the place of another, and why."""

    because: Annotated[Line, Field(examples=["Read from the wrong ring of the dial."])]
    gauge_id: UUID | None = None


class WithdrawalForm(Sent):
    """Why a reading is taken back."""

    because: Annotated[Line, Field(examples=["It was typed for the wrong block."])]


@router.get("/curing")
def show_curing(caller: ApiCaller, job_id: OfJob = None, page_number: PageNumber = 1) -> CuringQueue:
    """List a page of curing blocks: what to soak, take out or crush, and by when."""
    return curing.queue(caller, job_id=job_id, page=page_number)


@router.post("/soaks", status_code=201)
def put_to_soak(caller: ApiCaller, sent: SoakForm) -> dict[str, Any]:
    """Put blocks of one batch into the water."""
    done = acts.put_to_soak(caller, block_ids=sent.block_ids, started_at=sent.started_at)
    return {"id": done.id, "blocks": done.details["blocks"]}


@router.post("/soaks/end", status_code=201)
def take_out(caller: ApiCaller, sent: SoakEnd) -> dict[str, Any]:
    """Take blocks of one batch out of the water."""
    done = acts.take_out(caller, block_ids=sent.block_ids, ended_at=sent.ended_at)
    return {"id": done.id, "blocks": done.details["blocks"]}


@router.get("/crushings/queue")
def show_queue(caller: ApiCaller, job_id: OfJob = None, page_number: PageNumber = 1) -> CrushingQueue:
    """List a page of the blocks due at the press, in random order."""
    return queue.queue(caller, job_id=job_id, page=page_number)


@router.post("/press-sessions", status_code=201)
def open_press_session(caller: ApiCaller, sent: PressSessionForm) -> dict[str, Any]:
    """Start a press session with the unloaded gauge reading."""
    zero = typed(sent.zero_before_mpa, "MPa")
    return {"id": press.open_press_session(caller, gauge_id=sent.gauge_id, zero_before_mpa=zero).id}


@router.post("/press-sessions/{press_session_id}/close", status_code=201)
def close_press_session(caller: ApiCaller, press_session_id: UUID, sent: PressSessionEnd) -> dict[str, Any]:
    """End a press session with the unloaded gauge reading."""
    zero = typed(sent.zero_after_mpa, "MPa")
    return {"id": press.close_press_session(caller, press_session_id=press_session_id, zero_after_mpa=zero).id}


@router.get("/blocks/{block_id}")
def show_block(caller: ApiCaller, block_id: UUID) -> dict[str, Any]:
    """Give one block, its stays in the water and every reading of it."""
    return _block(sheet.sheet(caller, block_id=block_id))


@router.post("/blocks/{block_id}/crushings", status_code=201)
def record(caller: ApiCaller, block_id: UUID, sent: CrushingForm) -> dict[str, Any]:
    """Record how a block ended. A second reading of the same block is refused and names who was first."""
    return {"id": reading.record(caller, block_id=block_id, given=sent.given()).id}


@router.post("/crushings/{crushing_id}/corrections", status_code=201)
def correct(caller: ApiCaller, crushing_id: UUID, sent: CrushingCorrection) -> dict[str, Any]:
    """Correct a reading; the first one stays in the history."""
    done = reading.correct(
        caller, crushing_id=crushing_id, given=sent.given(), because=sent.because, gauge_id=sent.gauge_id
    )
    return {"id": done.id}


@router.post("/crushings/{crushing_id}/withdrawals", status_code=201)
def withdraw(caller: ApiCaller, crushing_id: UUID, sent: WithdrawalForm) -> dict[str, Any]:
    """Withdraw a reading; it stays in the history and the block is due again."""
    return {"id": reading.withdraw(caller, crushing_id=crushing_id, because=sent.because).id}


OF_A_BLOCK = (
    *("id", "label", "job_id", "batch_id", "recipe", "condition", "pressed_at", "length_mm", "width_mm", "height_mm"),
    *("wet_mass_kg", "crush_order", "cracked_because", "lost_at", "lost_because", "soaks"),
)
OF_A_READING = (
    *("id", "stress_mpa", "force_kn", "length_mm", "width_mm", "mass_kg", "water_hours", "crushed_at", "crushed_by"),
    *("age_days", "ended_at", "ended_because"),
)
AS_TYPED = (
    "outcome",
    "state",
    "held_because",
    "spoiled_because",
    "failure",
    "orientation",
    "faces",
    "remark",
    "as_read",
)


def _block(block: BlockSheet) -> dict[str, Any]:
    readings = [one for one in (block.standing, *block.earlier) if one is not None]
    return {
        **{name: getattr(block, name) for name in OF_A_BLOCK},
        "window_from": block.window.window_from,
        "window_to": block.window.window_to,
        "crushings": [_reading(one) for one in readings],
        "rates": block.rates,
    }


def _reading(one: CrushingFacts) -> dict[str, Any]:
    return {
        **{name: getattr(one, name) for name in OF_A_READING},
        **{name: getattr(one.how, name) for name in AS_TYPED},
        "left_out": [say(phrase) for phrase in one.left_out],
        "flags": [say(phrase) for phrase in one.flags],
    }
