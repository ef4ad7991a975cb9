"""The moisture trial for programs: blocks pressed alike at several moistures, and the densest."""

from typing import Annotated, Any
from uuid import UUID

from pydantic import Field

from service.desk.plan import moisture
from service.desk.plan.moisture import MoistureSheet
from service.web.api_input import Line, Number, Sent, typed
from service.web.authentication import ApiCaller
from service.web.room import Room

router = Room(prefix="/api/v1", tags=["plan"])


class TriedForm(Sent):
    """A block pressed at one moisture, which is all its water over the dry mix."""

    moisture: Annotated[Number, Field(examples=[0.10])]
    wet_mass_kg: Annotated[Number, Field(examples=[2.2])]
    length_mm: Annotated[Number, Field(examples=[140.0])]
    width_mm: Annotated[Number, Field(examples=[90.0])]
    height_mm: Annotated[Number, Field(examples=[88.0])]


class ExcludeForm(Sent):
    """Why a block does not count."""

    because: Annotated[Line, Field(examples=["It cracked at a corner."])]


@router.get("/jobs/{job_id}/moisture-trial")
def show(caller: ApiCaller, job_id: UUID) -> MoistureSheet:
    """Give the moisture trial, with the densest moisture from three blocks on."""
    return moisture.trial(caller, job_id=job_id)


@router.post("/jobs/{job_id}/moisture-trial", status_code=201)
def try_moisture(caller: ApiCaller, job_id: UUID, sent: TriedForm) -> dict[str, Any]:
    """Save a block pressed at one moisture."""
    done = moisture.try_moisture(
        caller,
        job_id=job_id,
        moisture=typed(sent.moisture, "of 1"),
        wet_mass_kg=typed(sent.wet_mass_kg, "kg"),
        length_mm=typed(sent.length_mm, "mm"),
        width_mm=typed(sent.width_mm, "mm"),
        height_mm=typed(sent.height_mm, "mm"),
    )
    return {"id": done.id, "dry_density_kg_m3": done.details["dry_density_kg_m3"]}


@router.post("/moisture-trial/{trial_id}/exclude", status_code=201)
def exclude(caller: ApiCaller, trial_id: UUID, sent: ExcludeForm) -> dict[str, Any]:
    """Exclude a block of the moisture trial."""
    return {"id": moisture.exclude(caller, trial_id=trial_id, because=sent.because).id}
