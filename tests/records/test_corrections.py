"""A correction keeps what was said before, with who, when and why."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from threading import Barrier

import pytest
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session

from service.errors import Conflict, Invalid
from service.records import corrections, crushings, versions
from service.records.crushings import Crushing
from service.records.database import Engines
from service.records.materials import Receipt
from tests.records.shop import PRESSED, SmallShop

LATER = PRESSED + timedelta(days=1)


def heavier(shop: SmallShop, session: Session | None = None, *, because: str = "scale not zeroed") -> None:
    session = session or shop.session
    sack = session.get(Receipt, shop.sack.id)
    assert sack is not None
    typed = {"mass_kg": {"text": "49.6", "unit": "lb"}}
    corrections.amend(session, sack, {"mass_kg": 22.498}, as_read=typed, at=LATER, by=shop.tess.id, because=because)


def test_a_corrected_sack_says_the_new_mass_and_keeps_the_old(shop: SmallShop) -> None:
    heavier(shop)
    shop.session.commit()
    assert (shop.sack.mass_kg, shop.sack.as_read["mass_kg"]["text"]) == (22.498, "49.6")
    (kept,) = corrections.corrections_of(shop.session, [shop.sack.id])
    assert (kept.corrected_by, kept.corrected_at, kept.because) == (shop.tess.id, LATER, "scale not zeroed")
    assert corrections.before_and_after(kept) == {
        "mass_kg": (
            {"value": 22.0, "typed": {"text": "22.0", "unit": "kg"}},
            {"value": 22.498, "typed": {"text": "49.6", "unit": "lb"}},
        )
    }


def test_a_correction_without_a_reason_names_the_field(shop: SmallShop) -> None:
    with pytest.raises(Invalid) as refused:
        heavier(shop, because="  ")
    assert list(refused.value.fields) == ["because"]


def test_a_correction_of_what_somebody_else_corrected_meanwhile_is_a_conflict(shop: SmallShop) -> None:
    assert shop.sack.mass_kg == 22.0
    statement = text("UPDATE receipt SET mass_kg = 23").execution_options(synchronize_session=False)
    shop.session.connection().execute(statement)
    with pytest.raises(Conflict):
        heavier(shop)


def test_a_replaced_crushing_ends_and_its_successor_stands(shop: SmallShop) -> None:
    shop.add(first=shop.crushing(shop.block_1))
    second = versions.replace(
        shop.session,
        shop.first,
        shop.crushing(shop.block_1, gauge_mpa=9.5),
        at=LATER,
        by=shop.tess.id,
        because="read from the film",
    )
    shop.session.commit()
    assert crushings.standing_of(shop.session, [shop.block_1.id, shop.block_2.id]) == {shop.block_1.id: second}
    assert (shop.first.gauge_mpa, second.gauge_mpa) == (9.0, 9.5)
    assert (second.replaces_id, shop.first.ended_by) == (shop.first.id, shop.tess.id)


def test_the_second_of_two_who_replace_one_crushing_is_told(shop: SmallShop) -> None:
    shop.add(first=shop.crushing(shop.block_1))
    said = {"at": LATER, "by": shop.tess.id, "because": "read again"}
    versions.replace(shop.session, shop.first, shop.crushing(shop.block_1, gauge_mpa=9.5), **said)
    with pytest.raises(Conflict, match="corrected this meanwhile"):
        versions.replace(shop.session, shop.first, shop.crushing(shop.block_1, gauge_mpa=9.4), **said)


def test_a_withdrawn_crushing_lets_the_block_be_crushed_again(shop: SmallShop) -> None:
    shop.add(first=shop.crushing(shop.block_1))
    versions.end(shop.session, shop.first, at=LATER, by=shop.tess.id, because="typed for the wrong block")
    shop.add(again=shop.crushing(shop.block_1))
    assert crushings.standing_of(shop.session, [shop.block_1.id])[shop.block_1.id].id == shop.again.id


def test_what_a_person_typed_last_is_remembered(engines: Engines, shop: SmallShop) -> None:
    shop.add(first=shop.crushing(shop.block_1, faces="packed"))
    shop.session.commit()
    with Session(engines.read) as reading:
        assert [one.faces for one in crushings.last_by(reading, shop.tess.id)] == ["packed"]
        assert crushings.last_by(reading, shop.olu.id) == []


def test_two_technicians_who_type_one_block_at_once_leave_one_reading(engines: Engines, shop: SmallShop) -> None:
    readings = [shop.crushing(shop.block_1, gauge_mpa=gauge_mpa) for gauge_mpa in (9.0, 9.5)]
    block_id = shop.block_1.id
    shop.session.rollback()
    both_ready = Barrier(2)

    def type_in(reading: Crushing) -> str:
        both_ready.wait()
        with Session(engines.write) as session:
            session.add(reading)
            try:
                session.commit()
            except IntegrityError as refused:
                return str(refused.orig)
        return "stands"

    with ThreadPoolExecutor(2) as pool:
        answers = sorted(pool.map(type_in, readings))
    assert answers[1] == "stands"
    assert "block_id" in answers[0]
    with Session(engines.read) as reading:
        assert list(crushings.standing_of(reading, [block_id])) == [block_id]


def test_two_who_correct_one_sack_at_once_leave_one_correction(engines: Engines, shop: SmallShop) -> None:
    sack_id = shop.sack.id
    by = shop.tess.id
    shop.session.rollback()
    both_read = Barrier(2)

    def correct(mass_kg: float) -> bool:
        with Session(engines.read) as reading:
            seen = reading.get(Receipt, sack_id)
            assert seen is not None
            reading.expunge(seen)
        both_read.wait()
        with Session(engines.write) as session:
            sack = session.merge(seen, load=False)
            said = {"as_read": {}, "at": LATER, "by": by, "because": "weighed again"}
            try:
                corrections.amend(session, sack, {"mass_kg": mass_kg}, **said)
            except Conflict:
                return False
            session.commit()
        return True

    with ThreadPoolExecutor(2) as pool:
        assert sorted(pool.map(correct, (22.1, 22.2))) == [False, True]
    with Session(engines.read) as reading:
        assert len(corrections.corrections_of(reading, [sack_id])) == 1
