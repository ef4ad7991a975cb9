"""What works once works once, also for eight who use it at the same moment, on both databases."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from threading import Barrier

import pytest
from sqlmodel import Session, select

from service.desk import people
from service.desk.signing_in import sign_in, tablets
from service.desk.signing_in.lifetimes_and_tries import MOST_COSTLY, MOST_TRIES
from service.desk.signing_in.rate_limit import note_attempt, note_costly
from service.errors import Refusal
from service.records.people import Person, RecoveryCode
from service.web.authentication import sha256
from tests.cast import Cast

AT_ONCE = 8


def successes(deed: Callable[[int], object]) -> int:
    """Return how many of those succeed who do it at once."""
    together = Barrier(AT_ONCE)

    def do(place: int) -> bool:
        together.wait()
        with suppress(Refusal):
            deed(place)
            return True
        return False

    with ThreadPoolExecutor(AT_ONCE) as pool:
        return sum(pool.map(do, range(AT_ONCE)))


def opening(cast: Cast, proof: sign_in.Proof) -> Callable[[int], object]:
    return lambda place: sign_in.open_session(cast.nobody, proof=proof, token_sha256=sha256(f"session {place}"))


def test_a_code_of_the_app_opens_one_session(cast: Cast) -> None:
    proof = sign_in.Proof(cast.ids["olu"], step=60_000_000)
    assert successes(opening(cast, proof)) == 1


def test_a_recovery_code_opens_one_session(cast: Cast) -> None:
    with Session(cast.stores.write) as session:
        session.add(RecoveryCode(person_id=cast.ids["olu"], code_sha256=sha256("a code")))
        session.commit()
    proof = sign_in.Proof(cast.ids["olu"], recovery_sha256=sha256("a code"))
    assert successes(opening(cast, proof)) == 1


def test_a_one_use_address_opens_one_session(cast: Cast) -> None:
    people.make_address(cast.olu, person_id=cast.ids["tess"], token_sha256=sha256("address"))

    def use(place: int) -> object:
        return sign_in.use_address(
            cast.nobody, token_sha256=sha256("address"), session_sha256=sha256(f"{place}"), new_password=None
        )

    assert successes(use) == 1


def test_wrong_pins_at_once_are_all_counted(cast: Cast) -> None:
    tablets.enrol(cast.olu, name="Press bench", token_sha256=sha256("enrol"))
    tablets.begin(cast.olu, token_sha256=sha256("enrol"), device_sha256=sha256("tablet"))
    tess = cast.ids["tess"]
    successes(lambda _: tablets.note_pin_try(cast.nobody, device_sha256=sha256("tablet"), person_id=tess))
    with Session(cast.stores.read) as session:
        assert session.exec(select(Person.pin_tries).where(Person.id == tess)).one() == AT_ONCE


def test_tries_at_once_are_all_counted(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(MOST_TRIES, "email", 3)
    assert successes(lambda _: note_attempt(cast.nobody, door="sign-in", who="olu@shop.example", source="here")) == 3


def test_what_takes_long_is_counted_at_once_too(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(MOST_COSTLY, "work", 3)
    assert successes(lambda _: note_costly(cast.cy, kind="work")) == 3
