"""One job of the demo, told through the desks from intake to the issued result."""

from datetime import timedelta
from random import Random
from typing import Any
from uuid import UUID

from service.demo import drawing
from service.demo.invented_days import Teller, quantities, set_price, typed
from service.demo.rounds import crush, press_and_cure
from service.demo.soil import test_soil, try_moistures
from service.desk.intake import cans, jobs, sacks, soil_tests
from service.desk.plan.recipes import ComponentGiven, GroupGiven, RecipeGiven, StabiliserGiven, add_recipe
from service.desk.results import live
from service.paper.issuing import issue
from service.paper.photo_files import take_in

MEASURES = (
    *("wall_thickness_mm", "wall_height_m", "roof_line_load_kn_m"),
    *("machine_pressure_mpa", "machine_length_mm", "machine_width_mm", "machine_height_mm"),
)
WORDS = ("pit", "dug_by", "topsoil_stripped", "colour", "smell", "roots", "retained")
TOLERANCE = "12 h"


def tell_job(teller: Teller, told: dict[str, Any]) -> None:
    """Tell one job as far as it goes."""
    teller.at(told["opened"])
    done = jobs.open_job(
        teller.owner,
        asked=jobs.Question(
            site=told["site"],
            question=told["question"],
            question_kind=told["kind"],
            promised_on=(teller.today + timedelta(days=told["promised"])).date(),
            measures=jobs.Measures(**quantities(told, MEASURES)),
        ),
        customer_id=teller.ids[told["customer"]],
        criteria=told["criteria"],
    )
    for place, sack in enumerate(told["sack"]):
        _take_in(teller, done.id, f"J{done.details['number']}-{'ABC'[place]}", told["opened"], sack)
    if "moisture_trial" in told:
        teller.at(told["opened"] + 1, 16)
        try_moistures(teller, done.id, told["moisture_trial"])
    dice = Random(told["site"])
    planned = [(recipe, _plan(teller, done.id, told["opened"], recipe)) for recipe in told.get("recipe", [])]
    mixed = [
        (recipe, press_and_cure(teller, recipe_id, recipe, dice)) for recipe, recipe_id in planned if "mixed" in recipe
    ]
    for recipe, blocks in mixed:
        crush(teller, recipe, blocks)
    if "issued" in told:
        teller.at(told["issued"]["day"], 16)
        seen = live.live(teller.owner, job_id=done.id)
        issue(
            teller.owner,
            job_id=done.id,
            remark=told["issued"]["remark"],
            seen_sha256=seen.sha256,
            bucket_l=typed(told["issued"]["bucket"], "volume"),
        )


def _take_in(teller: Teller, job_id: UUID, label: str, opened: float, told: dict[str, Any]) -> None:
    sack = sacks.Sack(
        label=label,
        received_at=teller.at(opened, 10),
        retained_until=(teller.today + timedelta(days=told["retained_until"])).date() if "retained" in told else None,
        mass_kg=typed(told["mass_kg"], "mass"),
        dug_on=(teller.today + timedelta(days=opened - 1)).date() if "dug_by" in told else None,
        depth_m=quantities(told, ("depth_m",)).get("depth_m"),
        **{word: told[word] for word in WORDS if word in told},
    )
    done = sacks.take_in(teller.technician, job_id=job_id, sack=sack, new_soil=told["soil"])
    material_id = teller.ids[told["soil"]] = UUID(str(done.details["material"]))
    if "heap" in told:
        take_in(teller.technician, of="sack", thing_id=done.id, content=drawing.heap(told["heap"]))
    if "price" in told:
        set_price(teller, material_id, {**told["price"], "day": opened})
    teller.at(opened + 0.2, 11)
    if "oversize" in told:
        oversize = told["oversize"]
        sacks.prepare(
            teller.technician,
            receipt_id=done.id,
            oversize_mm=typed(oversize["size"], "opening"),
            oversize_kg=typed(oversize["mass"], "mass"),
            oversize_became=oversize["became"],
            pulverised=oversize["pulverised"],
        )
    teller.at(opened + 1, 10)
    cans.weigh_cans(
        teller.technician,
        receipt_id=done.id,
        cans=[
            cans.CanGiven(*(typed(text, "small_mass") for text in (wet, dry, can))) for can, wet, dry in told["cans"]
        ],
        method="oven",
        temperature_c=typed("105 °C", "temperature"),
    )
    test_soil(teller, material_id, soil_tests.About(receipt_id=done.id, done_at=teller.at(opened + 1, 14)), told)


def _plan(teller: Teller, job_id: UUID, opened: float, told: dict[str, Any]) -> UUID:
    teller.at(min(opened + 2, told.get("mixed", 0) - 0.5), 15)
    mix_on = (teller.today + timedelta(days=told["mixed"])).date() if "mixed" in told else None
    asked = RecipeGiven(
        components=tuple(ComponentGiven(teller.ids[name], typed(share, "share")) for name, share in told["components"]),
        stabilisers=tuple(
            StabiliserGiven(teller.ids[name], typed(share, "share"), basis)
            for name, share, basis in told["stabilisers"]
        ),
        groups=tuple(_group(*group) for group in told["groups"]),
        target_moisture=typed(told["moisture"], "moisture"),
        mould_id=teller.ids["Hand block, 150 x 100"],
        batches=told.get("batches", 1),
        press_stress_mpa=typed(told["press_stress"], "pressure"),
        mix_on=mix_on,
    )
    return add_recipe(teller.technician, job_id=job_id, asked=asked).id


def _group(condition: str, age_days: int, blocks: int, *soak_hours: int) -> GroupGiven:
    least, most = (typed(f"{hours} h", "hours") for hours in soak_hours) if soak_hours else (None, None)
    return GroupGiven(condition, typed(f"{age_days} d", "days"), blocks, typed(TOLERANCE, "hours"), least, most)
