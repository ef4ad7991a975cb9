"""The plan of a job: its recipes, the soil they need, and the form of a recipe."""

import re
from collections.abc import Container, Sequence
from typing import Annotated, Any
from uuid import UUID

from fastapi import Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse
from markupsafe import Markup

from service.desk import jobs_in_hand
from service.desk.plan import days, recipes, repeat, sheet
from service.desk.plan.recipes import (
    ComponentGiven,
    GroupGiven,
    RecipeGiven,
    StabiliserGiven,
    VolumeGiven,
    VolumesGiven,
)
from service.desk.plan.usual_groups import USUAL_GROUPS
from service.desk.results import shares_to_press
from service.paper.detectable_difference_chart import Told, apart_chart
from service.trade.block.durability_tests import PLANNED_TESTS
from service.web.authentication import SentForm, StaffCaller
from service.web.error_pages import form_of
from service.web.form_input import FormReader, reading
from service.web.responses import page, see
from service.web.room import Room

router = Room()

COMPONENT_ROWS, STABILISER_ROWS, GROUP_ROWS = 4, 3, 4
TAKEN = re.compile(r"([0-9a-f-]{36}):([0-9]{1,3}(?:\.[0-9])?)", re.ASCII)
CONDITIONS = (("as cured", "not soaked"), ("soaked", "soaked"), ("air-dry", "air-dried"), ("oven-dry", "oven-dried"))
By = Annotated[str, Query(max_length=10)]
BASES = (("dry soil", "of the dry soil"), ("dry mix", "of the dry mix"))


@router.get("/jobs/{job_id}/plan")
def show(request: Request, caller: StaffCaller, job_id: UUID) -> HTMLResponse:
    """Show the recipes of a job and whether the soil reaches."""
    plan = sheet.sheet(caller, job_id=job_id)
    lines = [Told(mixes, shares) for mixes, shares in plan.detectable_difference.shares.items()]
    # The drawing holds numbers and words of this service alone.
    drawn = Markup(apart_chart(lines, planned=plan.detectable_difference.planned, prefix="apart"))
    on_closed = days.of_plan(caller, recipes=plan.recipes)
    job = jobs_in_hand.card(caller, job_id=job_id)
    earlier = [] if plan.recipes else repeat.earlier(caller, job_id=job_id)
    view: dict[str, Any] = {"job": job, "plan": plan, "drawn": drawn, "on_closed": on_closed, "earlier": earlier}
    return page(request, "plan.html", caller=caller, **view)


@router.post("/jobs/{job_id}/plan/like")
@form_of("/jobs/{job_id}/plan")
def plan_like(caller: StaffCaller, form: SentForm, job_id: UUID) -> RedirectResponse:
    """Plan a job as an earlier one."""
    with reading(form, caller.shop) as read:
        number = read.count("number", least=1, most=999_999_999)
    repeat.repeat(caller, job_id=job_id, number=number)
    return see(f"/jobs/{job_id}/plan")


@router.get("/jobs/{job_id}/plan/new")
def show_new(
    request: Request,
    caller: StaffCaller,
    job_id: UUID,
    take: Annotated[list[str] | None, Query(max_length=COMPONENT_ROWS)] = None,
    moisture: Annotated[float | None, Query(gt=0, lt=100)] = None,
    like: UUID | None = None,
    share: Annotated[float | None, Query(gt=0, lt=100)] = None,
    by: By = "",
) -> HTMLResponse:
    """Show the form of a recipe, filled with what was used last, or with another recipe and a share of its own."""
    asked = sheet.form_like(caller, job_id=job_id, recipe_id=like) if like else sheet.form(caller, job_id=job_id)
    heading = f"Plan recipe {asked.label}"
    taken = _taken(take or (), {str(one.id) for one in asked.soils})
    return _form(
        request,
        caller,
        asked,
        action=f"/jobs/{job_id}/plan",
        heading=heading,
        taken=taken,
        water=moisture,
        dose=share if like else None,
        by=by,
    )


def _taken(take: Sequence[str], offered: Container[str]) -> list[tuple[str, str]]:
    """Return the soils and percents of a blend handed over in the address; what makes no sense is left out."""
    pairs = [TAKEN.fullmatch(one) for one in take]
    return [(pair[1], pair[2]) for pair in pairs if pair and pair[1] in offered]


@router.post("/jobs/{job_id}/plan")
@form_of("/jobs/{job_id}/plan/new")
def add(caller: StaffCaller, form: SentForm, job_id: UUID) -> RedirectResponse:
    """Plan a recipe."""
    with reading(form, caller.shop) as read:
        asked, volumes = _recipe(read)
    recipes.add_recipe(caller, job_id=job_id, asked=asked, volumes=volumes)
    return see(f"/jobs/{job_id}/plan")


