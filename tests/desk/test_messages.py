"""Questions and answers on a job: whoever may see the job reads and writes them, and the shop sees which wait."""

import pytest

from service.desk import jobs_in_hand, messages
from service.errors import Invalid, NotFound
from tests.bench_rows import pressed_job
from tests.cast import Cast


@pytest.fixture
def job_id(cast: Cast):
    return pressed_job(cast)["job"]


def waits(cast: Cast, job_id) -> bool:
    (line,) = jobs_in_hand.jobs(cast.tess).lines
    assert line.asked is jobs_in_hand.card(cast.tess, job_id=job_id).asked
    return line.asked


def test_a_question_waits_until_the_shop_answers_and_both_read_it_in_order(cast: Cast, job_id) -> None:
    assert not waits(cast, job_id)
    messages.write(cast.cy, job_id=job_id, text="  When do you crush them?\nI would like to come. ")
    assert waits(cast, job_id)
    cast.clock.forward(minutes=5)
    messages.write(cast.tess, job_id=job_id, text="On Friday.")
    assert not waits(cast, job_id)
    for reader in (cast.cy, cast.olu):
        said = messages.of_job(reader, job_id=job_id).said
        assert [(one.of_the_shop, one.text) for one in said] == [
            (False, "When do you crush them?\nI would like to come."),
            (True, "On Friday."),
        ]
    cast.clock.forward(minutes=5)
    messages.write(cast.cy, job_id=job_id, text="Thank you. At what hour?")
    assert waits(cast, job_id)


def test_another_customer_neither_reads_nor_writes_and_nothing_is_no_question(cast: Cast, job_id) -> None:
    with pytest.raises(NotFound):
        messages.of_job(cast.dov, job_id=job_id)
    with pytest.raises(NotFound):
        messages.write(cast.dov, job_id=job_id, text="Whose is it?")
    with pytest.raises(Invalid) as refused:
        messages.write(cast.cy, job_id=job_id, text="  \n ")
    assert list(refused.value.fields) == ["text"]
    assert messages.of_job(cast.olu, job_id=job_id).said == ()


def test_one_person_writes_so_many_in_a_day_and_no_more(cast: Cast, job_id, monkeypatch) -> None:
    monkeypatch.setattr(messages, "MOST_A_DAY", 2)
    for text in ("One.", "Two."):
        messages.write(cast.cy, job_id=job_id, text=text)
    with pytest.raises(Invalid):
        messages.write(cast.cy, job_id=job_id, text="Three.")
    messages.write(cast.tess, job_id=job_id, text="An answer.")
    cast.clock.forward(days=1)
    messages.write(cast.cy, job_id=job_id, text="Three.")
