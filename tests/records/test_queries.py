"""What the desks ask: in bulk, and in statements whose number does not grow with the shop."""

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from sqlalchemy import event
from sqlmodel import Session

from service.errors import NotFound
from service.records import (
    batches,
    block_queries,
    blocks,
    crushings,
    jobs,
    materials,
    people,
    presses,
    rate_limit,
    recipes,
    tokens,
)
from service.records import (
    shop as shops,
)
from service.records import soil_tests as soil_tests
from service.records.batches import TrialBlock
from service.records.blocks import BlockHeight, Soak
from service.records.database import Engines
from service.records.jobs import JobCriterion
from service.records.materials import Material, Preparation, Price
from service.records.presses import Calibration, CalibrationPoint, PressSession
from service.records.rate_limit import Attempt
from service.records.shop import Prior, Shop
from service.records.soil_tests import (
    FlowReading,
    ShrinkageTest,
    SieveReading,
    SieveTest,
    SoilSign,
    SoilTest,
    ThreadReading,
)
from service.records.tokens import Ticket
from tests.records.shop import PRESSED, SmallShop

HOUR = timedelta(hours=1)


def soil_test(shop: SmallShop, kind: str, **other: Any) -> SoilTest:
    given = {"material_id": shop.soil.id, "kind": kind, "done_at": PRESSED, "done_by": shop.tess.id, "as_read": {}}
    return SoilTest(**{**given, **other})


def calibration(shop: SmallShop, valid_from: date, **other: Any) -> Calibration:
    given = {"gauge_id": shop.gauge.id, "done_on": valid_from, "valid_from": valid_from, "reference": "Load cell"}
    return Calibration(**{**given, "valid_until": valid_from + timedelta(days=365), **other})


def test_a_person_is_found_by_address_whatever_its_capitals(shop: SmallShop) -> None:
    found = people.person_by_email(shop.session, " Tess@Example.org ")
    assert found is not None
    assert found.id == shop.tess.id
    assert people.person_by_email(shop.session, "nobody@example.org") is None


def test_a_ticket_is_found_by_the_hash_of_its_token(shop: SmallShop) -> None:
    shop.add(
        ticket=Ticket(kind="session", token_sha256="a" * 64, person_id=shop.cy.id, expires_at=PRESSED),
        ended=Ticket(kind="session", token_sha256="b" * 64, person_id=shop.cy.id, expires_at=PRESSED, ended_at=PRESSED),
    )
    found = tokens.ticket_by_token(shop.session, "a" * 64)
    assert found is not None
    assert found.person_id == shop.cy.id
    assert tokens.ticket_by_token(shop.session, "c" * 64) is None
    assert [each.id for each in tokens.sessions_of(shop.session, shop.cy.id)] == [shop.ticket.id]


def test_a_session_speaks_until_its_time_and_for_nobody_who_was_let_go(shop: SmallShop) -> None:
    shop.add(settings=Shop(name="A shop", time_zone="America/Denver", currency="USD"))
    shop.add(ticket=Ticket(kind="session", token_sha256="a" * 64, person_id=shop.tess.id, expires_at=PRESSED + HOUR))

    def speaks(after: timedelta) -> bool:
        given = {"kind": "session", "device_sha256": None, "at": PRESSED + after}
        return tokens.bearer(shop.session, "a" * 64, **given) is not None

    assert [speaks(timedelta(0)), speaks(HOUR), speaks(2 * HOUR)] == [True, False, False]
    shop.tess.ended_at = PRESSED
    shop.session.flush()
    assert not speaks(timedelta(0))


def test_attempts_are_counted_by_door_and_time(shop: SmallShop) -> None:
    for minutes in (0, 5, 20):
        shop.session.add(Attempt(bucket="sign in", at=PRESSED + timedelta(minutes=minutes)))
    shop.session.add(Attempt(bucket="another door", at=PRESSED))
    assert rate_limit.attempts_of_late(shop.session, bucket="sign in", at=PRESSED + timedelta(minutes=20)) == 2


def test_the_newest_prior_counts(shop: SmallShop) -> None:
    assert shops.prior(shop.session) is None
    keys = ("median_mpa", "log_sd", "scatter", "scatter_log_sd", "spread", "spread_log_sd", "batch_sd")
    for days, value in ((0, 1.0), (2, 3.0), (1, 2.0)):
        adopted = {"adopted_at": PRESSED + timedelta(days=days), "adopted_by": shop.olu.id, "rests_on": "[]"}
        shop.session.add(Prior(**{**dict.fromkeys(keys, value), **adopted}))
    found = shops.prior(shop.session)
    assert found is not None
    assert found.median_mpa == 3.0