@router.get("/jobs/{job_id}/plan/shares")
def show_shares(request: Request, caller: StaffCaller, job_id: UUID) -> HTMLResponse:
    """Show which shares of stabiliser settle the customer's question soonest."""
    found = shares_to_press.which_shares(caller, job_id=job_id)
    return page(request, "shares_to_press.html", caller=caller, sheet=found)


@router.post("/jobs/{job_id}/plan/shares")
@form_of("/jobs/{job_id}/plan/shares")
def add_shares(caller: StaffCaller, form: SentForm, job_id: UUID) -> RedirectResponse:
    """Plan a recipe for each of the shares proposed."""
    with reading(form, caller.shop) as read:
        shares = tuple(read.quantity(f"shares.{row}", "share", unit="%") for row in read.rows("shares", most=3))
        blocks, mixes = read.count("blocks", least=1, most=20), read.count("mixes", least=1, most=12)
    recipes.add_shares(caller, job_id=job_id, shares=shares, blocks=blocks, mixes=mixes)
    return see(f"/jobs/{job_id}/plan")


@router.get("/recipes/{recipe_id}")
def show_change(request: Request, caller: StaffCaller, recipe_id: UUID, by: By = "") -> HTMLResponse:
    """Show a recipe in its form, to change it."""
    asked = sheet.form_of(caller, recipe_id=recipe_id)
    heading = f"Change recipe {asked.label}"
    return _form(request, caller, asked, action=f"/recipes/{recipe_id}", heading=heading, by=by)


@router.post("/recipes/{recipe_id}")
@form_of("/recipes/{recipe_id}")
def change(caller: StaffCaller, form: SentForm, recipe_id: UUID) -> RedirectResponse:
    """Change a recipe of which nothing is mixed yet."""
    with reading(form, caller.shop) as read:
        (asked, volumes), job_id = _recipe(read), read.id("job_id")
    recipes.change_recipe(caller, recipe_id=recipe_id, asked=asked, volumes=volumes)
    return see(f"/jobs/{job_id}/plan")


@router.get("/recipes/{recipe_id}/replace")
def show_replace(request: Request, caller: StaffCaller, recipe_id: UUID, by: By = "") -> HTMLResponse:
    """Show the form of a recipe that takes the place of a mixed one."""
    asked = sheet.form_of(caller, recipe_id=recipe_id, in_its_place=True)
    heading = f"Replace recipe {asked.shown.label if asked.shown else asked.label}"
    return _form(request, caller, asked, action=f"/recipes/{recipe_id}/replace", heading=heading, by=by)


@router.post("/recipes/{recipe_id}/replace")
@form_of("/recipes/{recipe_id}/replace")
def replace(caller: StaffCaller, form: SentForm, recipe_id: UUID) -> RedirectResponse:
    """Replace recipe a mixed one."""
    with reading(form, caller.shop) as read:
        (asked, volumes), job_id = _recipe(read), read.id("job_id")
    recipes.add_recipe(caller, job_id=job_id, asked=asked, volumes=volumes, replaces_id=recipe_id)
    return see(f"/jobs/{job_id}/plan")


@router.post("/jobs/{job_id}/plan/{recipe_id}/drop")
@form_of("/jobs/{job_id}/plan")
def drop(caller: StaffCaller, form: SentForm, job_id: UUID, recipe_id: UUID) -> RedirectResponse:
    """Take a recipe out of the plan and say why."""
    with reading(form, caller.shop) as read:
        because = read.text("because", most=400)
    recipes.drop_recipe(caller, recipe_id=recipe_id, because=because, job_id=job_id)
    return see(f"/jobs/{job_id}/plan")


@router.post("/jobs/{job_id}/plan/{recipe_id}/mix-day")
@form_of("/jobs/{job_id}/plan")
def set_mix_day(caller: StaffCaller, form: SentForm, job_id: UUID, recipe_id: UUID) -> RedirectResponse:
    """Mix a recipe on a day on which nothing falls on closed days."""
    with reading(form, caller.shop) as read:
        mix_on = read.day("mix_on")
    days.set_mix_day(caller, recipe_id=recipe_id, mix_on=mix_on)
    return see(f"/jobs/{job_id}/plan")


@router.post("/jobs/{job_id}/plan/{recipe_id}/age")
@form_of("/jobs/{job_id}/plan")
def set_age(caller: StaffCaller, form: SentForm, job_id: UUID, recipe_id: UUID) -> RedirectResponse:
    """Crush a group at another age within its tolerance."""
    with reading(form, caller.shop) as read:
        condition = read.choice("condition", tuple(name for name, _ in CONDITIONS))
        was, age = (read.quantity(name, "days", unit="d").value for name in ("age_days", "new_age_days"))
    days.set_age(caller, recipe_id=recipe_id, condition=condition, age_days=was, new_age_days=age)
    return see(f"/jobs/{job_id}/plan")


