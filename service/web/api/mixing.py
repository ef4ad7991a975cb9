"""Batches for programs: what to weigh, what was weighed, and cans of the mix."""

from typing import Annotated, Any, Literal
from uuid import UUID

from pydantic import AwareDatetime, Field

from service.desk.mixing import begin_batch, cancelling, sheets, weighing
from service.desk.mixing.sheets import BatchSheet, Round
from service.web.api_input import Count, Line, Number, Sent, maybe_typed, typed
from service.web.authentication import ApiCaller
from service.web.room import Room

router = Room(prefix="/api/v1", tags=["mixing"])


class BatchForm(Sent):
    """The next batch of a recipe."""

    scale_graduation_kg: Annotated[Number, Field(examples=[0.005])]
    dry_mass_per_block_kg: Annotated[Number | None, Field(description="From mould and density when left out.")] = None
    waste: Number | None = None
    test_charges: Count = 1
    mixer_kg: Annotated[Number | None, Field(description="The most damp mix that the mixer takes.")] = None
    moistures: Annotated[
        dict[UUID, Number],
        Field(default_factory=dict, description="Water over dry mass, by material without a can.", max_length=20),
    ]


class WeighingForm(Sent):
    """What was weighed, by the id of the part; what is left out is weighed later."""

    weighed_kg: Annotated[dict[UUID, Number], Field(default_factory=dict, max_length=40)]
    water_kg: Number | None = None
    wetted_at: AwareDatetime | None = None
    remark: Line | None = None


class CorrectionForm(Sent):
    """What was weighed in truth, and why it was written down otherwise."""

    weighed_kg: Annotated[dict[UUID, Number], Field(default_factory=dict, max_length=40)]
    water_kg: Number | None = None
    wetted_at: AwareDatetime | None = None
    because: Annotated[Line, Field(examples=["The pan was not tared."])]


class CancelForm(Sent):
    """Why a batch is taken back."""

    because: Annotated[Line, Field(examples=["Begun twice."])]


class CanForm(Sent):
    """A can of the mix."""

    wet_kg: Annotated[Number, Field(examples=[0.512])]
    dry_kg: Annotated[Number, Field(examples=[0.478])]
    can_kg: Annotated[Number | None, Field(examples=[0.051])] = None
    method: Literal["oven", "microwave", "air", "stove"] = "oven"
    temperature_c: Number | None = None
    done_at: AwareDatetime | None = None


class ExcludeForm(Sent):
    """Why a can does not count."""

    because: Annotated[Line, Field(examples=["It was opened in the rain."])]


@router.get("/jobs/{job_id}/batches")
def show_round(caller: ApiCaller, job_id: UUID) -> Round:
    """List the batches of a job, started or not."""
    return sheets.round_of(caller, job_id=job_id)


@router.post("/recipes/{recipe_id}/batches", status_code=201)
def start(caller: ApiCaller, recipe_id: UUID, sent: BatchForm) -> dict[str, Any]:
    """Start the next batch of a recipe."""
    done = begin_batch.start_batch(
        caller,
        recipe_id=recipe_id,
        scale_graduation_kg=typed(sent.scale_graduation_kg, "kg"),
        dry_mass_per_block_kg=maybe_typed(sent.dry_mass_per_block_kg, "kg"),
        waste=maybe_typed(sent.waste, "of 1"),
        test_charges=sent.test_charges,
        mixer_kg=maybe_typed(sent.mixer_kg, "kg"),
        moistures=[(material_id, typed(water, "of 1")) for material_id, water in sent.moistures.items()],
    )
    return {"id": done.id, "number": done.details["number"]}


@router.get("/batches/{batch_id}")
def show(caller: ApiCaller, batch_id: UUID) -> BatchSheet:
    """Give a batch: what to weigh, what was weighed, trial fills and blocks."""
    return sheets.batch(caller, batch_id=batch_id)


@router.post("/batches/{batch_id}/cancel", status_code=201)
def cancel(caller: ApiCaller, batch_id: UUID, sent: CancelForm) -> dict[str, Any]:
    """Cancel a batch of which nothing was weighed."""
    return {"id": cancelling.cancel_batch(caller, batch_id=batch_id, because=sent.because).id}


@router.post("/batches/{batch_id}/weighings", status_code=201)
def weigh(caller: ApiCaller, batch_id: UUID, sent: WeighingForm) -> dict[str, Any]:
    """Save masses."""
    done = weighing.weigh(caller, batch_id=batch_id, remark=sent.remark, **_masses(sent))
    return {"id": done.id, "mixed": done.details["mixed"] is not None}


@router.post("/batches/{batch_id}/corrections", status_code=201)
def correct(caller: ApiCaller, batch_id: UUID, sent: CorrectionForm) -> dict[str, Any]:
    """Correct the weights."""
    return {"id": weighing.correct_weighing(caller, batch_id=batch_id, because=sent.because, **_masses(sent)).id}


def _masses(sent: WeighingForm | CorrectionForm) -> dict[str, Any]:
    return {
        "weighed": [(part_id, typed(mass, "kg")) for part_id, mass in sent.weighed_kg.items()],
        "water_kg": maybe_typed(sent.water_kg, "kg"),
        "wetted_at": sent.wetted_at,
    }


@router.post("/batches/{batch_id}/cans", status_code=201)
def weigh_can(caller: ApiCaller, batch_id: UUID, sent: CanForm) -> dict[str, Any]:
    """Save a moisture can of the batch."""
    done = weighing.weigh_can(
        caller,
        batch_id=batch_id,
        wet_kg=typed(sent.wet_kg, "kg"),
        dry_kg=typed(sent.dry_kg, "kg"),
        can_kg=maybe_typed(sent.can_kg, "kg"),
        method=sent.method,
        temperature_c=maybe_typed(sent.temperature_c, "°C"),
        done_at=sent.done_at,
    )
    return {"id": done.id, "moisture": done.details["moisture"]}


@router.post("/batches/cans/{can_id}/exclude", status_code=201)
def exclude_can(caller: ApiCaller, can_id: UUID, sent: ExcludeForm) -> dict[str, Any]:
    """Exclude a can of a batch."""
    return {"id": weighing.exclude_can(caller, can_id=can_id, because=sent.because).id}
