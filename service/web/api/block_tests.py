"""Tests of blocks besides crushing, for programs: the same use cases, in the units of their names."""

from typing import Annotated, Any, Literal
from uuid import UUID

from pydantic import AwareDatetime, Field

from service.desk.block_tests import recording, sheet
from service.desk.block_tests.given import Bending, Eroding, Given, Weighing, Wetting
from service.desk.block_tests.sheet import TestFacts
from service.web.api_input import ABOVE_LIMIT, Count, Line, Number, Sent, Tick, Words, maybe_typed, typed
from service.web.authentication import ApiCaller
from service.web.room import Room
from service.words.sentences import say

router = Room(prefix="/api/v1/blocks/{block_id}/tests", tags=["bending, water and wear tests"])

When = Annotated[AwareDatetime | None, Field(description="With its offset; left out: now.")]
Because = Annotated[Line, Field(examples=["It was read from the wrong ring of the dial."])]


class BendingForm(Sent):
    """A block bent on two supports: either the force, or what the gauge of an open press session showed."""

    outcome: Annotated[Literal["broke", "held"], Field(examples=["broke"])]
    state: Annotated[Literal["as cured", "air-dry", "oven-dry", "soaked"], Field(examples=["air-dry"])]
    laid: Literal["flat", "on edge"] = "flat"
    span_mm: Annotated[Number, Field(examples=[120.0], description="Between the middles of the supports.")]
    width_mm: Annotated[Number, Field(examples=[90.0], description="Across the span.")]
    thickness_mm: Annotated[Number, Field(examples=[75.0], description="In the direction of the force.")]
    force_kn: Annotated[Number | None, Field(examples=[2.5])] = None
    gauge_mpa: Number | None = None
    press_session_id: Annotated[UUID | None, Field(description="Needed where a gauge was read.")] = None
    remark: Words | None = None
    done_at: When = None
    above_limit: Annotated[Tick, Field(description=ABOVE_LIMIT)] = False

    def given(self) -> Bending:
        """Return what was sent, as the desk takes it."""
        return Bending(
            outcome=self.outcome,
            state=self.state,
            laid=self.laid,
            span_mm=typed(self.span_mm, "mm"),
            width_mm=typed(self.width_mm, "mm"),
            thickness_mm=typed(self.thickness_mm, "mm"),
            force_kn=maybe_typed(self.force_kn, "kN"),
            gauge_mpa=maybe_typed(self.gauge_mpa, "MPa"),
            press_session_id=self.press_session_id,
            remark=self.remark,
            done_at=self.done_at,
            above_limit=self.above_limit,
        )


class WettingForm(Sent):
    """A block weighed before the water, and after it where both are sent at once."""

    manner: Annotated[Literal["under water", "damp surface"], Field(examples=["under water"])]
    state_before: Annotated[Literal["oven-dry", "air-dry", "as cured"], Field(examples=["oven-dry"])]
    before_kg: Annotated[Number, Field(examples=[2.0])]
    wetted_at: When = None
    outcome: Literal["weighed", "fell apart"] | None = None
    after_kg: Number | None = None
    weighed_at: When = None
    remark: Words | None = None

    def given(self) -> Wetting:
        """Return what was sent, as the desk takes it."""
        return Wetting(
            manner=self.manner,
            state_before=self.state_before,
            before_kg=typed(self.before_kg, "kg"),
            wetted_at=self.wetted_at,
            outcome=self.outcome,
            after_kg=maybe_typed(self.after_kg, "kg"),
            weighed_at=self.weighed_at,
            remark=self.remark,
        )


class WeighedForm(Sent):
    """What a block weighs after the water."""

    outcome: Annotated[Literal["weighed", "fell apart"], Field(examples=["weighed"])]
    after_kg: Annotated[Number | None, Field(examples=[2.24])] = None
    weighed_at: When = None


class ErodingForm(Sent):
    """A block on which water dripped or was sprayed."""

    manner: Annotated[Literal["drip", "spray"], Field(examples=["drip"])]
    outcome: Annotated[Literal["measured", "went through"], Field(examples=["measured"])]
    water_min: Annotated[Number, Field(examples=[40.0])]
    depth_mm: Annotated[Number | None, Field(examples=[3.0])] = None
    pressure_mpa: Annotated[Number | None, Field(description="Of a spray.")] = None
    remark: Words | None = None
    done_at: When = None

    def given(self) -> Eroding:
        """Return what was sent, as the desk takes it."""
        return Eroding(
            manner=self.manner,
            outcome=self.outcome,
            water_min=typed(self.water_min, "min"),
            depth_mm=maybe_typed(self.depth_mm, "mm"),
            pressure_mpa=maybe_typed(self.pressure_mpa, "MPa"),
            remark=self.remark,
            done_at=self.done_at,
        )


class WeighingForm(Sent):
    """The oven-dry mass of a block after so many cycles; number 0 before the first."""

    number: Annotated[Count, Field(examples=[0])]
    outcome: Annotated[Literal["weighed", "fell apart"], Field(examples=["weighed"])]
    mass_kg: Annotated[Number | None, Field(examples=[2.0])] = None
    remark: Words | None = None
    done_at: When = None

    def given(self) -> Weighing:
        """Return what was sent, as the desk takes it."""
        mass = maybe_typed(self.mass_kg, "kg")
        return Weighing(
            number=self.number, outcome=self.outcome, mass_kg=mass, remark=self.remark, done_at=self.done_at
        )


