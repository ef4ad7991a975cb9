"""A result is kept ready while nothing is recorded, and never shown once anything was: by whatever process."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from service.desk import people
from service.desk.crushing import reading
from service.desk.results import _compute, live
from tests.cast import Cast
from tests.trials import Tried, a_tried_job


@pytest.fixture
def worked(monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """Note each result that is worked out."""
    done: list[Any] = []
    work_out = _compute.work_out

    def noted(*given: Any) -> Any:
        done.append(given[2])
        return work_out(*given)

    monkeypatch.setattr(live, "work_out", noted)
    return done


@pytest.fixture
def tried(cast: Cast) -> Tried:
    """Return a job whose blocks were crushed."""
    return a_tried_job(cast)


def test_with_nothing_new_a_result_is_not_worked_out_again(
    cast: Cast, tried: Tried, worked: list[Any], statements: list[str]
) -> None:
    first = live.live(cast.olu, job_id=tried.job_id)
    statements.clear()
    again = live.live(cast.tess, job_id=tried.job_id)
    assert again.result is first.result and again.sha256 == first.sha256 and len(worked) == 1
    # Where the trail ends, and what was issued with its links, which are counted without an entry.
    assert len(statements) == 2


def leave_out(cast: Cast, tried: Tried) -> None:
    reading.withdraw(cast.tess, crushing_id=tried.crushings["1-A1"], because="The block stood askew.")


def add_a_customer(cast: Cast, tried: Tried) -> None:
    people.add_customer(cast.olu, name="Ann's Arches", contact=None, language=None)


@pytest.mark.parametrize("act", [leave_out, add_a_customer])
def test_whatever_was_recorded_since_has_it_worked_out_anew(
    cast: Cast, tried: Tried, worked: list[Any], act: Callable[[Cast, Tried], None]
) -> None:
    before = live.live(cast.olu, job_id=tried.job_id)
    act(cast, tried)
    after = live.live(cast.olu, job_id=tried.job_id)
    assert len(worked) == 2
    assert (after.sha256 == before.sha256) is (act is add_a_customer)


def test_another_day_and_other_settings_have_it_worked_out_anew(cast: Cast, tried: Tried, worked: list[Any]) -> None:
    live.live(cast.olu, job_id=tried.job_id)
    stricter = replace(cast.olu, shop=replace(cast.olu.shop, assurance=0.99))
    assert live.live(stricter, job_id=tried.job_id).result.model.assurance == 0.99
    # Prices are those of the day, and the day is the shop's own.
    cast.clock.forward(days=1)
    live.live(cast.olu, job_id=tried.job_id)
    assert len(worked) == 3


def test_a_job_is_not_answered_for_by_another(cast: Cast, tried: Tried, worked: list[Any]) -> None:
    other = a_tried_job(cast, number=2)
    numbers = [live.live(cast.olu, job_id=one.job_id).result.job.number for one in (tried, other, tried)]
    assert numbers == [1, 2, 1] and len(worked) == 2