def _form(
    request: Request,
    caller: StaffCaller,
    asked: sheet.RecipeForm,
    *,
    action: str,
    heading: str,
    taken: Sequence[tuple[str, str]] = (),
    water: float | None = None,
    dose: float | None = None,
    by: str = "",
) -> HTMLResponse:
    return page(
        request,
        "recipe.html",
        caller=caller,
        job=jobs_in_hand.card(caller, job_id=asked.job_id),
        asked=asked,
        action=action,
        heading=heading,
        taken=taken,
        water=water,
        dose=dose,
        by=by,
        rows={"components": range(COMPONENT_ROWS), "stabilisers": range(STABILISER_ROWS), "groups": range(GROUP_ROWS)},
        usual_groups=USUAL_GROUPS,
        conditions=CONDITIONS,
        tests=PLANNED_TESTS,
        bases=BASES,
    )


def _recipe(read: FormReader) -> tuple[RecipeGiven, VolumesGiven | None]:
    """Return the recipe; in parts by volume its shares stay empty, for the bench works them out."""
    components = _filled(read, "components", "material_id", COMPONENT_ROWS)
    stabilisers = _filled(read, "stabilisers", "material_id", STABILISER_ROWS)
    volumes = None
    if read.raw("given_as") == "volume":
        volumes = VolumesGiven(
            tuple(_volume(read, row) for row in components), tuple(_volume(read, row) for row in stabilisers)
        )
        components, stabilisers = [], []
    asked = RecipeGiven(
        components=tuple(
            ComponentGiven(read.id(f"{row}.material_id"), read.quantity(f"{row}.share", "share", unit="%"))
            for row in components
        ),
        stabilisers=tuple(
            StabiliserGiven(
                read.id(f"{row}.material_id"),
                read.quantity(f"{row}.share", "share", unit="%"),
                read.choice(f"{row}.basis", tuple(basis for basis, _ in BASES)),
            )
            for row in stabilisers
        ),
        groups=_groups(read),
        target_moisture=read.quantity("target_moisture", "moisture", unit="%"),
        moisture_basis=read.choice("moisture_basis", tuple(basis for basis, _ in BASES)),
        mould_id=read.id("mould_id"),
        batches=read.count("batches", least=1, most=12),
        press_stress_mpa=read.maybe_quantity("press_stress_mpa", "pressure"),
        press_stroke_mm=read.maybe_quantity("press_stroke_mm", "length"),
        mix_on=read.maybe_day("mix_on"),
        label=read.maybe_text("label", most=2),
    )
    return asked, volumes


def _volume(read: FormReader, row: str) -> VolumeGiven:
    return VolumeGiven(
        material_id=read.id(f"{row}.material_id"),
        parts=read.quantity(f"{row}.parts", "plain"),
        taken_kg_m3=read.maybe_quantity(f"{row}.taken_kg_m3", "density"),
        taken_from=read.maybe_text(f"{row}.taken_from", most=120) or "",
    )


def _filled(read: FormReader, what: str, column: str, rows: int) -> list[str]:
    """Return the rows of a table that somebody filled in, each by the beginning of its fields' names."""
    return [row for row in (f"{what}.{number}" for number in range(rows)) if read.raw(f"{row}.{column}")]


def _groups(read: FormReader) -> tuple[GroupGiven, ...]:
    """Return the groups that are crushed, and those set aside for other tests: without an age they take the oldest."""
    crushed = tuple(_group(read, row) for row in _filled(read, "groups", "blocks", GROUP_ROWS))
    aside = {test: read.maybe_count(f"tests.{test}", most=60) for test in PLANNED_TESTS}
    ages = {test: read.maybe_quantity(f"tests.{test}.age_days", "days", unit="d") for test in PLANNED_TESTS}
    oldest = max(crushed, key=lambda one: one.age_days.value, default=None)
    if oldest is None:
        return crushed
    return crushed + tuple(
        GroupGiven("as cured", ages[test] or oldest.age_days, blocks, oldest.tolerance_hours, test=test)
        for test, blocks in aside.items()
        if blocks
    )


def _group(read: FormReader, row: str) -> GroupGiven:
    condition = read.choice(f"{row}.condition", tuple(name for name, _ in CONDITIONS))
    # The form asks how long only of blocks that are soaked; what an earlier choice left there is not sent on.
    is_soaked = condition == "soaked"
    return GroupGiven(
        condition=condition,
        age_days=read.quantity(f"{row}.age_days", "days", unit="d"),
        blocks=read.count(f"{row}.blocks", least=1, most=60),
        tolerance_hours=read.quantity(f"{row}.tolerance_hours", "hours", unit="h"),
        soak_hours=read.maybe_quantity(f"{row}.soak_hours", "hours", unit="h") if is_soaked else None,
        soak_hours_max=read.maybe_quantity(f"{row}.soak_hours_max", "hours", unit="h") if is_soaked else None,
    )
