"""The one doorway: rights, replay, transaction and trail for every use case.

A use case is a plain function of (session, caller, keyword arguments). ``@look`` makes it a read,
``@act`` a write. What the outside calls takes the caller and the keyword arguments only; the
session is opened, committed and closed here. In order: right, session, replay, the work, trail
entry, commit.
"""

import functools
import hashlib
import hmac
import json
import logging
import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from typing import Any, Concatenate, ParamSpec, TypeVar
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlalchemy import Engine
from sqlalchemy.exc import IntegrityError, SQLAlchemyError
from sqlmodel import Session

from service.errors import Conflict, Forbidden, Invalid, PasswordNeeded, SecondFactorNeeded, SignedOut, Unavailable
from service.records import audit_log, idempotency
from service.records.base import canonical
from service.records.constraint_errors import Clash, clash_of
from service.records.database_errors import outage_of
from service.records.files import FileStore
from service.shop_clock import ShopClock
from service.shop_facts import Language as Language
from service.shop_facts import ShopFacts as ShopFacts
from service.shop_facts import Units as Units

OWES = "This shop asks for a phone code. Turn yours on first."
CAME_BY_PIN = "You signed in with a PIN. Sign in with your password to change this."
CONFIRM = "This changes who has access or exports data. Enter your password again."
# What the input of an act is remembered by must not be a way to find these out.
SECRETS = frozenset({"password", "new_password", "pin", "code"})
# Acts of these subjects are told to the log as well: they change who comes in, or let something out.
TOLD = (
    "address.", "archive.hand_out", "device.", "person.", "readings.hand_out", "session.", "share.", "shop.", "token.",
)  # fmt: skip
log = logging.getLogger(__name__)
KEY = re.compile(r"[!-~]{1,64}")
P = ParamSpec("P")
T = TypeVar("T")


class Role(StrEnum):
    """What a person is in the shop."""

    OWNER = "owner"
    TECHNICIAN = "technician"
    CUSTOMER = "customer"


OWNERS = frozenset({Role.OWNER})
TECHNICIANS = frozenset({Role.TECHNICIAN})
STAFF = frozenset({Role.OWNER, Role.TECHNICIAN})
CUSTOMERS = frozenset({Role.CUSTOMER})
EVERYONE = frozenset(Role)
ANYONE: frozenset[Role | None] = frozenset({*Role, None})


class Via(StrEnum):
    """Which way somebody came in."""

    PAGE = "page"
    API = "api"
    COMMAND = "command"
    ROUND = "round"


@dataclass(frozen=True)
class Stores:
    """Engines, files, the clock, the installation's secret and its address; made by the assembly."""

    read: Engine
    write: Engine
    files: FileStore
    clock: Callable[[], datetime]
    key: bytes = field(repr=False)
    # Where this shop is reached, for papers that lead back to it.
    address: str = ""
    sends_mail: bool = False


@dataclass(frozen=True)
class Entered:
    """When something was typed on a tablet, by the shop's clock, and how far the tablet's was ahead of it."""

    at: datetime
    ahead_s: float


@dataclass(frozen=True)
class Caller:
    """Who asks, from where, and with what in hand."""

    stores: Stores
    via: Via
    request_id: str
    # The address he asks at, in the words of its route.
    place: str = ""
    caller_key: str = "nobody"
    request_key: str | None = None
    person_id: UUID | None = None
    name: str = ""
    role: Role | None = None
    customer_id: UUID | None = None
    device_id: UUID | None = None
    by_pin: bool = False
    owes_second_factor: bool = False
    # Whether he proved within the last minutes that it is he, and not somebody who found his browser open.
    confirmed: bool = False
    # What was typed without a connection arrives later than it was typed.
    entered: Entered | None = None
    # A customer reads their own pages in their language; the screens of the shop are English.
    language: Language = "en"
    shop: ShopFacts = field(default_factory=ShopFacts)

    def __post_init__(self) -> None:
        """Refuse a key that no database could keep, before anything looks for it."""
        if self.request_key is not None and not KEY.fullmatch(self.request_key):
            raise Invalid(
                "This request's key cannot be used.",
                {"request_key": "At most 64 letters, digits and signs, no spaces."},
            )

    @property
    def seen_by(self) -> UUID | None:
        """Return the customer whose things alone are visible, or None for the shop's own people."""
        if self.role is not Role.CUSTOMER:
            return None
        if self.customer_id is None:
            raise Forbidden("This person belongs to no customer.")
        return self.customer_id

    @property
    def clock(self) -> ShopClock:
        """Return this moment on the shop's clock, and when what arrives now was typed on a tablet."""
        typed_at = self.entered.at if self.entered else None
        return ShopClock(self.stores.clock(), ZoneInfo(self.shop.time_zone), typed_at)

    def told(self, details: Mapping[str, Any]) -> dict[str, Any]:
        """Return what the trail says of an act, with when it was typed and how wrong the tablet's clock was."""
        entered = self.entered
        if entered is None:
            return dict(details)
        return {**details, "typed_at": entered.at, "tablet_ahead_s": round(entered.ahead_s)}

    @property
    def doer(self) -> UUID:
        """Return the person who does this; what nobody did is not recorded."""
        if self.person_id is None:
            raise Forbidden("What is done at the bench is done by a person.")
        return self.person_id


