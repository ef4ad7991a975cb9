"""Invoice lines: an accepted offer's price or what the owner wrote, and a paid mark with its day, on both databases."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from uuid import UUID

import pytest

from service.desk import backups, invoices, offers
from service.desk.results import live
from service.errors import Conflict, Forbidden, Invalid, NotFound
from service.paper import issuing
from tests.cast import Cast
from tests.trials import a_tried_job


def asked(cast: Cast, site: str = "North pit") -> UUID:
    done = offers.request(cast.cy, site=site, question="Good?", question_kind="meets code", remark=None)
    return done.id


def accepted(cast: Cast, price: str) -> UUID:
    job_id, expected_on = asked(cast), cast.olu.clock.today + timedelta(days=40)
    made = offers.make(cast.olu, job_id=job_id, price=Decimal(price), expected_on=expected_on, remark=None)
    offers.accept(cast.cy, job_id=job_id, offer_id=made.id)
    return job_id


def numbers(cast: Cast, wanted: str = "not paid") -> list[int]:
    return [one.number for one in invoices.charged(cast.olu, wanted=wanted).jobs]


def test_a_job_without_offer_line_or_result_is_nothing_to_charge(cast: Cast) -> None:
    asked(cast)
    assert numbers(cast, "all") == []


def test_the_price_of_an_accepted_offer_is_the_first_line_and_written_lines_add_to_it(cast: Cast) -> None:
    job_id = accepted(cast, "180.50")
    found = invoices.show(cast.olu, job_id=job_id)
    assert [(one.words, one.price, one.accepted_on) for one in found.lines] == [
        ("Test as offered", Decimal("180.50"), cast.olu.clock.today)
    ]
    invoices.add_line(cast.olu, job_id=job_id, words=" Way to the pit ", price=Decimal("19.50"))
    found = invoices.show(cast.olu, job_id=job_id)
    # 180.50 and 19.50 are 200.
    assert (found.lines[1].words, found.total) == ("Way to the pit", Decimal(200))
    invoices.remove_line(cast.olu, job_id=job_id, line_id=found.lines[1].id)
    assert invoices.show(cast.olu, job_id=job_id).total == Decimal("180.50")
    with pytest.raises(NotFound):
        invoices.remove_line(cast.olu, job_id=job_id, line_id=found.lines[1].id)
    acts = [(one.act, one.details) for one in backups.entries(cast.olu, last=2)]
    assert sorted(act for act, _ in acts) == ["invoice.add_line", "invoice.remove_line"]
    assert all("Way to the pit" in str(details) for _, details in acts)


def test_an_issued_job_waits_for_a_price_and_says_what_was_done(cast: Cast) -> None:
    tried = a_tried_job(cast)
    seen = live.live(cast.olu, job_id=tried.job_id).sha256
    issuing.issue(cast.olu, job_id=tried.job_id, remark="", seen_sha256=seen)
    (one,) = invoices.charged(cast.olu).jobs
    # Three recipes of ten blocks, all crushed.
    assert (one.recipes, one.blocks, one.crushed, one.total) == (3, 30, 30, None)
    assert one.issued_on == cast.olu.clock.today
    with pytest.raises(Conflict, match="no price yet"):
        invoices.mark_paid(cast.olu, job_id=tried.job_id, paid_on=None)


def test_a_paid_job_leaves_the_list_and_comes_back_when_the_mark_is_removed(cast: Cast) -> None:
    job_id, today = accepted(cast, "100"), cast.olu.clock.today
    with pytest.raises(Invalid) as refused:
        invoices.mark_paid(cast.olu, job_id=job_id, paid_on=today + timedelta(days=1))
    assert set(refused.value.fields) == {"paid_on"}
    invoices.mark_paid(cast.olu, job_id=job_id, paid_on=today - timedelta(days=3))
    assert (numbers(cast), numbers(cast, "paid"), numbers(cast, "all")) == ([], [1], [1])
    assert invoices.show(cast.olu, job_id=job_id).paid_on == today - timedelta(days=3)
    for change in (
        lambda: invoices.add_line(cast.olu, job_id=job_id, words="More", price=Decimal(1)),
        lambda: invoices.mark_paid(cast.olu, job_id=job_id, paid_on=None),
    ):
        with pytest.raises(Conflict, match="marked as paid"):
            change()
    invoices.unmark_paid(cast.olu, job_id=job_id)
    assert numbers(cast) == [1]
    with pytest.raises(Conflict):
        invoices.unmark_paid(cast.olu, job_id=job_id)
    invoices.mark_paid(cast.olu, job_id=job_id, paid_on=None)
    assert invoices.show(cast.olu, job_id=job_id).paid_on == today


@pytest.mark.parametrize(
    ("words", "price", "field"), [(" ", "1", "words"), ("x", "-1", "price"), ("x", "0.005", "price")]
)
def test_a_line_that_cannot_be_is_refused_at_its_field(cast: Cast, words: str, price: str, field: str) -> None:
    with pytest.raises(Invalid) as refused:
        invoices.add_line(cast.olu, job_id=asked(cast), words=words, price=Decimal(price))
    assert set(refused.value.fields) == {field}


def test_a_line_of_another_job_is_not_found_and_one_sent_twice_is_written_once(cast: Cast) -> None:
    job_id, other_id = asked(cast), asked(cast, "South pit")
    olu = replace(cast.olu, request_key="one-line")
    for _ in range(2):
        done = invoices.add_line(olu, job_id=job_id, words="Two soils sieved", price=Decimal(40))
    assert len(invoices.show(cast.olu, job_id=job_id).lines) == 1
    line_id = UUID(str(done.details["line"]))
    with pytest.raises(NotFound):
        invoices.remove_line(cast.olu, job_id=other_id, line_id=line_id)


def test_older_jobs_are_on_the_next_page(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(invoices, "PAGE_SIZE", 2)
    monkeypatch.setattr(offers, "MOST_A_DAY", 9)
    for _ in range(3):
        accepted(cast, "10")
    first = invoices.charged(cast.olu)
    assert ([one.number for one in first.jobs], first.older) == ([3, 2], 2)
    second = invoices.charged(cast.olu, before=first.older)
    assert ([one.number for one in second.jobs], second.older) == ([1], None)
    assert [one.number for one in invoices.after(cast.olu, number=1)] == [2, 3]


def test_only_the_owner_sees_prices(cast: Cast) -> None:
    job_id = accepted(cast, "10")
    for caller in (cast.tess, cast.cy):
        with pytest.raises(Forbidden):
            invoices.charged(caller)
        with pytest.raises(Forbidden):
            invoices.show(caller, job_id=job_id)
        with pytest.raises(Forbidden):
            invoices.mark_paid(caller, job_id=job_id, paid_on=None)
