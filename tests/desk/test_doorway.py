"""The doorway: rights, replay, transaction and trail, on both databases."""

from dataclasses import replace
from threading import Barrier, Thread
from uuid import uuid4

import pytest
from sqlmodel import Session, col, select

from service.desk import materials, people
from service.desk.doorway import OWNERS, Done, Role, Via, act
from service.desk.signing_in import own_access
from service.errors import Conflict, Forbidden, Invalid, Refusal, SignedOut
from service.records import audit_log
from service.records.audit_log import Trail
from service.records.materials import Material
from tests.cast import PASSWORD, Cast


def named(cast: Cast, name: str) -> list[Material]:
    with Session(cast.stores.read) as session:
        return list(session.exec(select(Material).where(Material.name == name)))


def test_the_same_form_sent_twice_is_done_once_and_answered_alike(cast: Cast) -> None:
    olu = cast.olu
    first = materials.add_material(olu, kind="sand", name="Quarry fines")
    again = materials.add_material(olu, kind="sand", name="Quarry fines")
    assert again == first
    assert len(named(cast, "Quarry fines")) == 1


def test_the_same_key_with_other_content_is_a_conflict(cast: Cast) -> None:
    olu = cast.olu
    materials.add_material(olu, kind="sand", name="Quarry fines")
    with pytest.raises(Conflict):
        materials.add_material(olu, kind="sand", name="River sand")
    assert not named(cast, "River sand")


def test_the_same_key_for_another_act_is_a_conflict(cast: Cast) -> None:
    olu = cast.olu
    done = materials.add_material(olu, kind="sand", name="Quarry fines")
    with pytest.raises(Conflict):
        materials.end_material(olu, material_id=done.id)


def test_two_people_may_use_the_same_key(cast: Cast) -> None:
    olu = cast.olu
    tess = replace(cast.tess, request_key=olu.request_key)
    assert (
        materials.add_material(olu, kind="sand", name="A").id != materials.add_material(tess, kind="sand", name="B").id
    )


def test_eight_threads_with_one_form_leave_one_row_and_one_trail_entry(cast: Cast) -> None:
    olu, together, answers = cast.olu, Barrier(8), []

    def send() -> None:
        together.wait()
        answers.append(materials.add_material(olu, kind="sand", name="Dune sand").id)

    threads = [Thread(target=send) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(answers) == 8
    assert len(set(answers)) == 1
    assert len(named(cast, "Dune sand")) == 1
    with Session(cast.stores.read) as session:
        told = select(Trail).where(Trail.act == "material.add", col(Trail.subject_id) == str(answers[0]))
        assert len(list(session.exec(told))) == 1


def test_every_act_leaves_one_entry_and_the_chain_holds(cast: Cast) -> None:
    done = materials.add_material(cast.tess, kind="sand", name="Quarry fines")
    with Session(cast.stores.read) as session:
        newest = audit_log.entries(session, limit=1)[0]
        assert (newest.act, newest.subject_id, newest.person_id) == (
            "material.add",
            str(done.id),
            cast.ids["tess"],
        )
        assert audit_log.verify(session) is None


def test_a_refused_act_leaves_nothing(cast: Cast) -> None:
    with Session(cast.stores.read) as session:
        before = len(audit_log.entries(session, limit=1000))
    with pytest.raises(Refusal):
        materials.add_material(cast.olu, kind="gravel pit", name="Never stored")
    with Session(cast.stores.read) as session:
        assert len(audit_log.entries(session, limit=1000)) == before
    assert not named(cast, "Never stored")


def test_an_act_without_a_key_is_refused(cast: Cast) -> None:
    with pytest.raises(Invalid) as refused:
        materials.add_material(replace(cast.olu, request_key=None), kind="sand", name="x")
    assert "request_key" in refused.value.fields


def test_a_key_longer_than_its_column_is_refused(cast: Cast) -> None:
    with pytest.raises(Invalid) as refused:
        materials.add_material(replace(cast.olu, request_key="k" * 65), kind="sand", name="x")
    assert "request_key" in refused.value.fields


def test_the_wrong_role_is_forbidden_and_a_stranger_must_sign_in(cast: Cast) -> None:
    with pytest.raises(Forbidden):
        materials.add_material(cast.cy, kind="sand", name="x")
    with pytest.raises(SignedOut):
        materials.add_material(replace(cast.nobody, via=Via.PAGE), kind="sand", name="x")


def test_a_pin_suffices_for_no_way_in_whatever_the_web_asked_first(cast: Cast) -> None:
    own_access.set_pin(cast.tess, password=PASSWORD, pin="482915")
    with pytest.raises(Forbidden, match="with a PIN"):
        own_access.set_pin(replace(cast.tess, by_pin=True), password=PASSWORD, pin="915482")


def test_two_use_cases_of_one_name_are_refused_at_import() -> None:
    with pytest.raises(RuntimeError):
        act("material.add", by=OWNERS)(lambda session, caller: Done("x", uuid4()))


def test_a_customers_token_never_sees_more_than_its_customer(cast: Cast) -> None:
    with pytest.raises(Invalid):
        people.make_token(
            cast.olu,
            person_id=cast.ids["olu"],
            role=Role.CUSTOMER,
            token_sha256=uuid4().hex * 2,
            lasts_days=9,
        )
