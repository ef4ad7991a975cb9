"""Two owners who remove each other at once, and a shop without an owner: one stays, and a command makes one."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from threading import Barrier
from uuid import uuid4

import pytest
from sqlmodel import Session, select

from service.desk import people
from service.desk.doorway import Caller, Role, Via
from service.desk.signing_in import sign_in
from service.errors import Forbidden, Invalid, Refusal
from service.records.people import Person
from service.web.authentication import sha256
from tests.cast import PASSWORD, Cast
from tests.setup.test_upkeep_commands import Run, run, url_of

__all__ = ["run"]


def second_owner(cast: Cast) -> Caller:
    done = people.invite(
        cast.olu,
        name="Uma",
        email="uma@shop.example",
        role=Role.OWNER,
        customer_id=None,
        token_sha256=sha256("uma invited"),
    )
    return replace(cast.olu, person_id=done.id, name="Uma", caller_key=f"person:{done.id}", request_key=uuid4().hex)


def owners(cast: Cast) -> list[str]:
    with Session(cast.stores.read) as session:
        return [one.name for one in session.exec(select(Person)) if one.role == "owner" and one.ended_at is None]


@pytest.mark.parametrize("turn", range(5))
def test_of_two_owners_who_remove_each_other_at_once_one_stays(cast: Cast, turn: int) -> None:
    olu, uma, together = cast.olu, second_owner(cast), Barrier(2)

    def remove(pair: tuple[Caller, Caller]) -> bool:
        together.wait()
        try:
            people.end_person(pair[0], person_id=pair[1].doer)
        except Refusal:
            return False
        return True

    with ThreadPoolExecutor(2) as pool:
        done = list(pool.map(remove, ((olu, uma), (uma, olu))))
    assert sorted(done) == [False, True] and len(owners(cast)) == 1


def test_whoever_was_removed_removes_nobody(cast: Cast) -> None:
    uma = second_owner(cast)
    people.end_person(cast.olu, person_id=uma.doer)
    with pytest.raises(Forbidden, match="no longer an owner of this shop"):
        people.end_person(uma, person_id=cast.ids["tess"])


def test_the_last_owner_stays_whoever_asks(cast: Cast) -> None:
    command = replace(cast.olu, person_id=None, via=Via.COMMAND)
    with pytest.raises(Invalid, match="last owner"):
        people.end_person(command, person_id=cast.ids["olu"])
    assert owners(cast) == ["Olu"]


@pytest.mark.parametrize(
    ("email", "name"), [("olu@shop.example", "Olu"), ("tess@shop.example", "Tess"), ("new@shop.example", "Nia")]
)
def test_a_shop_without_an_owner_gets_one_by_command(
    cast: Cast, run: Run, tmp_path: Path, email: str, name: str
) -> None:
    with Session(cast.stores.write) as session:
        session.get_one(Person, cast.ids["olu"]).ended_at = cast.clock.now
        session.commit()
    assert owners(cast) == []
    cast.clock.now = datetime.now(UTC)
    told = run(url_of(cast), "reset", email, "--owner", name, ADDRESS="http://localhost")
    assert told.exit_code == 0, told.output
    path = told.stdout.strip().removeprefix("http://localhost")
    browser = cast.browser(None)
    assert browser.post(path, {"new_password": "seven odd geese at dusk"}).status_code == 303
    assert browser.get("/people").status_code == 200 and owners(cast) == [name]


def test_nobody_of_a_customer_becomes_owner_by_command(cast: Cast, run: Run) -> None:
    told = run(url_of(cast), "reset", "cy@shop.example", "--owner", "Cy")
    assert told.exit_code == 1 and "belongs to a customer" in told.stderr and owners(cast) == ["Olu"]


def test_no_page_or_program_makes_an_owner_so(cast: Cast) -> None:
    with pytest.raises(Forbidden):
        people.make_owner_by_command(cast.olu, name="Eve", email="eve@shop.example", token_sha256=sha256("eve"))


def test_the_only_owner_is_let_in_by_command_while_somebody_guesses_and_nothing_of_his_ends(
    cast: Cast, run: Run
) -> None:
    # A command goes by the clock of the machine.
    cast.clock.now = datetime.now(UTC)
    inside = cast.browser("olu")
    guess = {"email": "olu@shop.example", "password": "not this one at all"}
    while cast.browser(None).post("/sign-in", guess).status_code != 429:
        pass
    told = run(url_of(cast), "let-in", "olu@shop.example", ADDRESS="http://localhost")
    came = cast.browser(None)
    assert came.post(told.stdout.strip().removeprefix("http://localhost")).status_code == 303
    assert came.get("/people").status_code == inside.get("/people").status_code == 200
    proof = sign_in.prove(cast.nobody, email="olu@shop.example", password=PASSWORD, code=None)
    assert proof.person_id == cast.ids["olu"]
