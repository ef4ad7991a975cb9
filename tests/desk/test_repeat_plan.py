"""A job planned as an earlier one: its recipes and blocks, with this job's own soil."""

from uuid import UUID

import pytest

from service.desk.intake import jobs, sacks
from service.desk.intake.jobs import Question
from service.desk.intake.sacks import Sack
from service.desk.plan import recipes, repeat, sheet
from service.errors import Conflict, Invalid, NotFound
from tests.cast import Cast
from tests.mixes import a_ready_job, kg


def another_job(cast: Cast, *, of: str = "dov", soil: bool = True) -> UUID:
    """Return a job of another customer with a sack of their own soil, or with none."""
    asked = Question("Upper field", "Is it good enough?", "meets code")
    job_id = jobs.open_job(cast.tess, asked=asked, customer_id=cast.customers[of]).id
    if soil:
        sacks.take_in(cast.tess, job_id=job_id, sack=Sack(label="J2-A", mass_kg=kg(50)), new_soil="yellow silt")
    return job_id


def test_recipes_groups_and_blocks_come_with_this_jobs_soil(cast: Cast) -> None:
    first = a_ready_job(cast)
    first.plan(sand=0.3)
    first.plan(dose=0.08, batches=1)
    dropped = first.plan(dose=0.1)
    recipes.drop_recipe(cast.tess, recipe_id=dropped, because="too much")
    job_id = another_job(cast)
    (offered,) = repeat.earlier(cast.tess, job_id=job_id)
    assert (offered.number, offered.recipes) == (1, "A, B")
    repeat.repeat(cast.tess, job_id=job_id, number=1)
    was, became = (sheet.sheet(cast.tess, job_id=one).recipes for one in (first.job_id, job_id))
    assert [one.label for one in became] == ["A", "B"]
    assert [[part.name for part in one.parts] for one in became] == [
        [part.name.replace("red silt", "yellow silt") for part in one.parts] for one in was[:2]
    ]
    for old, new in zip(was[:2], became, strict=True):
        assert [part.share for part in old.parts] == pytest.approx([part.share for part in new.parts])
        assert (old.groups, old.batches, old.press_stress_mpa) == (new.groups, new.batches, new.press_stress_mpa)
        # The lot is drawn anew.
        assert old.draw_seed != new.draw_seed
    with pytest.raises(Conflict):
        repeat.repeat(cast.tess, job_id=job_id, number=1)


def test_a_job_without_soil_of_its_own_is_told_why_not(cast: Cast) -> None:
    a_ready_job(cast).plan()
    job_id = another_job(cast, soil=False)
    with pytest.raises(Invalid, match="Job 1 used 1 soil of its own, and this job has 0 soils"):
        repeat.repeat(cast.tess, job_id=job_id, number=1)
    for number in (2, 77):
        with pytest.raises(Invalid, match="No other job"):
            repeat.repeat(cast.tess, job_id=job_id, number=number)
    assert sheet.sheet(cast.tess, job_id=job_id).recipes == []
    with pytest.raises(NotFound):
        repeat.earlier(cast.tess, job_id=UUID(int=0))


def test_one_tap_on_the_plan_of_the_new_job(cast: Cast) -> None:
    a_ready_job(cast).plan()
    job_id = another_job(cast)
    tess, path = cast.browser("tess"), f"/jobs/{job_id}/plan"
    assert "Copy the plan of job 1" in tess.get(path).text
    refused = tess.post(f"{path}/like", {"form": "like", "number": "99"})
    assert refused.status_code == 422 and "No other job of this number has a plan." in refused.text
    assert tess.post(f"{path}/like", {"form": "like-1", "number": "1"}).status_code == 303
    page = tess.get(path).text
    assert "Recipe A" in page and "yellow silt" in page and "Copy the plan of job" not in page
