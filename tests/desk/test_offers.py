"""A request, an offer, and work that starts when somebody accepted it."""

from datetime import timedelta
from decimal import Decimal

import pytest
from sqlmodel import Session

from service.desk import jobs_in_hand, offers
from service.desk.mixing import begin_batch
from service.errors import Conflict, Forbidden, Invalid, NotFound
from service.typed import Typed
from tests.bench_rows import pressed_job
from tests.cast import Cast


def asked(cast: Cast, **more) -> object:
    given = {"site": "North pit", "question": "Is it good enough?", "question_kind": "meets code", "remark": None}
    return offers.request(cast.cy, **{**given, **more}).id


def offered(cast: Cast, job_id, price: str = "180") -> object:
    day = cast.clock.now.date() + timedelta(days=40)
    return offers.make(cast.olu, job_id=job_id, price=Decimal(price), expected_on=day, remark="Five blocks each.").id


def newest(cast: Cast, job_id) -> offers.OfferSaid:
    return offers.of_job(cast.cy, job_id=job_id).said[0]


def test_a_request_becomes_a_job_that_waits_for_an_offer(cast: Cast) -> None:
    job_id = asked(cast, wall_height_m=Typed(2.4, "2.4", "m"))
    (line,) = jobs_in_hand.jobs(cast.tess).lines
    assert (line.id, line.stage.value, line.offer) == (job_id, "intake", "asked")
    assert newest(cast, job_id).state == "asked"
    with pytest.raises(NotFound):
        offers.of_job(cast.dov, job_id=job_id)


def test_an_offer_is_accepted_once_by_its_own_customer_and_its_day_is_the_promise(cast: Cast) -> None:
    job_id = asked(cast)
    offer_id = offered(cast, job_id)
    with pytest.raises(NotFound):
        offers.accept(cast.dov, job_id=job_id, offer_id=offer_id)
    caller = cast.cy
    assert {offers.accept(caller, job_id=job_id, offer_id=offer_id).id for _ in range(2)} == {offer_id}
    said = newest(cast, job_id)
    assert (said.state, said.settled_by, said.price) == ("accepted", "Cy", Decimal("180"))
    assert jobs_in_hand.card(cast.olu, job_id=job_id).promised_on == said.expected_on
    with pytest.raises(Conflict):
        offers.decline(cast.cy, job_id=job_id, offer_id=offer_id)
    with pytest.raises(Conflict):
        offered(cast, job_id)


def test_an_offer_that_gave_way_to_another_cannot_be_accepted(cast: Cast) -> None:
    job_id = asked(cast)
    first = offered(cast, job_id)
    second = offered(cast, job_id, "150")
    with pytest.raises(Conflict):
        offers.accept(cast.cy, job_id=job_id, offer_id=first)
    offers.accept(cast.tess, job_id=job_id, offer_id=second, name="Cy, by telephone")
    said = newest(cast, job_id)
    assert (said.settled_by, said.settled_name) == ("Tess", "Cy, by telephone")


def test_somebody_of_the_shop_says_who_accepted(cast: Cast) -> None:
    job_id = asked(cast)
    with pytest.raises(Invalid) as refused:
        offers.accept(cast.olu, job_id=job_id, offer_id=offered(cast, job_id), name=" ")
    assert list(refused.value.fields) == ["name"]


def test_only_an_owner_offers_and_starts_without_and_only_a_customer_asks(cast: Cast) -> None:
    job_id = asked(cast)
    day = cast.clock.now.date()
    with pytest.raises(Forbidden):
        offers.make(cast.tess, job_id=job_id, price=Decimal(1), expected_on=day, remark=None)
    with pytest.raises(Forbidden):
        offers.start_without(cast.tess, job_id=job_id)
    with pytest.raises(Forbidden):
        offers.request(cast.olu, site="A", question="B", question_kind="meets code", remark=None)


@pytest.mark.parametrize(("price", "days", "field"), [("-1", 1, "price"), ("10", -1, "expected_on")])
def test_an_offer_has_a_price_and_a_day_to_come(cast: Cast, price, days, field) -> None:
    day = cast.clock.now.date() + timedelta(days=days)
    with pytest.raises(Invalid) as refused:
        offers.make(cast.olu, job_id=asked(cast), price=Decimal(price), expected_on=day, remark=None)
    assert list(refused.value.fields) == [field]


def test_no_batch_is_begun_before_the_offer_is_accepted_or_the_owner_starts_without(cast: Cast) -> None:
    ids = pressed_job(cast)
    with Session(cast.stores.write) as session:
        from service.records.recipes import Recipe

        session.get_one(Recipe, ids["recipe"]).batches = 3
        session.commit()

    def begun() -> str:
        try:
            begin_batch.start_batch(cast.tess, recipe_id=ids["recipe"], scale_graduation_kg=Typed(0.005, "5", "g"))
        except Conflict as refusal:
            return refusal.sentence
        except Invalid:
            return "let through"
        return "let through"

    assert begun() == "let through"
    offer_id = offered(cast, ids["job"])
    assert begun() == begin_batch.NOT_ACCEPTED
    offers.decline(cast.cy, job_id=ids["job"], offer_id=offer_id)
    assert begun() == begin_batch.NOT_ACCEPTED
    offers.start_without(cast.olu, job_id=ids["job"])
    assert begun() == "let through"


def test_one_person_asks_so_often_in_a_day_and_no_more(cast: Cast, monkeypatch) -> None:
    monkeypatch.setattr(offers, "MOST_A_DAY", 2)
    asked(cast), asked(cast)
    with pytest.raises(Invalid):
        asked(cast)
    cast.clock.forward(days=1)
    asked(cast)
