"""The counts from which a job's stage is worked out."""

from datetime import timedelta

import pytest
from sqlalchemy import event
from sqlmodel import Session

from service.errors import NotFound
from service.records import files, job_progress
from service.records.database import Engines
from service.records.job_progress import Progress
from service.records.job_stage import Stage, way_of
from service.records.jobs import Job
from service.records.recipes import Recipe, RecipeGroup
from service.records.results import IssuedResult
from tests.records.shop import PRESSED, SmallShop

HOUR = timedelta(hours=1)


def of_job(shop: SmallShop, *, hours_after_pressing: float) -> Progress:
    now = PRESSED + hours_after_pressing * HOUR
    return job_progress.of_job(shop.session, shop.job.id, seen_by=None, now=now)


def test_a_job_is_counted_as_it_stands(shop: SmallShop) -> None:
    shop.add(crushed=shop.crushing(shop.block_1))
    shop.block_2.lost_at, shop.block_2.lost_because = PRESSED, "stuck in the mould"
    shop.session.add(shop.block_2)
    found = of_job(shop, hours_after_pressing=1)
    assert (found.receipts, found.recipes, found.planned, found.batches, found.mixed) == (1, 1, 3, 1, 1)
    assert (found.blocks, found.lost, found.waiting, found.crushed) == (3, 1, 1, 1)
    assert (found.last_crushed_at, found.issued, found.last_issued_at) == (PRESSED + timedelta(days=7), 0, None)
    assert found.customer.name == "Cy"


# Seven days are 168 hours; with 6 hours either side the window runs from 162 to 174 hours after pressing.
@pytest.mark.parametrize(
    ("hours", "due", "late"),
    [(161.99, 0, 0), (162.0, 3, 0), (168.0, 3, 0), (174.0, 3, 0), (174.01, 3, 3)],
    ids=["before the window", "as it opens", "on the hour", "as it closes", "after the window"],
)
def test_a_block_is_due_from_when_its_window_opens_and_late_once_it_has_closed(
    shop: SmallShop, hours: float, due: int, late: int
) -> None:
    found = of_job(shop, hours_after_pressing=hours)
    assert (found.due, found.late) == (due, late)


def test_a_corrected_crushing_counts_once(shop: SmallShop) -> None:
    shop.add(
        wrong=shop.crushing(
            shop.block_1, ended_at=PRESSED, ended_by=shop.tess.id, ended_because="typed for the wrong block"
        ),
        right=shop.crushing(shop.block_1),
    )
    found = of_job(shop, hours_after_pressing=1)
    assert (found.blocks, found.crushed, found.waiting) == (3, 1, 2)


def test_a_recipe_that_was_replaced_is_no_longer_planned(shop: SmallShop) -> None:
    kept = {name: getattr(shop.recipe, name) for name in Recipe.model_fields if name not in ("id", "created_at")}
    shop.add(second=Recipe(**{**kept, "label": "B", "replaces_id": shop.recipe.id}))
    shop.add(
        wet=RecipeGroup(
            recipe_id=shop.second.id, condition="soaked", age_days=28, tolerance_hours=12, soak_hours=24, blocks=5
        )
    )
    found = of_job(shop, hours_after_pressing=1)
    assert (found.recipes, found.planned, found.blocks) == (1, 5, 3)


def test_an_issued_result_counts_until_it_is_withdrawn(shop: SmallShop) -> None:
    digest = "a" * 64
    files.note(shop.session, sha256=digest, media_type="text/html", size=1)
    shop.add(
        issued=IssuedResult(
            job_id=shop.job.id,
            number=1,
            issued_at=PRESSED,
            issued_by=shop.olu.id,
            remark="",
            data="{}",
            data_sha256=digest,
            engine="1",
            page_sha256=digest,
            pdf_sha256=digest,
            language="en",
            paper="A4",
            changes="",
        )
    )
    assert of_job(shop, hours_after_pressing=1).last_issued_at == PRESSED
    shop.issued.withdrawn_at, shop.issued.withdrawn_because = PRESSED, "wrong gauge"
    shop.session.add(shop.issued)
    assert of_job(shop, hours_after_pressing=1).issued == 0


