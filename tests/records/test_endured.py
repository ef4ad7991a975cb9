"""What blocks endure besides crushing, as rows: what the database refuses, keeps, and says of a block."""

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError

from service.records import block_queries, durability_tests, job_progress, result_queries, versions
from service.records.archive_restore import restore
from service.records.durability_tests import Absorption, Erosion, Flexure, WetDryCycle
from service.records.files import FileStore
from service.records.job_stage import Stage, stage_of
from tests import postgres
from tests.records.shop import PRESSED, WEEK, SmallShop
from tests.records.test_portable import archived, everything

DAY = timedelta(days=1)


def flexure(shop: SmallShop, **other: Any) -> Flexure:
    given = {
        "block_id": shop.block_1.id, "outcome": "broke", "state": "air-dry", "laid": "flat", "force_kn": 2.0,
        "span_mm": 100.0, "width_mm": 90.0, "thickness_mm": 75.0, "done_at": PRESSED + WEEK, "done_by": shop.tess.id,
        "as_read": {"force_kn": {"text": "2", "unit": "kN"}},
    }  # fmt: skip
    return Flexure(**{**given, **other})


def absorption(shop: SmallShop, **other: Any) -> Absorption:
    given = {
        "block_id": shop.block_1.id, "manner": "under water", "state_before": "oven-dry", "before_kg": 2.0,
        "wetted_at": PRESSED + WEEK, "done_by": shop.tess.id, "as_read": {"before_kg": {"text": "2", "unit": "kg"}},
    }  # fmt: skip
    return Absorption(**{**given, **other})


def erosion(shop: SmallShop, **other: Any) -> Erosion:
    given = {
        "block_id": shop.block_1.id, "manner": "drip", "outcome": "measured", "depth_mm": 3.0, "water_min": 40.0,
        "done_at": PRESSED + WEEK, "done_by": shop.tess.id, "as_read": {"depth_mm": {"text": "3", "unit": "mm"}},
    }  # fmt: skip
    return Erosion(**{**given, **other})


def cycle(shop: SmallShop, number: int, **other: Any) -> WetDryCycle:
    given = {
        "block_id": shop.block_1.id, "number": number, "outcome": "weighed", "mass_kg": 2.0, "done_by": shop.tess.id,
        "done_at": PRESSED + WEEK + number * DAY, "as_read": {"mass_kg": {"text": "2", "unit": "kg"}},
    }  # fmt: skip
    return WetDryCycle(**{**given, **other})


WRONG = [
    ("a force and a gauge both", lambda shop: flexure(shop, gauge_mpa=3.0, gauge_id=shop.gauge.id)),
    ("neither force nor gauge", lambda shop: flexure(shop, force_kn=None)),
    ("a gauge reading without a gauge", lambda shop: flexure(shop, force_kn=None, gauge_mpa=3.0)),
    ("a span of nothing", lambda shop: flexure(shop, span_mm=0.0)),
    ("a block bent lying on end", lambda shop: flexure(shop, laid="on end")),
    ("an outcome without its time", lambda shop: absorption(shop, outcome="weighed", after_kg=2.2)),
    ("a mass without an outcome", lambda shop: absorption(shop, after_kg=2.2)),
    (
        "a block that weighs less than before",
        lambda shop: absorption(shop, outcome="weighed", after_kg=1.9, weighed_at=PRESSED + WEEK + DAY),
    ),
    (
        "a block weighed before it was wetted",
        lambda shop: absorption(shop, outcome="fell apart", weighed_at=PRESSED + WEEK - DAY),
    ),
    ("an absorption of a soaked block", lambda shop: absorption(shop, state_before="soaked")),
    ("a pit without a depth", lambda shop: erosion(shop, depth_mm=None)),
    ("drops under pressure", lambda shop: erosion(shop, pressure_mpa=0.05)),
    ("water for no time", lambda shop: erosion(shop, water_min=0.0)),
    ("cycles that begin with a block in pieces", lambda shop: cycle(shop, 0, outcome="fell apart", mass_kg=None)),
    ("a cycle before the first", lambda shop: cycle(shop, -1)),
    ("a block in pieces with a mass", lambda shop: cycle(shop, 3, outcome="fell apart")),
]


@pytest.mark.parametrize(("what", "row"), WRONG, ids=[what for what, _ in WRONG])
def test_the_database_refuses(shop: SmallShop, what: str, row: Any) -> None:
    shop.session.add(row(shop))
    with pytest.raises(IntegrityError):
        shop.session.flush()


@pytest.mark.parametrize("row", [flexure, absorption, erosion, lambda shop: cycle(shop, 0)])
def test_one_test_of_a_kind_stands_on_a_block(shop: SmallShop, row: Any) -> None:
    shop.session.add_all([row(shop), row(shop)])
    with pytest.raises(IntegrityError):
        shop.session.flush()


@pytest.mark.parametrize("row", [flexure, absorption, erosion, lambda shop: cycle(shop, 0)])
def test_a_test_is_ended_and_replaced_and_nothing_else_of_it_moves(shop: SmallShop, row: Any) -> None:
    first, second = row(shop), row(shop)
    shop.session.add(first)
    shop.session.flush()
    versions.replace(shop.session, first, second, at=PRESSED + WEEK, by=shop.tess.id, because="misread")
    assert (first.ended_because, second.replaces_id) == ("misread", first.id)
    table = type(first).__tablename__
    for statement in (f"UPDATE {table} SET remark = 'x'", f"DELETE FROM {table}"):
        with pytest.raises(IntegrityError, match="never changed"), shop.session.begin_nested():
            shop.session.connection().execute(text(statement))


