"""The outbox: written in the act, one mail an event and person, claimed by one replica, given up after days."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from itertools import pairwise
from threading import Barrier

import pytest
from sqlmodel import Session, select

from service.desk import mail, messages, people
from service.desk.doorway import Role
from service.errors import NotFound
from service.records.outbox import GIVE_UP_AFTER, Outbox
from service.web.authentication import sha256
from tests.bench_rows import pressed_job
from tests.cast import Cast


@pytest.fixture
def shop(cast: Cast) -> Cast:
    return cast.with_mail()


@pytest.fixture
def job_id(cast: Cast):
    return pressed_job(cast)["job"]


def written(shop: Cast) -> list[tuple[str, str]]:
    """Return the kind of each mail in the outbox and whom it is for."""
    names = {person: name for name, person in shop.ids.items()}
    with Session(shop.stores.read) as session:
        return sorted((one.kind, names.get(one.person_id, "?")) for one in session.exec(select(Outbox)))


def claimed(shop: Cast):
    return mail.claim(shop.olu)


def test_a_shop_that_sends_no_mail_writes_none(cast: Cast, job_id) -> None:
    messages.write(cast.cy, job_id=job_id, text="When?")
    assert written(cast) == []


def test_a_question_goes_to_the_shop_and_an_answer_to_the_customer_and_to_nobody_else(shop: Cast, job_id) -> None:
    messages.write(shop.cy, job_id=job_id, text="When?")
    assert written(shop) == [("question", "olu"), ("question", "tess")]
    messages.write(shop.tess, job_id=job_id, text="On Friday.")
    assert written(shop) == [("answer", "cy"), ("question", "olu"), ("question", "tess")]


def test_the_same_form_sent_twice_writes_one_mail(shop: Cast, job_id) -> None:
    caller = shop.tess
    for _ in range(2):
        messages.write(caller, job_id=job_id, text="On Friday.")
    assert written(shop) == [("answer", "cy")]


def test_an_act_that_is_refused_writes_no_mail(shop: Cast) -> None:
    given = {"name": "Ina", "role": Role.TECHNICIAN, "customer_id": None}
    people.invite(shop.olu, email="ina@shop.example", token_sha256=sha256("one"), **given)
    with pytest.raises(Exception, match="already"):
        people.invite(shop.olu, email="ina@shop.example", token_sha256=sha256("two"), **given)
    assert [kind for kind, _ in written(shop)] == ["invitation"]


def test_who_declines_mail_on_progress_gets_none_and_is_asked_again_before_it_goes(shop: Cast, job_id) -> None:
    messages.write(shop.tess, job_id=job_id, text="On Friday.")
    mail.choose(shop.cy, declines_progress=True)
    messages.write(shop.tess, job_id=job_id, text="On Saturday.")
    assert written(shop) == [("answer", "cy")]
    assert mail.letter(shop.olu, mail_id=claimed(shop).id) is None


def test_two_replicas_claim_each_mail_once(shop: Cast, job_id) -> None:
    for number in range(4):
        messages.write(shop.tess, job_id=job_id, text=f"Message {number}")
    gate = Barrier(4)

    def taken(_: int) -> list[object]:
        gate.wait()
        found = []
        while (one := claimed(shop)).details["state"] == "held":
            found.append(one.id)
        return found

    with ThreadPoolExecutor(4) as threads:
        mails = [one for found in threads.map(taken, range(4)) for one in found]
    assert len(mails) == 4 == len(set(mails))


def test_a_claim_whose_process_died_is_free_again_and_one_that_had_begun_to_leave_is_told(shop: Cast, job_id) -> None:
    messages.write(shop.tess, job_id=job_id, text="On Friday.")
    first = claimed(shop)
    assert claimed(shop).details["state"] == "none"
    shop.clock.forward(minutes=11)
    again = claimed(shop)
    assert (again.id, again.details["state"]) == (first.id, "held")
    mail.hand_over(shop.olu, mail_id=again.id)
    shop.clock.forward(minutes=11)
    assert claimed(shop).details["state"] == "unsure" and claimed(shop).details["state"] == "none"
    (told,) = mail.show(shop.olu).given_up
    assert told.error == mail.UNSURE and told.name == "Cy" and mail.stuck(shop.olu) == 1


def test_what_is_declined_for_now_is_tried_after_growing_pauses_and_given_up_after_days(shop: Cast, job_id) -> None:
    messages.write(shop.tess, job_id=job_id, text="On Friday.")
    began, tried = shop.clock.now, []
    while due := mail.show(shop.olu).waiting:
        shop.clock.now = due[0].due_at
        tried.append(shop.clock.now - began)
        mail.note(shop.olu, mail_id=claimed(shop).id, outcome="later", error="451 Come back")
    waits = [later - earlier for earlier, later in pairwise(tried)]
    assert waits == sorted(waits) and waits[0] == timedelta(minutes=1) and waits[-1] == timedelta(hours=6)
    assert GIVE_UP_AFTER - timedelta(hours=6) < tried[-1] <= GIVE_UP_AFTER
    assert mail.show(shop.olu).given_up[0].error == "451 Come back"


def test_mail_that_nobody_sends_any_more_does_not_wait_for_ever(shop: Cast, job_id) -> None:
    messages.write(shop.tess, job_id=job_id, text="On Friday.")
    shop.clock.forward(hours=3)
    assert mail.stuck(shop.olu) == 1
    shop.clock.forward(days=5)
    mail.give_up(shop.olu)
    (told,) = mail.show(shop.olu).given_up
    assert told.error == mail.EXPIRED


def test_the_owner_sends_a_mail_again_or_removes_it(shop: Cast, job_id) -> None:
    messages.write(shop.tess, job_id=job_id, text="On Friday.")
    one = claimed(shop)
    mail.note(shop.olu, mail_id=one.id, outcome="never", error="550 No such mailbox")
    assert claimed(shop).details["state"] == "none"
    mail.send_again(shop.olu, mail_id=one.id)
    assert claimed(shop).id == one.id
    mail.remove(shop.olu, mail_id=one.id)
    assert mail.show(shop.olu).waiting == mail.show(shop.olu).given_up == []
    # Whoever was just sending it finds nothing to note.
    mail.note(shop.olu, mail_id=one.id, outcome="sent")
    with pytest.raises(NotFound):
        mail.send_again(shop.olu, mail_id=one.id)


def test_who_has_no_access_any_more_gets_no_mail(shop: Cast, job_id) -> None:
    messages.write(shop.tess, job_id=job_id, text="On Friday.")
    people.end_person(shop.olu, person_id=shop.ids["cy"])
    assert written(shop) == []


def test_the_shop_is_told_of_the_days_blocks_once_from_six_in_the_morning(shop: Cast, job_id) -> None:
    # The clock shows nine in the shop; the sample's blocks are due within the week.
    for _ in range(10):
        if not mail.day_is_told(shop.olu):
            mail.tell_day(shop.olu)
        assert mail.day_is_told(shop.olu)
        shop.clock.forward(days=1)
    with Session(shop.stores.read) as session:
        kept = list(session.exec(select(Outbox)))
    days = [one.event_key for one in kept if one.person_id == shop.ids["olu"]]
    assert {one.kind for one in kept} == {"blocks due"} and days and len(days) == len(set(days))