def more_jobs(shop: SmallShop, many: int) -> None:
    for number in range(2, 2 + many):
        given = {"customer_id": shop.dov_customer.id, "question": "Enough?", "question_kind": "addition"}
        shop.session.add(Job(number=number, site=f"Plot {number}", as_read={}, **given))
    shop.session.commit()


@pytest.mark.parametrize("many", [0, 40], ids=["one job", "41 jobs"])
def test_a_page_of_jobs_is_two_statements_however_many_there_are(engines: Engines, shop: SmallShop, many: int) -> None:
    more_jobs(shop, many)
    sent: list[str] = []
    event.listen(engines.read, "before_cursor_execute", lambda _c, _k, statement, *_: sent.append(statement))
    with Session(engines.read) as reading:
        page = job_progress.page_of_jobs(reading, seen_by=None, now=PRESSED)
        assert [found.customer.name for found in page.jobs][-1] == "Cy"
    assert page.total == many + 1
    # The first settles which jobs stand on the page, the second counts what those have.
    assert len([statement for statement in sent if statement.startswith("SELECT job.")]) == 2
    assert not [statement for statement in sent if "FROM" in statement and not statement.startswith("SELECT job.")]


def test_pages_follow_each_other_from_the_newest(shop: SmallShop) -> None:
    more_jobs(shop, 4)
    first = job_progress.page_of_jobs(shop.session, seen_by=None, now=PRESSED, size=2)
    third = job_progress.page_of_jobs(shop.session, seen_by=None, now=PRESSED, size=2, page=3)
    assert [found.job.number for found in first.jobs] == [5, 4]
    assert [found.job.number for found in third.jobs] == [1]
    assert first.total == third.total == 5


def test_a_customer_sees_own_jobs_only(shop: SmallShop) -> None:
    more_jobs(shop, 2)
    page = job_progress.page_of_jobs(shop.session, seen_by=shop.cy_customer.id, now=PRESSED)
    assert ([found.job.number for found in page.jobs], page.total) == ([1], 1)


def test_another_customer_cannot_tell_that_the_job_exists(shop: SmallShop) -> None:
    with pytest.raises(NotFound, match="no such job"):
        job_progress.of_job(shop.session, shop.job.id, seen_by=shop.dov_customer.id, now=PRESSED)
    assert job_progress.of_job(shop.session, shop.job.id, seen_by=shop.cy_customer.id, now=PRESSED).job.number == 1


def test_a_closed_job_is_on_the_other_list(shop: SmallShop) -> None:
    shop.job.closed_at = PRESSED
    shop.session.add(shop.job)
    assert job_progress.page_of_jobs(shop.session, seen_by=None, now=PRESSED).jobs == []
    assert job_progress.page_of_jobs(shop.session, seen_by=None, now=PRESSED, closed=True).total == 1


@pytest.mark.parametrize("words", ["1-a-2", "1-S1", "lower", "CY", "1"], ids=["block", "sack", "site", "who", "number"])
def test_a_job_is_found_by_what_is_written_on_it(shop: SmallShop, words: str) -> None:
    more_jobs(shop, 3)
    page = job_progress.page_of_jobs(shop.session, seen_by=None, now=PRESSED, search=words)
    assert [found.job.number for found in page.jobs] == [1]


def test_a_percent_sign_is_a_percent_sign(shop: SmallShop) -> None:
    assert job_progress.page_of_jobs(shop.session, seen_by=None, now=PRESSED, search="%").jobs == []


def test_a_recipe_planned_late_hides_no_result_that_was_issued(shop: SmallShop) -> None:
    shop.add(crushed=shop.crushing(shop.block_1))
    told = {"last_issued_at": PRESSED + timedelta(days=8), "issued": 1, "planned": 12}
    way = way_of(of_job(shop, hours_after_pressing=200)._replace(**told))
    assert {step.stage: (step.state, step.opens) for step in way if step.stage in (Stage.RESULTS, Stage.ISSUED)} == {
        Stage.RESULTS: ("ahead", True),
        Stage.ISSUED: ("ahead", True),
    }
    fresh = way_of(of_job(shop, hours_after_pressing=0)._replace(planned=12, blocks=0, last_crushed_at=None))
    assert [step.stage for step in fresh if step.opens] == [Stage.INTAKE, Stage.PLAN, Stage.MIXING]