@pytest.mark.parametrize(
    ("row", "word"),
    [
        (flexure, "bending"),
        (erosion, "erosion"),
        (lambda shop: cycle(shop, 0), "cycles"),
        (absorption, "absorption"),
        (lambda shop: absorption(shop, state_before="air-dry"), None),
    ],
    ids=["bent", "eroded", "in cycles", "oven-dry in water", "air-dry in water"],
)
def test_a_block_that_was_used_up_no_longer_waits_for_the_press(shop: SmallShop, row: Any, word: str | None) -> None:
    made = row(shop)
    shop.session.add(made)
    shop.session.commit()
    waits = {one.label for one in block_queries.waiting(shop.session)}
    assert durability_tests.use_of(shop.session, shop.block_1.id) == word
    assert (shop.block_1.label in waits) == (word is None)
    far = job_progress.of_job(shop.session, shop.job.id, seen_by=None, now=PRESSED + WEEK)
    assert (far.waiting, far.tested) == ((2, 1) if word else (3, 0))
    versions.end(shop.session, made, at=PRESSED + WEEK, by=shop.tess.id, because="the wrong block")
    assert durability_tests.use_of(shop.session, shop.block_1.id) is None
    assert len(block_queries.waiting(shop.session)) == 3


def test_the_standing_tests_of_a_job_are_told_block_by_block(shop: SmallShop) -> None:
    gauge = {"force_kn": None, "gauge_mpa": 3.0, "gauge_id": shop.gauge.id}
    shop.session.add(flexure(shop, **gauge))
    shop.session.add_all([cycle(shop, n, block_id=shop.block_2.id, mass_kg=2.0 - n / 100) for n in (0, 1, 2)])
    shop.session.commit()
    first, second, third = result_queries.tried_blocks(shop.session, shop.job.id)
    assert first.bent is not None and first.bent.gauge == shop.gauge and first.bent.press == shop.press
    assert (first.used_up, first.absorption, first.erosion, first.cycles) == ("bending", None, None, {})
    assert (second.block.label, second.used_up, second.bent) == ("1-A-2", "cycles", None)
    assert (third.used_up, third.cycles, third.crushings) == (None, {}, [])
    assert {number: one.mass_kg for number, one in second.cycles.items()} == {0: 2.0, 1: 1.99, 2: 1.98}


@pytest.mark.parametrize("row", [flexure, absorption, erosion, lambda shop: cycle(shop, 0)])
def test_a_test_after_the_issued_result_is_news(shop: SmallShop, row: Any) -> None:
    shop.session.add_all(shop.crushing(block) for block in (shop.block_2, shop.block_3))
    shop.session.commit()
    before = job_progress.of_job(shop.session, shop.job.id, seen_by=None, now=PRESSED + WEEK)
    assert before.last_tested_at is None
    shop.session.add(row(shop))
    shop.session.commit()
    far = job_progress.of_job(shop.session, shop.job.id, seen_by=None, now=PRESSED + WEEK)
    assert far.last_tested_at == PRESSED + WEEK
    told = {"issued": 1, "last_issued_at": PRESSED + WEEK + DAY, "planned": 3}
    assert stage_of(far._replace(**told)) is Stage.ISSUED
    assert stage_of(far._replace(**{**told, "last_issued_at": PRESSED + WEEK - DAY, "last_crushed_at": PRESSED})) is (
        Stage.RESULTS
    )


def test_what_is_not_over_is_told_once_a_block_with_its_last_cycle(shop: SmallShop) -> None:
    shop.session.add_all([cycle(shop, n) for n in (0, 1, 2)])
    shop.session.add(absorption(shop, block_id=shop.block_2.id))
    over = {"outcome": "weighed", "after_kg": 2.2, "weighed_at": PRESSED + WEEK + DAY}
    shop.session.add(absorption(shop, block_id=shop.block_3.id, **over))
    shop.session.commit()
    told = [(one.label, one.manner, one.cycles, one.since) for one in durability_tests.running(shop.session)]
    assert told == [
        ("1-A-1", "cycles", 2, PRESSED + WEEK + 2 * DAY),
        ("1-A-2", "under water", 0, PRESSED + WEEK),
    ]
    shop.session.add(cycle(shop, 3, outcome="fell apart", mass_kg=None, as_read={}))
    shop.session.commit()
    assert [one.label for one in durability_tests.running(shop.session)] == ["1-A-2"]


def test_an_archive_carries_them_to_an_empty_database(
    shop: SmallShop, database_url: str, postgres_server: str, tmp_path: Path
) -> None:
    over = {"outcome": "weighed", "after_kg": 2.2, "weighed_at": PRESSED + WEEK + DAY}
    shop.session.add_all([flexure(shop), absorption(shop, block_id=shop.block_2.id, **over)])
    shop.session.add_all([erosion(shop, block_id=shop.block_3.id), *(cycle(shop, n) for n in (0, 1))])
    shop.session.commit()
    store = FileStore(str(tmp_path / "here"))
    archived(database_url, store, tmp_path / "a.zip")
    with postgres.database(postgres_server) as there:
        restore(tmp_path / "a.zip", url=there, files=FileStore(str(tmp_path / "there")))
        assert everything(there) == everything(database_url)
        assert all(len(everything(there)[table.__tablename__]) for table in durability_tests.TABLES.values())
