"""Blocks for other tests over HTTP: one number for each test in the form of a recipe, and the pages that lead on."""

from typing import Any

from tests.bench_rows import pressed_job
from tests.cast import Cast
from tests.journeys.robot import Robot, shown_in
from tests.mixes import a_ready_job
from tests.web.test_mixing_api import recipe, send


def test_the_form_of_a_recipe_asks_for_a_number_a_test_and_shows_it_again(cast: Cast) -> None:
    job = a_ready_job(cast)
    tess = Robot(cast.browser("tess"), htmx=True)
    first: dict[str, Any] = {"components.0.material_id": str(job.soil), "components.0.share": "100"}
    tess.open(f"/jobs/{job.job_id}/plan/new")
    tess.send(f"/jobs/{job.job_id}/plan", **first, target_moisture="10", press_stress_mpa="4",
              **{"tests.absorption": "2", "tests.erosion": "1"})  # fmt: skip
    said = tess.page.get_text(" ", strip=True)
    assert "2 × absorption, 7 days" in said and "1 × erosion, 7 days" in said
    tess.follow("/recipes/[0-9a-f-]{36}")
    shown = shown_in(tess.forms("/recipes/[0-9a-f-]{36}")[0])
    assert (shown["tests.absorption"], shown["tests.bending"], shown["tests.erosion"]) == ("2", "", "1")
    assert shown["groups.2.blocks"] == ""
    # At an age like that of the others it has none of its own.
    assert shown["tests.absorption.age_days"] == ""
    # The next recipe is filled in like this one.
    tess.open(f"/jobs/{job.job_id}/plan/new")
    assert shown_in(tess.forms(f"/jobs/{job.job_id}/plan")[0])["tests.absorption"] == "2"


def test_a_test_may_have_an_age_of_its_own_and_keeps_it_when_the_recipe_is_changed(cast: Cast) -> None:
    job = a_ready_job(cast)
    tess = Robot(cast.browser("tess"), htmx=True)
    first: dict[str, Any] = {"components.0.material_id": str(job.soil), "components.0.share": "100"}
    tess.open(f"/jobs/{job.job_id}/plan/new")
    tess.send(f"/jobs/{job.job_id}/plan", **first, target_moisture="10", press_stress_mpa="4",
              **{"tests.absorption": "2", "tests.absorption.age_days": "28", "tests.erosion": "1"})  # fmt: skip
    tess.follow("/recipes/[0-9a-f-]{36}")
    shown = shown_in(tess.forms("/recipes/[0-9a-f-]{36}")[0])
    assert (shown["tests.absorption.age_days"], shown["tests.erosion.age_days"]) == ("28", "")
    tess.send("/recipes/[0-9a-f-]{36}", target_moisture="11")
    said = tess.page.get_text(" ", strip=True)
    assert "2 × absorption, 28 days" in said and "1 × erosion, 7 days" in said


def test_a_program_plans_them_too(cast: Cast) -> None:
    job, tess = a_ready_job(cast), cast.program("tess")
    group = {"condition": "as cured", "age_days": 7, "tolerance_hours": 6, "blocks": 2}
    send(tess, f"jobs/{job.job_id}/recipes", recipe(job, groups=[group, group | {"test": "bending"}]))
    (planned,) = tess.get(f"/api/v1/jobs/{job.job_id}/recipes").json()["recipes"]
    assert [(one["test"], one["blocks"]) for one in planned["groups"]] == [(None, 2), ("bending", 2)]


def test_today_curing_and_the_block_lead_to_its_test(cast: Cast) -> None:
    ids = pressed_job(cast, groups=({"condition": "as cured"}, {"condition": "as cured", "test": "erosion"}))
    cast.clock.forward(days=7)
    tess, block = cast.browser("tess"), ids["1-A1-4"]
    today = tess.get("/today").text
    assert "Crush 3 blocks of job 1" in today and "Drip or spray 3 blocks of job 1" in today
    for path in ("/today", "/curing", f"/blocks/{block}"):
        assert f"/blocks/{block}/tests/erosion" in tess.get(path).text, path
    assert "This block is for the test erosion. It is not crushed." in tess.get(f"/blocks/{block}").text
    assert "pressed for" in tess.get(f"/blocks/{block}/tests/erosion").text
    assert str(tess.get("/find?label=1-A1-4").url.path) == f"/blocks/{block}/tests/erosion"
