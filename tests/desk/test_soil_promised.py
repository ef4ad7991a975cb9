"""Soil is promised only where it is: trial blocks count, a short sack is told, a batch begun by mistake is undone."""

import pytest
from sqlmodel import Session

from service.desk.intake import sacks
from service.desk.intake.sacks import Sack
from service.desk.mixing.begin_batch import start_form
from service.desk.mixing.cancelling import cancel_batch
from service.desk.mixing.weighing import weigh
from service.desk.plan.sheet import sheet
from service.errors import Conflict, Invalid
from service.records import audit_log
from service.records.batches import Batch
from service.records.sack_stock import sacks_in_hand
from tests.cast import Cast
from tests.mixes import Ready, a_ready_job, kg

# By hand: a block takes 1900 kg/m3 x 0.14 x 0.09 x 0.1 m3 = 2.394 kg dry, of which 1 / 1.06 is soil, and 5 % is lost.
SOIL_KG = 2.394 * 1.05 / 1.06


@pytest.fixture
def ready(cast: Cast) -> Ready:
    return a_ready_job(cast, sack_kg=26.0)


def test_the_plan_counts_a_trial_block_for_each_batch(ready: Ready) -> None:
    ready.plan(batches=2)
    (line,) = [one for one in sheet(ready.cast.tess, job_id=ready.job_id).materials if one.name == "red silt"]
    assert line.needed_kg == pytest.approx((10 + 2) * SOIL_KG, rel=1e-9)
    # 26 kg at 4 % are 25 kg dry.
    assert line.in_hand_kg == pytest.approx(25.0, rel=1e-9)
    assert line.short_kg == pytest.approx(12 * SOIL_KG - 25.0, rel=1e-9)


def test_a_batch_that_asks_for_more_than_the_sack_holds_is_told_before_it_is_begun(ready: Ready) -> None:
    recipe_id = ready.plan(batches=2)
    (part,) = start_form(ready.cast.tess, recipe_id=recipe_id).components
    assert not part.short and part.needed_kg == pytest.approx(6 * SOIL_KG, rel=1e-9)
    ready.begin(recipe_id)
    (part,) = start_form(ready.cast.tess, recipe_id=recipe_id).components
    assert part.short and part.in_hand_kg == pytest.approx(25.0 - 6 * SOIL_KG, abs=0.01)
    page = ready.cast.browser("tess").get(f"/recipes/{recipe_id}/mix").text
    assert "is left in J1-A" in page


def test_only_sacks_without_a_can_are_said_to_have_none(ready: Ready) -> None:
    sack = Sack(label="J1-B", mass_kg=kg(20.0))
    sacks.take_in(ready.cast.tess, job_id=ready.job_id, sack=sack, material_id=ready.soil)
    recipe_id = ready.plan()
    (part,) = start_form(ready.cast.tess, recipe_id=recipe_id).components
    assert (part.without_cans, part.some_cans, part.from_cans) == ("J1-B", True, False)
    page = ready.cast.browser("tess").get(f"/recipes/{recipe_id}/mix").text
    assert "No can of J1-B was weighed yet. The figure is from the cans of the others." in page


def test_a_batch_begun_by_mistake_is_taken_back_and_its_soil_is_free(ready: Ready) -> None:
    recipe_id = ready.plan()
    first, second = ready.begin(recipe_id), ready.begin(recipe_id)
    with pytest.raises(Conflict, match="A later batch"):
        cancel_batch(ready.cast.tess, batch_id=first, because="begun twice")
    with pytest.raises(Invalid):
        cancel_batch(ready.cast.tess, batch_id=second, because=" ")
    cancel_batch(ready.cast.tess, batch_id=second, because="begun twice")
    cancel_batch(ready.cast.tess, batch_id=first, because="begun twice")
    with Session(ready.cast.stores.read) as session:
        assert session.get(Batch, first) is None
        (sack,) = sacks_in_hand(session, ready.job_id)
        assert sack.taken_kg == 0
        entry = audit_log.entries(session, limit=1)[0]
        assert entry.act == "batch.cancel" and "begun twice" in entry.details
    assert start_form(ready.cast.tess, recipe_id=recipe_id).number == 1


def test_a_batch_into_which_something_was_weighed_stays(ready: Ready) -> None:
    batch_id = ready.begin(ready.plan())
    weigh(ready.cast.tess, batch_id=batch_id, weighed=[], water_kg=kg(1.0))
    with pytest.raises(Conflict, match="was weighed into this batch already"):
        cancel_batch(ready.cast.tess, batch_id=batch_id, because="begun twice")


def test_the_page_takes_a_batch_back(ready: Ready) -> None:
    batch_id = ready.begin(ready.plan())
    browser = ready.cast.browser("tess")
    assert "Cancel this batch" in browser.get(f"/batches/{batch_id}").text
    told = {"because": "begun twice", "job_id": str(ready.job_id), "form": "cancel"}
    assert browser.post(f"/batches/{batch_id}/cancel", told).headers["location"] == f"/jobs/{ready.job_id}/mixing"