@dataclass(frozen=True)
class Done:
    """What an act leaves: what it was about, and what the trail says of it."""

    kind: str
    id: UUID
    details: dict[str, Any] = field(default_factory=dict)


USE_CASES: dict[str, Callable[..., Any]] = {}


def _register(name: str, work: Callable[..., Any]) -> None:
    if name in USE_CASES:
        raise RuntimeError(f"Two use cases are called {name}.")
    USE_CASES[name] = work


@dataclass(frozen=True)
class _Door:
    """Who may pass, and in what state."""

    by: frozenset[Any]
    unfinished: bool
    by_pin: bool
    confirmed: bool


def _admit(caller: Caller, door: _Door) -> None:
    if caller.owes_second_factor and not door.unfinished:
        raise SecondFactorNeeded(OWES)
    if caller.by_pin and not door.by_pin:
        raise Forbidden(CAME_BY_PIN)
    if caller.role not in door.by:
        if caller.role is None:
            raise SignedOut("Please sign in first.")
        raise Forbidden("Your role does not allow this.")
    # A program's token is never confirmed: what asks for a person's password is done by that person.
    if door.confirmed and not caller.confirmed and caller.via in (Via.PAGE, Via.API):
        raise PasswordNeeded(CONFIRM)


@contextmanager
def _outages_told(*, writing: bool) -> Iterator[None]:
    try:
        yield
    except SQLAlchemyError as error:
        sentence = outage_of(error, writing=writing)
        if sentence is None:
            raise
        raise Unavailable(sentence) from error


def look(
    name: str, *, by: frozenset[Any], unfinished: bool = False, by_pin: bool = True, confirmed: bool = False
) -> Callable[[Callable[Concatenate[Session, Caller, P], T]], Callable[Concatenate[Caller, P], T]]:
    """Make a read use case: right, then one read-only session; the conditions of the right are as for ``act``."""
    door = _Door(by, unfinished, by_pin, confirmed)

    def wrap(work: Callable[Concatenate[Session, Caller, P], T]) -> Callable[Concatenate[Caller, P], T]:
        @functools.wraps(work)
        def passed(caller: Caller, /, *args: P.args, **given: P.kwargs) -> T:
            _admit(caller, door)
            with _outages_told(writing=False), Session(caller.stores.read) as session:
                return work(session, caller, *args, **given)

        _register(name, passed)
        return passed

    return wrap


def act(
    name: str,
    *,
    by: frozenset[Any],
    replayed: bool = True,
    trailed: bool = True,
    unfinished: bool = False,
    by_pin: bool = True,
    confirmed: bool = False,
) -> Callable[[Callable[Concatenate[Session, Caller, P], Done]], Callable[Concatenate[Caller, P], Done]]:
    """Make a write use case: right, session, replay, work, trail and commit, all or nothing.

    ``replayed=False`` is for acts of people who have no key yet, such as signing in; ``trailed=False`` for
    bookkeeping that is no event of the shop, such as counting attempts; ``unfinished=True`` for what somebody
    may do before he has the second factor that his shop asks for; ``by_pin=False`` for what a PIN does not suffice for;
    ``confirmed=True`` for what asks for the password again unless it was typed in the last minutes.
    """
    door = _Door(by, unfinished, by_pin, confirmed)

    def wrap(work: Callable[Concatenate[Session, Caller, P], Done]) -> Callable[Concatenate[Caller, P], Done]:
        @functools.wraps(work)
        def passed(caller: Caller, /, *args: P.args, **given: P.kwargs) -> Done:
            _admit(caller, door)
            if replayed:
                _need_key(caller)
            digest = digest_of(given, key=caller.stores.key)
            with _outages_told(writing=True):
                if not trailed:
                    return _unnoticed(caller, lambda session: work(session, caller, *args, **given))
                return _settled(name, caller, digest, lambda session: work(session, caller, *args, **given))

        _register(name, passed)
        return passed

    return wrap


