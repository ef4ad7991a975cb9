"""The plan for programs: the recipes of a job, and what soil they need."""

from datetime import date
from typing import Annotated, Any, Literal
from uuid import UUID

from pydantic import Field

from service.desk.plan import recipes, sheet
from service.desk.plan.recipes import (
    ComponentGiven,
    GroupGiven,
    RecipeGiven,
    StabiliserGiven,
    VolumeGiven,
    VolumesGiven,
)
from service.desk.plan.sheet import PlanSheet
from service.errors import Invalid
from service.web.api_input import Count, Line, Number, Sent, maybe_typed, typed
from service.web.authentication import ApiCaller
from service.web.room import Room

router = Room(prefix="/api/v1", tags=["plan"])

Basis = Literal["dry soil", "dry mix"]


class ComponentForm(Sent):
    """A soil or sand and its share of the blend, dry."""

    material_id: UUID
    share: Annotated[Number, Field(examples=[0.75])]


class StabiliserForm(Sent):
    """A stabiliser, its share, and of what."""

    material_id: UUID
    share: Annotated[Number, Field(examples=[0.06])]
    basis: Basis


class VolumeForm(Sent):
    """Parts by volume of a material, through its measured bulk density; one that is taken says from where."""

    material_id: UUID
    parts: Annotated[Number, Field(examples=[12])]
    taken_kg_m3: Annotated[Number | None, Field(description="Only where nothing was measured.")] = None
    taken_from: Line = ""

    def given(self) -> VolumeGiven:
        """Return it as the desk takes it."""
        taken = maybe_typed(self.taken_kg_m3, "kg/m3")
        return VolumeGiven(self.material_id, typed(self.parts, "of 1"), taken, self.taken_from)


class VolumesForm(Sent):
    """A recipe in parts by volume, in the place of components and stabilisers."""

    components: Annotated[tuple[VolumeForm, ...], Field(max_length=12)]
    stabilisers: Annotated[tuple[VolumeForm, ...], Field(max_length=12)] = ()


class GroupForm(Sent):
    """So many blocks of all batches together, crushed in one state at one age, or for another test."""

    condition: Literal["as cured", "air-dry", "oven-dry", "soaked"]
    age_days: Annotated[Number, Field(examples=[7])]
    tolerance_hours: Annotated[Number, Field(examples=[6])]
    soak_hours: Annotated[Number | None, Field(examples=[4])] = None
    soak_hours_max: Annotated[Number | None, Field(examples=[24])] = None
    blocks: Annotated[Count, Field(examples=[5])]
    test: Annotated[
        Literal["absorption", "bending", "erosion", "cycles"] | None,
        Field(description="The test that these blocks are for; without it they are crushed."),
    ] = None


class RecipeForm(Sent):
    """A recipe."""

    label: Annotated[Line | None, Field(description="One or two letters; proposed when left out.")] = None
    components: Annotated[tuple[ComponentForm, ...], Field(max_length=12)] = ()
    stabilisers: Annotated[tuple[StabiliserForm, ...], Field(max_length=12)] = ()
    by_volume: VolumesForm | None = None
    groups: Annotated[tuple[GroupForm, ...], Field(max_length=12)]
    target_moisture: Annotated[Number, Field(examples=[0.10])]
    moisture_basis: Basis = "dry mix"
    press_stress_mpa: Annotated[Number | None, Field(examples=[4.0])] = None
    press_stroke_mm: Number | None = None
    mould_id: UUID
    batches: Annotated[Count, Field(examples=[2])] = 1
    mix_on: date | None = None

    def volumes(self) -> VolumesGiven | None:
        """Return the parts by volume as the desk takes them; refused beside shares."""
        if self.by_volume is None:
            return None
        both = [name for name in ("components", "stabilisers") if getattr(self, name)]
        if both:
            raise Invalid(
                "Shares or parts by volume, not both.", dict.fromkeys(both, "This does not go with by_volume.")
            )
        return VolumesGiven(
            tuple(one.given() for one in self.by_volume.components),
            tuple(one.given() for one in self.by_volume.stabilisers),
        )

    def asked(self) -> RecipeGiven:
        """Return the recipe as the desk takes it."""
        return RecipeGiven(
            components=tuple(ComponentGiven(one.material_id, typed(one.share, "of 1")) for one in self.components),
            stabilisers=tuple(
                StabiliserGiven(one.material_id, typed(one.share, "of 1"), one.basis) for one in self.stabilisers
            ),
            groups=tuple(_group(one) for one in self.groups),
            target_moisture=typed(self.target_moisture, "of 1"),
            moisture_basis=self.moisture_basis,
            mould_id=self.mould_id,
            batches=self.batches,
            press_stress_mpa=maybe_typed(self.press_stress_mpa, "MPa"),
            press_stroke_mm=maybe_typed(self.press_stroke_mm, "mm"),
            mix_on=self.mix_on,
            label=self.label,
        )


def _group(one: GroupForm) -> GroupGiven:
    return GroupGiven(
        condition=one.condition,
        age_days=typed(one.age_days, "d"),
        blocks=one.blocks,
        tolerance_hours=typed(one.tolerance_hours, "h"),
        soak_hours=maybe_typed(one.soak_hours, "h"),
        soak_hours_max=maybe_typed(one.soak_hours_max, "h"),
        test=one.test,
    )


class DropForm(Sent):
    """Why a recipe is taken out of the plan."""

    because: Annotated[Line, Field(examples=["The customer will not haul sand."])]


@router.get("/jobs/{job_id}/recipes")
def show(caller: ApiCaller, job_id: UUID) -> PlanSheet:
    """Give the recipes of a job, the random order, and soil needed and in hand."""
    return sheet.sheet(caller, job_id=job_id)


@router.post("/jobs/{job_id}/recipes", status_code=201)
def add(caller: ApiCaller, job_id: UUID, sent: RecipeForm) -> dict[str, Any]:
    """Plan a recipe."""
    done = recipes.add_recipe(caller, job_id=job_id, asked=sent.asked(), volumes=sent.volumes())
    return {"id": done.id, "label": done.details["label"]}


@router.post("/recipes/{recipe_id}/change", status_code=201)
def change(caller: ApiCaller, recipe_id: UUID, sent: RecipeForm) -> dict[str, Any]:
    """Change a recipe that is not mixed yet."""
    done = recipes.change_recipe(caller, recipe_id=recipe_id, asked=sent.asked(), volumes=sent.volumes())
    return {"id": done.id, "label": done.details["label"]}


@router.post("/jobs/{job_id}/recipes/{recipe_id}/replace", status_code=201)
def replace(caller: ApiCaller, job_id: UUID, recipe_id: UUID, sent: RecipeForm) -> dict[str, Any]:
    """Replace a mixed recipe by another."""
    done = recipes.add_recipe(caller, job_id=job_id, asked=sent.asked(), volumes=sent.volumes(), replaces_id=recipe_id)
    return {"id": done.id, "label": done.details["label"]}


@router.post("/recipes/{recipe_id}/drop", status_code=201)
def drop(caller: ApiCaller, recipe_id: UUID, sent: DropForm) -> dict[str, Any]:
    """Take a recipe out of the plan and say why."""
    return {"id": recipes.drop_recipe(caller, recipe_id=recipe_id, because=sent.because).id}
