"""Blocks for programs: the trial block, every block of a batch, and what is damaged or missing."""

from typing import Annotated, Any
from uuid import UUID

from pydantic import AwareDatetime, Field

from service.desk.mixing import pressing
from service.desk.mixing.pressing import Pressed
from service.web.api_input import ABOVE_LIMIT, Count, Line, Name, Number, Sent, Tick, maybe_typed, typed
from service.web.authentication import ApiCaller
from service.web.room import Room

router = Room(prefix="/api/v1", tags=["pressing"])


class TestChargeForm(Sent):
    """A trial fill."""

    charge_kg: Annotated[Number, Field(examples=[2.6])]
    height_mm: Annotated[Number, Field(examples=[101.5])]
    wet_mass_kg: Number | None = None
    pressed_gauge_mpa: Number | None = None
    pressed_stroke_mm: Number | None = None
    press_gauge_id: UUID | None = None
    accepted: Tick = False
    made_at: AwareDatetime | None = None
    above_limit: Annotated[Tick, Field(description=ABOVE_LIMIT)] = False


class PressedForm(Sent):
    """How a block was pressed and what it measured."""

    charge_kg: Annotated[Number | None, Field(examples=[2.6])] = None
    heights_mm: Annotated[tuple[Number, ...], Field(max_length=8, examples=[[100.2, 99.8, 100.0, 100.1]])] = ()
    wet_mass_kg: Annotated[Number | None, Field(examples=[2.58])] = None
    press_gauge_id: UUID | None = None
    pressed_gauge_mpa: Number | None = None
    pressed_stroke_mm: Number | None = None
    dwell_s: Number | None = None
    mould_release: Name | None = None
    cracked_because: Line | None = None
    remark: Line | None = None
    pressed_at: AwareDatetime | None = None
    above_limit: Annotated[Tick, Field(description=ABOVE_LIMIT)] = False

    def pressed(self) -> Pressed:
        """Return the same as the desk takes it."""
        return Pressed(
            charge_kg=maybe_typed(self.charge_kg, "kg"),
            heights_mm=tuple(typed(height, "mm") for height in self.heights_mm),
            wet_mass_kg=maybe_typed(self.wet_mass_kg, "kg"),
            press_gauge_id=self.press_gauge_id,
            pressed_gauge_mpa=maybe_typed(self.pressed_gauge_mpa, "MPa"),
            pressed_stroke_mm=maybe_typed(self.pressed_stroke_mm, "mm"),
            dwell_s=maybe_typed(self.dwell_s, "s"),
            mould_release=self.mould_release,
            cracked_because=self.cracked_because,
            remark=self.remark,
            above_limit=self.above_limit,
        )


class BlockForm(PressedForm):
    """One block at its place in the batch."""

    position: Annotated[Count, Field(examples=[1])]
    lost_because: Annotated[Line | None, Field(description="A lost block is counted and needs no mass.")] = None


class BlockCorrection(PressedForm):
    """The block as it was in truth; what is left out is emptied."""

    because: Annotated[Line, Field(examples=["The scale was not tared."])]


class LossForm(Sent):
    """Why a block is damaged or missing."""

    because: Annotated[Line, Field(examples=["Dropped on the way to the rack."])]


@router.post("/batches/{batch_id}/test-charges", status_code=201)
def try_charge(caller: ApiCaller, batch_id: UUID, sent: TestChargeForm) -> dict[str, Any]:
    """Save a trial fill."""
    done = pressing.try_charge(
        caller,
        batch_id=batch_id,
        charge_kg=typed(sent.charge_kg, "kg"),
        height_mm=typed(sent.height_mm, "mm"),
        wet_mass_kg=maybe_typed(sent.wet_mass_kg, "kg"),
        pressed_gauge_mpa=maybe_typed(sent.pressed_gauge_mpa, "MPa"),
        pressed_stroke_mm=maybe_typed(sent.pressed_stroke_mm, "mm"),
        press_gauge_id=sent.press_gauge_id,
        accepted=sent.accepted,
        made_at=sent.made_at,
        above_limit=sent.above_limit,
    )
    return {"id": done.id}


@router.post("/batches/{batch_id}/blocks", status_code=201)
def press(caller: ApiCaller, batch_id: UUID, sent: BlockForm) -> dict[str, Any]:
    """Save a pressed block."""
    done = pressing.press_block(
        caller,
        batch_id=batch_id,
        position=sent.position,
        pressed=sent.pressed(),
        lost_because=sent.lost_because,
        pressed_at=sent.pressed_at,
    )
    return {"id": done.id, "label": done.details["label"]}


@router.post("/blocks/{block_id}/pressing-corrections", status_code=201)
def correct(caller: ApiCaller, block_id: UUID, sent: BlockCorrection) -> dict[str, Any]:
    """Correct how a block was pressed; the first values stay in the history."""
    given: dict[str, Any] = {"pressed": sent.pressed(), "because": sent.because, "pressed_at": sent.pressed_at}
    return {"id": pressing.correct_block(caller, block_id=block_id, **given).id}


@router.post("/blocks/{block_id}/losses", status_code=201)
def lose(caller: ApiCaller, block_id: UUID, sent: LossForm) -> dict[str, Any]:
    """Record a block as damaged or missing."""
    return {"id": pressing.lose_block(caller, block_id=block_id, because=sent.because).id}