def test_there_is_no_shop_until_it_is_set_up(shop: SmallShop) -> None:
    assert shops.shop(shop.session) is None
    shop.session.add(Shop(name="A shop", time_zone="America/Denver", currency="USD"))
    found = shops.shop(shop.session)
    assert found is not None
    assert (found.name, found.assurance) == ("A shop", 0.95)


def test_another_customer_cannot_tell_that_the_job_exists(shop: SmallShop) -> None:
    assert jobs.visible(shop.session, shop.job.id, seen_by=None).number == 1
    assert jobs.visible(shop.session, shop.job.id, seen_by=shop.cy_customer.id).number == 1
    assert jobs.with_customer(shop.session, shop.job.id, seen_by=shop.cy_customer.id)[1].name == "Cy"
    said = []
    for look in (jobs.visible, jobs.with_customer):
        for job_id, seen_by in ((shop.job.id, shop.dov_customer.id), (uuid4(), shop.dov_customer.id), (uuid4(), None)):
            with pytest.raises(NotFound) as refused:
                look(shop.session, job_id, seen_by=seen_by)
            said.append(refused.value.sentence)
    assert len(set(said)) == 1


def test_the_next_job_has_the_next_number(shop: SmallShop) -> None:
    assert jobs.next_number(shop.session) == 2


def test_the_criteria_of_a_job_come_by_key(shop: SmallShop) -> None:
    for key in ("b", "a"):
        shop.session.add(JobCriterion(job_id=shop.job.id, key=key, edition="2020", rules="{}"))
    assert [criterion.key for criterion in jobs.criteria_of(shop.session, shop.job.id)] == ["a", "b"]


@pytest.mark.parametrize(
    ("on", "per_kg"),
    [(date(2026, 12, 31), None), (date(2027, 1, 1), "0.18"), (date(2027, 2, 1), "0.21"), (date(2027, 5, 1), "0.21")],
)
def test_the_price_of_a_day_is_the_newest_that_had_begun(shop: SmallShop, on: date, per_kg: str | None) -> None:
    for begun, amount in ((date(2027, 1, 1), "0.18"), (date(2027, 2, 1), "0.21"), (date(2027, 6, 1), "0.30")):
        price = Price(material_id=shop.cement.id, valid_from=begun, per_kg=Decimal(amount), source="The yard's list")
        shop.session.add(price)
    found = {each.material.name: each.price for each in materials.priced(shop.session, on=on, customer_id=None)}
    assert set(found) == {"Cement"}
    assert found["Cement"] is None if per_kg is None else found["Cement"].per_kg == Decimal(per_kg)
    assert [price.valid_from.month for price in materials.prices_of(shop.session, shop.cement.id)] == [6, 2, 1]


def test_a_customers_own_soil_is_priced_for_that_customer_only(shop: SmallShop) -> None:
    shop.add(dovs=Material(kind="soil", name="Dov's soil", customer_id=shop.dov_customer.id))
    found = materials.priced(shop.session, on=PRESSED.date(), customer_id=shop.cy_customer.id)
    assert [each.material.name for each in found] == ["Cement", "Lower field soil"]


def test_the_sacks_of_a_job_come_with_what_is_in_them(shop: SmallShop) -> None:
    done = {"receipt_id": shop.sack.id, "done_at": PRESSED, "done_by": shop.tess.id, "as_read": {}}
    shop.add(sieved=Preparation(oversize_mm=10.0, oversize_kg=1.2, oversize_became="thrown out", **done))
    assert materials.receipts_of_job(shop.session, shop.job.id) == [(shop.sack, shop.soil)]
    assert materials.preparations_of_job(shop.session, shop.job.id) == [shop.sieved]


def test_a_recipe_comes_with_its_parts_and_groups(shop: SmallShop) -> None:
    (whole,) = recipes.recipes_of_job(shop.session, shop.job.id)
    assert whole == (shop.recipe, [shop.part], [shop.group], {})
    assert recipes.recipe(shop.session, shop.recipe.id) == whole
    assert recipes.recipe(shop.session, uuid4()) is None


def test_a_batch_comes_with_what_is_weighed_into_it(shop: SmallShop) -> None:
    made = {"batch_id": shop.batch.id, "made_at": PRESSED, "made_by": shop.tess.id, "as_read": {}}
    shop.add(trial=TrialBlock(position=1, charge_kg=2.3, height_mm=92.0, **made))
    assert batches.batches_of_job(shop.session, shop.job.id) == [(shop.batch, [shop.weighed])]
    assert batches.batch(shop.session, shop.batch.id) == (shop.batch, [shop.weighed])
    assert batches.batch(shop.session, uuid4()) is None
    assert batches.trial_blocks_of(shop.session, [shop.batch.id]) == [shop.trial]


