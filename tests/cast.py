"""The fixed cast: Olu owns the shop, Tess is its technician, Cy is a customer, Dov another who must see nothing.

All invented. ``Cast`` opens a shop through the desks with a clock that the test moves.
"""

from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from functools import cached_property
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

from fastapi import FastAPI
from pwdlib import PasswordHash
from pwdlib.hashers.argon2 import Argon2Hasher
from starlette.testclient import TestClient

from service.app import create_app, open_stores
from service.desk import people
from service.desk.doorway import Caller, Role, ShopFacts, Stores, Via
from service.desk.signing_in import _passwords_and_pins, sessions, sign_in
from service.records.database import open_engines
from service.records.files import FileStore
from service.settings import Settings
from service.web.authentication import sha256
from service.web.cookies import COOKIE
from tests.quicker import answer_in_one_loop

answer_in_one_loop()
START = datetime(2027, 3, 1, 16, 0, tzinfo=UTC)
SHOP = ShopFacts(name="Sample Soil Bench", time_zone="America/Denver", currency="USD", units_first="metric")
PASSWORD = "a long enough phrase"
# A hash of the service takes 64 MiB and a tenth of a second of a core. Tests make hundreds: theirs are of the same kind
# and light. What the service uses is kept here for the tests that ask about it.
SLOW_HASHES = _passwords_and_pins._hashes
_passwords_and_pins._hashes = PasswordHash((Argon2Hasher(time_cost=1, memory_cost=8, parallelism=1),))


@dataclass
class Clock:
    """A clock that stands still until it is moved."""

    now: datetime = START

    def __call__(self) -> datetime:
        """Return the time it shows."""
        return self.now

    def forward(self, **by: float) -> None:
        """Move it on."""
        self.now += timedelta(**by)


@dataclass
class Cast:
    """The people of one test's shop, each as a caller for desks and as a browser for pages."""

    stores: Stores
    clock: Clock
    settings: Settings
    ids: dict[str, UUID] = field(default_factory=dict)
    customers: dict[str, UUID] = field(default_factory=dict)
    _callers: dict[str, Caller] = field(default_factory=dict)

    @cached_property
    def app(self) -> FastAPI:
        """Return the service of this shop, which a test of desks does without."""
        return create_app(self.settings, self.stores)

    def __getattr__(self, name: str) -> Caller:
        """Return somebody of the cast as a caller with a fresh key: ``cast.olu``."""
        callers = self.__dict__.get("_callers", {})
        if name not in callers:
            raise AttributeError(name)
        known: Caller = callers[name]
        return replace(known, request_key=uuid4().hex, request_id=uuid4().hex[:16])

    def browser(self, name: str | None) -> "Browser":
        """Return a signed-in browser of somebody, or of a stranger."""
        client = TestClient(self.app, base_url="http://localhost", raise_server_exceptions=True)
        client.headers["sec-fetch-site"] = "same-origin"
        if name is not None:
            token = f"{name}-{uuid4().hex}"
            sign_in.open_session(self.nobody, proof=sign_in.Proof(self.ids[name]), token_sha256=sha256(token))
            client.cookies.set(COOKIE, token)
        return Browser(client)

    def program(self, name: str) -> TestClient:
        """Return a program that speaks for somebody with a bearer token."""
        client = TestClient(self.app, base_url="http://localhost")
        token = f"{name}-{uuid4().hex}"
        self.add_token(name, token)
        client.headers["authorization"] = f"Bearer {token}"
        return client

    def with_mail(self) -> "Cast":
        """Return the same shop as one that sends mail."""
        stores = replace(self.stores, sends_mail=True)
        callers = {name: replace(known, stores=stores) for name, known in self._callers.items()}
        return replace(self, stores=stores, _callers=callers)

    def add_token(self, name: str, token: str) -> None:
        """Give somebody an API token."""
        people.make_token(
            self.olu,
            person_id=self.ids[name],
            role=Role(self._callers[name].role or Role.OWNER),
            token_sha256=sha256(token),
            lasts_days=30,
        )


class Browser:
    """A browser without script: follows redirects, sends forms with their key."""

    def __init__(self, client: TestClient) -> None:
        self.client = client

    def get(self, path: str, **more: Any) -> Any:
        """Ask for a page."""
        return self.client.get(path, **more)

    def post(self, path: str, data: dict[str, Any] | None = None, **more: Any) -> Any:
        """Send a form with a fresh key unless it carries one; the redirect is not followed."""
        sent = {"request_key": uuid4().hex, **(data or {})}
        return self.client.post(path, data=sent, follow_redirects=False, **more)


def open_cast(database_url: str, folder: Path) -> Cast:
    """Open a shop with the whole cast in it."""
    cast = enter(database_url, folder)
    done = people.open_shop(
        cast.nobody, facts=SHOP, owner_name="Olu", owner_email="olu@shop.example", token_sha256=sha256("olu invited")
    )
    _come_in(cast, "olu", done.id, Role.OWNER)
    for name, customer in (("cy", "Cy's Cob Yard"), ("dov", "Dov's Dry Walls")):
        cast.customers[name] = people.add_customer(cast.olu, name=customer, contact=None, language=None).id
    for name, role in (("tess", Role.TECHNICIAN), ("cy", Role.CUSTOMER), ("dov", Role.CUSTOMER)):
        invited = people.invite(
            cast.olu,
            name=name.capitalize(),
            email=f"{name}@shop.example",
            role=role,
            customer_id=cast.customers.get(name),
            token_sha256=sha256(f"{name} invited"),
        )
        _come_in(cast, name, invited.id, role)
    return cast


def enter(database_url: str, folder: Path, filled: Cast | None = None) -> Cast:
    """Return a cast on this database: nobody known yet, or everybody of the cast it was copied from."""
    clock = Clock()
    if filled is None:
        settings = Settings(database_url=database_url, data=folder, address="http://localhost")
        stores = open_stores(settings, clock)
        nobody = Caller(stores=stores, via=Via.COMMAND, request_id="test")
        return Cast(stores, clock, settings, _callers={"nobody": nobody})
    # What was read and looked over for the shop it was copied from is not read and looked over again.
    settings = filled.settings.model_copy(update={"database_url": database_url, "data": folder})
    engines, files = open_engines(database_url), FileStore(str(settings.files))
    stores = replace(filled.stores, read=engines.read, write=engines.write, files=files, clock=clock)
    callers = {name: replace(known, stores=stores) for name, known in filled._callers.items()}
    return Cast(stores, clock, settings, dict(filled.ids), dict(filled.customers), callers)


def _come_in(cast: Cast, name: str, person_id: UUID, role: Role) -> None:
    sign_in.use_address(
        cast.nobody,
        token_sha256=sha256(f"{name} invited"),
        session_sha256=sha256(f"{name} session"),
        new_password=PASSWORD,
    )
    cast.ids[name] = person_id
    known = sessions.recognise(cast.nobody, token_sha256=sha256(f"{name} session"), kind="session")
    assert known is not None and known.caller.role is role
    cast._callers[name] = replace(known.caller, via=Via.PAGE)
