"""Unknown and wrong cost the same: as many slow hashes and as many statements, so that neither tells which it was.

Counts instead of times: a count that differs fails everywhere. ``python -m tests.bench.bench_doors`` prints times.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

import pytest
from sqlmodel import Session

from service.desk import people
from service.desk.doorway import Role
from service.desk.signing_in import _passwords_and_pins, own_access, tablets
from service.records.people import Person
from service.web.authentication import sha256
from service.web.cookies import TABLET_COOKIE
from tests.cast import PASSWORD, SLOW_HASHES, Cast

PIN = "804153"


@pytest.fixture
def cast(cast_on_either: Cast) -> Cast:
    """Return the cast on either database: a form sent twice meets its own row."""
    return cast_on_either


@dataclass
class Cost:
    """What one request cost, and what it was answered."""

    hashes: int = 0
    statements: list[str] = field(default_factory=list)
    status: int = 0
    sentence: str = ""


class Counted:
    """Slow hashes, counted."""

    def __init__(self, real: Any) -> None:
        self.real, self.times = real, 0

    def verify(self, *given: Any) -> Any:
        self.times += 1
        return self.real.verify(*given)

    def hash(self, *given: Any) -> Any:
        self.times += 1
        return self.real.hash(*given)


@pytest.fixture
def cost_of(cast: Cast, statements: list[str], monkeypatch: pytest.MonkeyPatch) -> Callable[[Callable[[], Any]], Cost]:
    # The hash that stands for nobody is made once a process, at the first sign-in of all.
    _passwords_and_pins._nobodys_hash()
    counted = Counted(_passwords_and_pins._hashes)
    monkeypatch.setattr(_passwords_and_pins, "_hashes", counted)

    def cost(ask: Callable[[], Any]) -> Cost:
        statements.clear()
        before = counted.times
        answer = ask()
        told = answer.json() if answer.headers["content-type"] == "application/json" else {}
        return Cost(counted.times - before, list(statements), answer.status_code, str(told))

    return cost


def everybody(cast: Cast) -> dict[str, str]:
    """Return an address to sign in with for every way in which a password can be of no use."""
    people.invite(
        cast.olu, name="Ina", email="ina@shop.example", role=Role.TECHNICIAN, customer_id=None, token_sha256=sha256("i")
    )
    people.end_person(cast.olu, person_id=cast.ids["dov"])
    return {
        "unknown": "who@shop.example",
        "wrong": "tess@shop.example",
        "no password yet": "ina@shop.example",
        "let in no longer": "dov@shop.example",
    }


def test_at_sign_in_nobody_learns_who_is_known_here(cast: Cast, cost_of: Callable[[Callable[[], Any]], Cost]) -> None:
    stranger = cast.browser(None)
    costs = {
        why: cost_of(lambda email=email: stranger.post("/sign-in", {"email": email, "password": "guess"}, headers=HTMX))
        for why, email in everybody(cast).items()
    }
    assert alike(costs).hashes == 1 and alike(costs).status == 422
    # The right password of somebody who was let out costs and says no other.
    right = {"email": "dov@shop.example", "password": PASSWORD}
    costs["right, but let in no longer"] = cost_of(lambda: stranger.post("/sign-in", right, headers=HTMX))
    assert alike(costs)


HTMX = {"hx-request": "true"}


def alike(costs: dict[str, Cost]) -> Cost:
    """Return what all of them cost, which must be the same."""
    first = next(iter(costs.values()))
    assert {why: cost for why, cost in costs.items() if cost != first} == {}
    assert first.statements
    return first


def test_after_too_many_tries_known_and_unknown_wait_alike(
    cast: Cast, cost_of: Callable[[Callable[[], Any]], Cost]
) -> None:
    costs = {}
    for why, email in everybody(cast).items():
        form = {"email": email, "password": "guess"}
        stranger = cast.browser(None)
        for _ in range(10):
            stranger.post("/sign-in", form)
        costs[why] = cost_of(lambda form=form, stranger=stranger: stranger.post("/sign-in", form, headers=HTMX))
    assert (alike(costs).hashes, alike(costs).status) == (0, 429)


def test_an_address_that_never_was_costs_what_one_does_that_is_over(
    cast: Cast, cost_of: Callable[[Callable[[], Any]], Cost]
) -> None:
    for name in ("used", "late"):
        people.make_address(cast.olu, person_id=cast.ids["tess"], token_sha256=sha256(name))
    cast.browser(None).post("/sign-in/used")
    people.make_address(cast.olu, person_id=cast.ids["dov"], token_sha256=sha256("of one let out"))
    people.end_person(cast.olu, person_id=cast.ids["dov"])
    tablets.enrol(cast.olu, name="Bench", token_sha256=sha256("of a tablet"))
    cast.clock.forward(days=8)
    names = ("never", "used", "late", "of one let out", "of a tablet")
    client = cast.browser(None).client
    for ask in (client.get, client.post):
        costs = {name: cost_of(lambda ask=ask, name=name: ask(f"/sign-in/{name}")) for name in names}
        assert (alike(costs).hashes, alike(costs).status) == (0, 404)


def test_a_token_that_never_was_costs_what_one_does_that_is_over(
    cast: Cast, cost_of: Callable[[Callable[[], Any]], Cost]
) -> None:
    for name, person in (("late", "tess"), ("of one let out", "dov")):
        role = Role.TECHNICIAN if person == "tess" else Role.CUSTOMER
        people.make_token(cast.olu, person_id=cast.ids[person], role=role, token_sha256=sha256(name), lasts_days=9)
    people.end_person(cast.olu, person_id=cast.ids["dov"])
    cast.clock.forward(days=10)
    client = cast.browser(None).client
    costs = {
        name: cost_of(lambda name=name: client.get("/api/v1/jobs", headers={"authorization": f"Bearer {name}"}))
        for name in ("never", "late", "of one let out")
    }
    assert (alike(costs).hashes, alike(costs).status) == (0, 401)


@contextmanager
def a_tablet(cast: Cast) -> Iterator[Any]:
    tablets.enrol(cast.olu, name="Press bench", token_sha256=sha256("enrol"))
    tablets.begin(cast.olu, token_sha256=sha256("enrol"), device_sha256=sha256("tablet"))
    client = cast.browser(None)
    client.client.cookies.set(TABLET_COOKIE, "tablet")
    yield client


def test_a_wrong_pin_costs_what_somebody_without_one_does(
    cast: Cast, cost_of: Callable[[Callable[[], Any]], Cost]
) -> None:
    own_access.set_pin(cast.tess, password=PASSWORD, pin=PIN)
    with a_tablet(cast) as tablet:
        costs = {
            name: cost_of(lambda name=name: tablet.post(f"/tablet/{cast.ids[name]}", {"pin": "111112"}, headers=HTMX))
            for name in ("tess", "olu", "dov")
        }
    assert (alike(costs).hashes, alike(costs).status) == (1, 422)


def test_a_hash_takes_64_mebibytes_and_three_rounds() -> None:
    # RFC 9106, section 4, second recommended option: argon2id, 3 rounds, 4 lanes, 64 MiB.
    assert SLOW_HASHES.hash(PASSWORD).startswith("$argon2id$v=19$m=65536,t=3,p=4$")


def test_the_hash_that_stands_for_nobody_is_as_slow_as_those_of_people(cast: Cast) -> None:
    with Session(cast.stores.read) as session:
        kept = session.get_one(Person, cast.ids["tess"]).password_hash
    assert kept
    # $argon2id$v=19$m=...,t=...,p=...$salt$hash: all but salt and hash, and their lengths.
    shape = [
        [*one.split("$")[:4], *map(len, one.split("$")[4:])] for one in (kept, _passwords_and_pins._nobodys_hash())
    ]
    assert shape[0] == shape[1]