class BendingCorrection(BendingForm):
    """A bending in the place of another, and why."""

    because: Because


class WettingCorrection(WettingForm):
    """An absorption in the place of another, and why."""

    because: Because


class ErodingCorrection(ErodingForm):
    """An erosion in the place of another, and why."""

    because: Because


class WeighingCorrection(WeighingForm):
    """A weighing in the place of another, and why."""

    because: Because


class ExcludeForm(Sent):
    """Why a test is excluded."""

    because: Because


@router.get("")
def show(caller: ApiCaller, block_id: UUID) -> dict[str, Any]:
    """List the other tests of a block, corrected ones too, and which used it up."""
    block = sheet.block(caller, block_id=block_id)
    return {
        "id": block.id,
        "label": block.label,
        "used_up": block.used_up,
        "mass_lost": block.lost_share,
        "tests": [_told(one) for one in (*block.standing, *block.earlier)],
    }


def _told(one: TestFacts) -> dict[str, Any]:
    names = ("id", "test", "as_read", "came_to", "force_kn", "done_at", "done_by", "ended_at", "ended_because")
    return {
        **{name: getattr(one, name) for name in names},
        **one.words,
        "flags": [say(phrase) for phrase in one.flags],
    }


@router.post("/bending", status_code=201)
def bend(caller: ApiCaller, block_id: UUID, sent: BendingForm) -> dict[str, Any]:
    """Record a bending test."""
    return _kept(caller, block_id, sent.given())


@router.post("/absorption", status_code=201)
def wet(caller: ApiCaller, block_id: UUID, sent: WettingForm) -> dict[str, Any]:
    """Record the first weighing of an absorption test."""
    return _kept(caller, block_id, sent.given())


@router.post("/absorption/after", status_code=201)
def weigh_again(caller: ApiCaller, block_id: UUID, sent: WeighedForm) -> dict[str, Any]:
    """Record the second weighing of an absorption test."""
    after = maybe_typed(sent.after_kg, "kg")
    done = recording.weigh_again(
        caller, block_id=block_id, outcome=sent.outcome, after_kg=after, weighed_at=sent.weighed_at
    )
    return {"id": done.details["reading_id"]}


@router.post("/erosion", status_code=201)
def erode(caller: ApiCaller, block_id: UUID, sent: ErodingForm) -> dict[str, Any]:
    """Record an erosion test by drip or spray."""
    return _kept(caller, block_id, sent.given())


@router.post("/cycles", status_code=201)
def weigh(caller: ApiCaller, block_id: UUID, sent: WeighingForm) -> dict[str, Any]:
    """Record the oven-dry mass of a block before or after a cycle."""
    return _kept(caller, block_id, sent.given())


def _kept(caller: ApiCaller, block_id: UUID, given: Given) -> dict[str, Any]:
    return {"id": recording.record(caller, block_id=block_id, given=given).details["reading_id"]}


@router.post("/bending/{reading_id}/corrections", status_code=201)
def correct_bending(caller: ApiCaller, block_id: UUID, reading_id: UUID, sent: BendingCorrection) -> dict[str, Any]:
    """Correct a bending test; the first one stays in the history."""
    return _corrected(caller, block_id, reading_id, sent.given(), sent.because)


@router.post("/absorption/{reading_id}/corrections", status_code=201)
def correct_wetting(caller: ApiCaller, block_id: UUID, reading_id: UUID, sent: WettingCorrection) -> dict[str, Any]:
    """Correct an absorption test; the first one stays in the history."""
    return _corrected(caller, block_id, reading_id, sent.given(), sent.because)


@router.post("/erosion/{reading_id}/corrections", status_code=201)
def correct_eroding(caller: ApiCaller, block_id: UUID, reading_id: UUID, sent: ErodingCorrection) -> dict[str, Any]:
    """Correct an erosion test; the first one stays in the history."""
    return _corrected(caller, block_id, reading_id, sent.given(), sent.because)


@router.post("/cycles/{reading_id}/corrections", status_code=201)
def correct_weighing(caller: ApiCaller, block_id: UUID, reading_id: UUID, sent: WeighingCorrection) -> dict[str, Any]:
    """Correct a weighing; the first one stays in the history."""
    return _corrected(caller, block_id, reading_id, sent.given(), sent.because)


def _corrected(caller: ApiCaller, block_id: UUID, reading_id: UUID, given: Given, because: str) -> dict[str, Any]:
    done = recording.correct(caller, block_id=block_id, reading_id=reading_id, given=given, because=because)
    return {"id": done.details["reading_id"]}


@router.post("/{test}/{reading_id}/exclude", status_code=201)
def exclude(caller: ApiCaller, block_id: UUID, test: str, reading_id: UUID, sent: ExcludeForm) -> dict[str, Any]:
    """Exclude a test; it stays in the history."""
    done = recording.exclude(caller, block_id=block_id, test=test, reading_id=reading_id, because=sent.because)
    return {"id": done.details["reading_id"]}