def test_a_block_comes_with_where_it_belongs(shop: SmallShop) -> None:
    assert blocks.placed(shop.session, shop.block_1.id) == (shop.block_1, shop.group, shop.batch, shop.recipe)
    assert blocks.block_by_label(shop.session, "1-A-2") == shop.block_2
    with pytest.raises(NotFound):
        blocks.placed(shop.session, uuid4())


def test_the_corners_of_a_block_come_in_order(shop: SmallShop) -> None:
    for position in (3, 1, 4, 2):
        corner = {"block_id": shop.block_1.id, "position": position, "height_mm": 90.0 + position, "as_read": {}}
        shop.session.add(BlockHeight(**corner))
    found = blocks.heights_of(shop.session, [shop.block_1.id, shop.block_2.id])
    assert {block: [height.height_mm for height in heights] for block, heights in found.items()} == {
        shop.block_1.id: [91.0, 92.0, 93.0, 94.0]
    }


def test_a_block_waits_until_it_is_crushed_or_lost(shop: SmallShop) -> None:
    shop.add(
        crushed=shop.crushing(shop.block_1),
        soak=Soak(block_id=shop.block_3.id, started_at=PRESSED, started_by=shop.tess.id, as_read={}),
        earlier=Soak(
            block_id=shop.block_3.id,
            started_at=PRESSED - 3 * HOUR,
            started_by=shop.tess.id,
            ended_at=PRESSED - HOUR,
            ended_by=shop.tess.id,
            as_read={},
        ),
    )
    shop.block_2.lost_at, shop.block_2.lost_because = PRESSED, "stuck in the mould"
    shop.session.add(shop.block_2)
    (waiting,) = block_queries.waiting(shop.session)
    assert (waiting.block_id, waiting.recipe, waiting.job_id) == (shop.block_3.id, "A", shop.job.id)
    assert (waiting.customer, waiting.soak_started_at, waiting.soak_ended_at) == ("Cy", PRESSED, None)


def test_no_block_of_a_closed_job_waits(shop: SmallShop) -> None:
    shop.job.closed_at = PRESSED
    shop.session.add(shop.job)
    assert block_queries.waiting(shop.session) == []


def test_the_calibration_of_a_day_is_the_newest_not_replaced_that_had_begun(shop: SmallShop) -> None:
    old, new = date(2026, 1, 1), date(2027, 1, 1)
    shop.add(old=calibration(shop, old), wrong=calibration(shop, new), later=calibration(shop, date(2027, 9, 1)))
    shop.add(right=calibration(shop, new, replaces_id=shop.wrong.id, replaced_because="the cell was read in lbf"))
    found = presses.calibrations_of(shop.session, [shop.gauge.id])[shop.gauge.id]

    def on(day: date) -> Calibration | None:
        in_force = presses.in_force(found, on=day)
        return None if in_force is None else in_force.calibration

    assert on(date(2025, 12, 31)) is None
    assert on(date(2026, 12, 31)) == shop.old
    assert on(new) == shop.right
    # Typed with a day after that of its correction, it would be the newest.
    shop.add(mistyped=calibration(shop, date(2028, 5, 1)))
    shop.add(mended=calibration(shop, date(2026, 6, 1), replaces_id=shop.mistyped.id, replaced_because="wrong year"))
    found = presses.calibrations_of(shop.session, [shop.gauge.id])[shop.gauge.id]
    assert on(date(2028, 6, 1)) == shop.later
    # Past its end a calibration still counts; that the result says so is for whoever reads it.
    shop.add(other_gauge_free=calibration(shop, date(2024, 1, 1)))
    assert on(date(2027, 8, 31)) == shop.right
    assert on(date(2030, 1, 1)) == shop.later


def test_the_points_of_a_calibration_come_in_order(shop: SmallShop) -> None:
    shop.add(calibration=calibration(shop, date(2027, 1, 1)))
    for position, gauge_mpa in ((2, 10.0), (1, 5.0)):
        point = {"calibration_id": shop.calibration.id, "position": position, "gauge_mpa": gauge_mpa}
        shop.session.add(CalibrationPoint(force_kn=4.4 * gauge_mpa, as_read={}, **point))
    (found,) = presses.calibrations_of(shop.session, [shop.gauge.id])[shop.gauge.id]
    assert [point.gauge_mpa for point in found.points] == [5.0, 10.0]


def test_presses_come_with_the_gauges_in_use(shop: SmallShop) -> None:
    assert presses.presses(shop.session) == [(shop.press, shop.gauge)]
    assert presses.gauges_by_id(shop.session, [shop.gauge.id]) == {shop.gauge.id: (shop.gauge, shop.press)}
    assert presses.moulds(shop.session) == [shop.mould]
    shop.gauge.ended_at = PRESSED
    shop.session.add(shop.gauge)
    assert presses.presses(shop.session) == [(shop.press, None)]
    assert presses.gauges_by_id(shop.session, [shop.gauge.id])[shop.gauge.id][0] == shop.gauge