def _settled(name: str, caller: Caller, digest: str, work: Callable[[Session], Done]) -> Done:
    """Do the work once, however many send it at the same time: whoever comes second gets an answer, no error."""
    try:
        return _once(name, caller, digest, work)
    except IntegrityError as error:
        # Somebody committed between our look and our write. If it was the same form, its
        # answer is ours; if it was another, one more look tells who was first.
        if clash_of(error) is None:
            raise
    except Conflict:
        # The work saw what was committed after our look at the idempotency. If that came of this very
        # form, its answer is ours too.
        answered = _answered(name, caller, digest)
        if answered is None:
            raise
        return answered
    try:
        return _once(name, caller, digest, work)
    except IntegrityError as error:
        if clash_of(error) is Clash.STANDING:
            raise Conflict("Someone else has just recorded this. Reload the page to see it.") from error
        raise


def _unnoticed(caller: Caller, work: Callable[[Session], Done]) -> Done:
    with Session(caller.stores.write) as session:
        done = work(session)
        session.commit()
        return done


def _need_key(caller: Caller) -> None:
    if caller.via in (Via.PAGE, Via.API) and not caller.request_key:
        raise Invalid(
            "This form has expired.",
            {"request_key": "Send a new key with every request, so that one sent twice is done once."},
        )


def _once(name: str, caller: Caller, digest: str, work: Callable[[Session], Done]) -> Done:
    with Session(caller.stores.write) as session:
        if caller.request_key is not None:
            kept = idempotency.find(session, caller_key=caller.caller_key, request_key=caller.request_key)
            if kept is not None:
                return _same_again(kept, name, digest)
        done = work(session)
        session.flush()
        # The head of the trail is locked last, so that acts wait for each other only here.
        position = audit_log.append(
            session,
            at=caller.stores.clock(),
            person_id=caller.person_id,
            device_id=caller.device_id,
            via=caller.via.value,
            request_id=caller.request_id,
            act=name,
            subject_kind=done.kind,
            subject_id=done.id,
            details=caller.told(done.details),
        )
        if caller.request_key is not None:
            idempotency.keep(
                session,
                caller_key=caller.caller_key,
                request_key=caller.request_key,
                act=name,
                input_sha256=digest,
                answer=canonical({"kind": done.kind, "id": done.id, "details": done.details}),
                trail_position=position,
            )
        session.commit()
    _tell(name, caller, done)
    return done


def _tell(name: str, caller: Caller, done: Done) -> None:
    if not name.startswith(TOLD):
        return
    facts = {
        "event": name,
        "request_id": caller.request_id,
        "via": caller.via.value,
        "path": caller.place,
        "person": caller.person_id,
        "device": caller.device_id,
        "subject": done.kind,
        "subject_id": done.id,
    }
    log.info("event %s", name, extra={"facts": facts})


def _answered(name: str, caller: Caller, digest: str) -> Done | None:
    if caller.request_key is None:
        return None
    with Session(caller.stores.write) as session:
        kept = idempotency.find(session, caller_key=caller.caller_key, request_key=caller.request_key)
    return None if kept is None else _same_again(kept, name, digest)


def _same_again(kept: idempotency.Answer, name: str, digest: str) -> Done:
    if kept.act != name or kept.input_sha256 != digest:
        raise Conflict("This form was already sent with other content. Reload the page and enter it again.")
    answer = json.loads(kept.answer)
    return Done(answer["kind"], UUID(answer["id"]), answer["details"])


def digest_of(given: Mapping[str, Any], *, key: bytes) -> str:
    """Return the SHA-256 of the arguments in canonical form, in which secrets stand under the installation's own."""
    told = {name: _sealed(value, key) if name in SECRETS else value for name, value in given.items()}
    return hashlib.sha256(canonical(told).encode()).hexdigest()


def _sealed(value: Any, key: bytes) -> str | None:
    return None if value is None else hmac.digest(key, str(value).encode(), "sha256").hex()
