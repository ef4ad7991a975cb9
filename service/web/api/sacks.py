"""What is put right about sacks, for programs: words, cans, preparation, and tests that no longer count."""

from typing import Annotated, Any, Literal
from uuid import UUID

from pydantic import Field

from service.desk.intake import cans, sacks, soil_tests
from service.desk.intake.cans import CanGiven
from service.desk.intake.sacks import Sack
from service.web.api_input import Line, Number, Sent, Tick, maybe_typed, typed
from service.web.api_sacks import CanForm, SackWords
from service.web.authentication import ApiCaller
from service.web.room import Room

router = Room(prefix="/api/v1", tags=["soils"])


class SackCorrection(SackWords):
    """What is true of a sack, and why it was written down otherwise."""

    because: Annotated[Line, Field(examples=["The scale had not been zeroed."])]


class PreparationForm(Sent):
    """What was done to a sack before testing; a second entry replaces the first."""

    oversize_mm: Annotated[Number | None, Field(examples=[20.0])] = None
    oversize_kg: Annotated[Number | None, Field(examples=[1.3])] = None
    oversize_became: Annotated[Line | None, Field(examples=["crushed and put back"])] = None
    pulverised: Tick = False
    because: Line | None = None


class CanCorrection(CanForm):
    """A can as it was in truth, and why it was written down otherwise."""

    method: Literal["oven", "microwave", "stove", "air"] = "oven"
    temperature_c: Annotated[Number | None, Field(le=400, examples=[60.0])] = None
    because: Annotated[Line, Field(examples=["The tare was read twice."])]


class ExcludeForm(Sent):
    """Why something does not count."""

    because: Annotated[Line, Field(examples=["The lid was open overnight."])]


@router.post("/sacks/{receipt_id}/corrections", status_code=201)
def correct_sack(caller: ApiCaller, receipt_id: UUID, sent: SackCorrection) -> dict[str, Any]:
    """Correct a sack; the first values stay in the history."""
    words = sent.model_dump(exclude={"mass_kg", "depth_m", "because"})
    sack = Sack(mass_kg=typed(sent.mass_kg, "kg"), depth_m=maybe_typed(sent.depth_m, "m"), **words)
    done = sacks.correct_sack(caller, receipt_id=receipt_id, sack=sack, because=sent.because)
    return {"id": done.id, "correction_id": done.details["correction"]}


@router.post("/sacks/{receipt_id}/preparation", status_code=201)
def prepare(caller: ApiCaller, receipt_id: UUID, sent: PreparationForm) -> dict[str, Any]:
    """Save what was done to a sack before testing."""
    done = sacks.prepare(
        caller,
        receipt_id=receipt_id,
        oversize_mm=maybe_typed(sent.oversize_mm, "mm"),
        oversize_kg=maybe_typed(sent.oversize_kg, "kg"),
        oversize_became=sent.oversize_became,
        pulverised=sent.pulverised,
        because=sent.because,
    )
    return {"id": done.id}


@router.post("/sacks/cans/{can_id}/corrections", status_code=201)
def correct_can(caller: ApiCaller, can_id: UUID, sent: CanCorrection) -> dict[str, Any]:
    """Correct a can of a sack; the first values stay in the history."""
    can = CanGiven(typed(sent.wet_kg, "kg"), typed(sent.dry_kg, "kg"), maybe_typed(sent.can_kg, "kg"))
    done = cans.correct_can(
        caller,
        can_id=can_id,
        can=can,
        method=sent.method,
        temperature_c=maybe_typed(sent.temperature_c, "°C"),
        because=sent.because,
    )
    return {"id": done.id, "replaces_id": done.details["replaces"]}


@router.post("/sacks/cans/{can_id}/exclude", status_code=201)
def exclude_can(caller: ApiCaller, can_id: UUID, sent: ExcludeForm) -> dict[str, Any]:
    """Exclude a can of a sack."""
    return {"id": cans.exclude_can(caller, can_id=can_id, because=sent.because).id}


@router.post("/soils/tests/{test_id}/exclude", status_code=201)
def exclude_test(caller: ApiCaller, test_id: UUID, sent: ExcludeForm) -> dict[str, Any]:
    """Exclude a test of a soil."""
    return {"id": soil_tests.exclude_test(caller, test_id=test_id, because=sent.because).id}