def test_a_press_session_is_open_until_its_zero_is_read_again(shop: SmallShop) -> None:
    opened = {"gauge_id": shop.gauge.id, "opened_at": PRESSED, "opened_by": shop.tess.id, "as_read": {}}
    shop.add(press_session=PressSession(zero_before_mpa=0.1, **opened))
    assert presses.open_session(shop.session, shop.gauge.id) == shop.press_session
    shop.press_session.closed_at, shop.press_session.closed_by, shop.press_session.zero_after_mpa = (
        PRESSED + HOUR,
        shop.tess.id,
        0.2,
    )
    shop.session.add(shop.press_session)
    assert presses.open_session(shop.session, shop.gauge.id) is None


def test_a_soils_standing_tests_come_with_their_readings(shop: SmallShop) -> None:
    shop.add(
        sieving=soil_test(shop, "sieve"),
        flow=soil_test(shop, "flow", done_at=PRESSED + HOUR),
        thread=soil_test(shop, "thread", done_at=PRESSED + 2 * HOUR),
        box=soil_test(shop, "shrinkage", done_at=PRESSED + 3 * HOUR),
        salts=soil_test(shop, "salts", done_at=PRESSED + 4 * HOUR),
        old=soil_test(shop, "sieve", ended_at=PRESSED, ended_by=shop.tess.id, ended_because="pan not weighed"),
    )
    can = {"position": 1, "can_g": 5.0, "wet_g": 20.0, "dry_g": 16.0, "as_read": {}}
    shop.add(
        masses=SieveTest(test_id=shop.sieving.id, dry_mass_g=512.0, washed_dry_mass_g=431.0, pan_g=31.0, as_read={}),
        fine=SieveReading(test_id=shop.sieving.id, size_mm=0.075, retained_g=100.0, as_read={}),
        coarse=SieveReading(test_id=shop.sieving.id, size_mm=4.75, retained_g=12.0, as_read={}),
        blows=FlowReading(test_id=shop.flow.id, blows=25, **can),
        rolled=ThreadReading(test_id=shop.thread.id, **can),
        shrunk=ShrinkageTest(
            test_id=shop.box.id, box_length_mm=600, box_width_mm=40, box_depth_mm=40, shrinkage_mm=18, as_read={}
        ),
        crust=SoilSign(test_id=shop.salts.id, positive=True, sign="white crust", as_read={}),
    )
    found = {whole.test.kind: whole for whole in soil_tests.standing_tests(shop.session, [shop.soil.id])}
    assert list(found) == ["sieve", "flow", "thread", "shrinkage", "salts"]
    assert (found["sieve"].sieve, found["sieve"].sieves) == (shop.masses, [shop.coarse, shop.fine])
    assert (found["flow"].flows, found["thread"].threads) == ([shop.blows], [shop.rolled])
    assert (found["shrinkage"].shrinkage, found["salts"].sign) == (shop.shrunk, shop.crust)


BULK: list[tuple[str, int, Callable[[Session, Any], object]]] = [
    ("recipes", 2, lambda session, shop: recipes.recipes_of_job(session, shop.job)),
    ("batches", 2, lambda session, shop: batches.batches_of_job(session, shop.job)),
    ("waiting", 1, lambda session, shop: block_queries.waiting(session)),
    ("crushings", 1, lambda session, shop: crushings.standing_of(session, shop.blocks)),
    ("tests", 5, lambda session, shop: soil_tests.standing_tests(session, [shop.soil])),
    ("calibrations", 1, lambda session, shop: presses.calibrations_of(session, [shop.gauge])),
    ("prices", 1, lambda session, shop: materials.priced(session, on=PRESSED.date(), customer_id=None)),
]


class Ids:
    """The ids of the small shop, read before counting begins."""

    def __init__(self, shop: SmallShop) -> None:
        self.job, self.soil, self.gauge = shop.job.id, shop.soil.id, shop.gauge.id
        self.blocks = [shop.block_1.id, shop.block_2.id, shop.block_3.id]


@pytest.mark.parametrize(("budget", "ask"), [row[1:] for row in BULK], ids=[row[0] for row in BULK])
@pytest.mark.parametrize("more", [0, 20], ids=["three blocks", "23 blocks"])
def test_asking_in_bulk_costs_the_same_however_much_there_is(
    engines: Engines, shop: SmallShop, budget: int, ask: Callable[[Session, Any], object], more: int
) -> None:
    shop.session.add_all([shop.block(4 + n) for n in range(more)])
    shop.session.commit()
    ids, sent = Ids(shop), []
    shop.session.rollback()
    with Session(engines.read) as reading:
        reading.connection()
        event.listen(engines.read, "before_cursor_execute", lambda _c, _k, statement, *_: sent.append(statement))
        ask(reading, ids)
    assert len(sent) == budget
