"""Coming in and going out: passwords, second factor, sessions, one-use addresses, and how often somebody may try."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import cache
from typing import cast
from uuid import UUID

import pyotp
from pwdlib import PasswordHash
from pwdlib.hashers.argon2 import Argon2Hasher
from sqlmodel import Session
from zxcvbn.frequency_lists import FREQUENCY_LISTS

from service.desk.doorway import (
    ANYONE,
    EVERYONE,
    Caller,
    Done,
    Language,
    Role,
    ShopFacts,
    Units,
    act,
    look,
)
from service.errors import Invalid, NotFound, TooMany
from service.records import attempts, tickets
from service.records import people as persons
from service.records.people import Person, RecoveryCode
from service.records.shop import Shop
from service.records.tickets import Ticket

# A session ends after so long without use, and at the latest after so long altogether.
IDLE_LASTS = timedelta(hours=24)
SESSION_LASTS = timedelta(days=14)
# Use is noted no more often than this, so that reading pages does not write.
NOTED_EVERY = timedelta(minutes=10)

LEAST_PASSWORD = 12
MOST_PASSWORD = 128

# Within this time, for one e-mail address and for one address on the network.
TRIES_WITHIN = timedelta(minutes=15)
MOST_TRIES = {"email": 10, "from": 100}

RECOVERY_CODES = 8
# A code of the step before is taken too: clocks differ and people type slowly.
STEPS_BACK = 1
STEP_S = 30

_hashes = PasswordHash((Argon2Hasher(),))
# Unknown addresses are checked against this, so that they take as long as known ones.
_NOBODYS_HASH = _hashes.hash("nobody signs in with this")


@look("shop.is_open", by=ANYONE)
def is_open(session: Session, caller: Caller) -> bool:
    """Return whether a shop was opened in this database."""
    return session.get(Shop, 1) is not None


@dataclass(frozen=True)
class Known:
    """Whom a token speaks for, and whether its use should be noted again."""

    caller: Caller
    stale: bool


@look("person.recognise", by=ANYONE)
def recognise(session: Session, caller: Caller, *, token_sha256: str, kind: str) -> Known | None:
    """Return whom a session or an API token speaks for, or None."""
    now = caller.stores.clock()
    found = tickets.bearer(session, token_sha256, kind=kind, at=now)
    if found is None:
        return None
    ticket, person, shop = found
    used_at = ticket.last_used_at or ticket.created_at
    if kind == "session" and now - used_at > IDLE_LASTS:
        return None
    # A clock that went back makes a use look like one to come; it is noted anew rather than trusted.
    stale = abs(now - used_at) > NOTED_EVERY
    known = replace(
        caller,
        caller_key=f"person:{person.id}" if kind == "session" else f"token:{ticket.id}",
        person_id=person.id,
        name=person.name,
        role=Role(ticket.role or person.role),
        customer_id=person.customer_id,
        device_id=ticket.device_id,
        shop=_facts_of(shop),
    )
    return Known(known, stale)


def _facts_of(shop: Shop) -> ShopFacts:
    # The table's own checks leave no other word in units and language.
    return ShopFacts(
        name=shop.name,
        time_zone=shop.time_zone,
        currency=shop.currency,
        paper=shop.paper,
        units_first=cast(Units, shop.units_first),
        language=cast(Language, shop.language),
        assurance=shop.assurance,
        margin=shop.margin,
    )


@act("session.note_use", by=EVERYONE, replayed=False, trailed=False)
def note_use(session: Session, caller: Caller, *, token_sha256: str) -> Done:
    """Note that a session or token is in use."""
    ticket = tickets.ticket_by_token(session, token_sha256)
    if ticket is None:
        raise NotFound("There is no such session.")
    ticket.last_used_at = caller.stores.clock()
    ticket.uses += 1
    return Done("ticket", ticket.id)


@act("attempt.note", by=ANYONE, replayed=False, trailed=False)
def note_attempt(session: Session, caller: Caller, *, door: str, who: str, source: str) -> Done:
    """Note a try at a door, and refuse one too many; only digests of who tried are kept."""
    now = caller.stores.clock()
    buckets = {kind: _digest(f"{door} {kind} {value}") for kind, value in (("email", who), ("from", source)) if value}
    attempts.forget_before(session, now - TRIES_WITHIN)
    for kind, bucket in buckets.items():
        if attempts.attempts_since(session, bucket=bucket, since=now - TRIES_WITHIN) >= MOST_TRIES[kind]:
            raise TooMany("Too many tries. Wait a quarter of an hour, or ask the shop for a sign-in address.")
    session.add_all(attempts.Attempt(bucket=bucket, at=now) for bucket in buckets.values())
    return Done("attempt", UUID(int=0))


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


@dataclass(frozen=True)
class Proof:
    """Who proved to be himself, and which code of the second factor he spent for it."""

    person_id: UUID
    step: int | None = None
    recovery_sha256: str | None = None


@look("person.prove", by=ANYONE)
def prove(session: Session, caller: Caller, *, email: str, password: str, code: str | None) -> Proof:
    """Return whose password this is; an unknown address and a wrong password get the same answer in the same time."""
    person = persons.person_by_email(session, email)
    usable = person is not None and person.password_hash is not None and person.ended_at is None
    kept = person.password_hash if person is not None and usable else None
    holds = _hashes.verify(password[:MOST_PASSWORD], kept or _NOBODYS_HASH)
    if person is None or kept is None or not holds:
        raise Invalid("E-mail and password do not belong together.", {"password": "Please try again."})
    if person.totp_secret is None:
        return Proof(person.id)
    return _second_proof(session, caller, person, code)


def _second_proof(session: Session, caller: Caller, person: Person, code: str | None) -> Proof:
    typed = (code or "").replace(" ", "")
    if not typed:
        raise Invalid(
            "Your second factor is needed too.", {"code": "The six digits your app shows, or a recovery code."}
        )
    step = _step_of(person.totp_secret or "", typed, caller.stores.clock())
    if step is not None:
        return Proof(person.id, step=step)
    digest = _digest(typed.lower())
    if persons.recovery_code(session, person.id, digest) is not None:
        return Proof(person.id, recovery_sha256=digest)
    raise Invalid("That code does not fit.", {"code": "Wait for the next one, or use a recovery code."})


def _step_of(secret: str, code: str, now: datetime) -> int | None:
    present = int(now.timestamp()) // STEP_S
    codes = pyotp.TOTP(secret)
    steps = range(present, present - STEPS_BACK - 1, -1)
    return next((step for step in steps if pyotp.utils.strings_equal(codes.at(step * STEP_S), code)), None)


@act("session.open", by=ANYONE, replayed=False)
def open_session(session: Session, caller: Caller, *, proof: Proof, token_sha256: str) -> Done:
    """Open a session for who has proved to be himself; a code of the second factor is spent with it."""
    if proof.step is not None:
        _spend_step(session, caller, proof.person_id, proof.step)
    if proof.recovery_sha256 is not None:
        code = persons.recovery_code(session, proof.person_id, proof.recovery_sha256)
        if code is None:
            raise Invalid("That code was used already.", {"code": "Each recovery code works once."})
        code.used_at = caller.stores.clock()
    _add_session(session, caller, person_id=proof.person_id, token_sha256=token_sha256)
    return Done("person", proof.person_id)


def _spend_step(session: Session, caller: Caller, person_id: UUID, step: int) -> None:
    now, bucket = caller.stores.clock(), _digest(f"step {person_id} {step}")
    if attempts.attempts_since(session, bucket=bucket, since=now - TRIES_WITHIN):
        raise Invalid("That code was used already.", {"code": "Wait for the next one."})
    session.add(attempts.Attempt(bucket=bucket, at=now))


def _add_session(session: Session, caller: Caller, *, person_id: UUID, token_sha256: str) -> None:
    now = caller.stores.clock()
    ticket = Ticket(
        kind="session",
        token_sha256=token_sha256,
        person_id=person_id,
        expires_at=now + SESSION_LASTS,
        last_used_at=now,
    )
    session.add(ticket)


@act("session.end", by=EVERYONE)
def end_session(session: Session, caller: Caller, *, token_sha256: str) -> Done:
    """End the session that the token belongs to."""
    ticket = tickets.ticket_by_token(session, token_sha256)
    return _end(ticket, caller)


@act("session.end_one", by=EVERYONE)
def end_one(session: Session, caller: Caller, *, ticket_id: UUID) -> Done:
    """End another of one's own sessions."""
    return _end(session.get(Ticket, ticket_id), caller)


def _end(ticket: Ticket | None, caller: Caller) -> Done:
    if ticket is None or ticket.kind != "session" or ticket.person_id != caller.person_id:
        raise NotFound("There is no such session.")
    ticket.ended_at = ticket.ended_at or caller.stores.clock()
    return Done("person", ticket.person_id or ticket.id)


@dataclass(frozen=True)
class SessionLine:
    """One session of a person's."""

    id: UUID
    opened_at: datetime
    last_used_at: datetime
    this_one: bool


@dataclass(frozen=True)
class Own:
    """What a person may see and change of his own way in."""

    email: str
    sessions: list[SessionLine]
    has_second_factor: bool
    codes_left: int


@look("person.own", by=EVERYONE)
def own(session: Session, caller: Caller, *, token_sha256: str) -> Own:
    """Return one's own sessions and second factor."""
    person = _self(session, caller)
    now = caller.stores.clock()
    lines = [
        SessionLine(one.id, one.created_at, one.last_used_at or one.created_at, one.token_sha256 == token_sha256)
        for one in tickets.sessions_of(session, person.id)
        if one.expires_at > now and now - (one.last_used_at or one.created_at) <= IDLE_LASTS
    ]
    return Own(person.email, lines, person.totp_secret is not None, persons.codes_left(session, person.id))


def _self(session: Session, caller: Caller) -> Person:
    person = persons.person(session, caller.person_id) if caller.person_id else None
    if person is None:
        raise NotFound("There is no such person.")
    return person


@act("person.change_password", by=EVERYONE)
def change_password(session: Session, caller: Caller, *, password: str, new_password: str, token_sha256: str) -> Done:
    """Change one's own password; every other session of the person ends."""
    person = _self(session, caller)
    if person.password_hash is not None and not _hashes.verify(password[:MOST_PASSWORD], person.password_hash):
        raise Invalid("That is not your password.", {"password": "Please try again."})
    person.password_hash = _hashed(new_password)
    for ticket in tickets.sessions_of(session, person.id):
        if ticket.token_sha256 != token_sha256:
            ticket.ended_at = caller.stores.clock()
    return Done("person", person.id)


@look("person.begin_second_factor", by=EVERYONE)
def begin_second_factor(session: Session, caller: Caller, *, secret: str | None) -> tuple[str, str]:
    """Return a secret (a fresh one unless one was shown already) and the text an app scans."""
    person = _self(session, caller)
    shown = secret if secret and secret.isalnum() else pyotp.random_base32()
    return shown, pyotp.TOTP(shown).provisioning_uri(name=person.email, issuer_name=caller.shop.name)


@act("person.add_second_factor", by=EVERYONE)
def add_second_factor(
    session: Session, caller: Caller, *, secret: str, code: str, recovery_sha256: Sequence[str]
) -> Done:
    """Turn the second factor on, once a code shows that the app has the secret."""
    person = _self(session, caller)
    if len(secret) != len(pyotp.random_base32()) or not secret.isalnum():
        raise Invalid("This set-up cannot be used.", {"code": "Load the page again and scan the new picture."})
    step = _step_of(secret, code.replace(" ", ""), caller.stores.clock())
    if step is None:
        raise Invalid("That code does not fit.", {"code": "Look at the app again: the code changes every half minute."})
    _spend_step(session, caller, person.id, step)
    person.totp_secret = secret
    persons.forget_codes(session, person.id)
    session.add_all(RecoveryCode(person_id=person.id, code_sha256=digest) for digest in recovery_sha256)
    return Done("person", person.id)


@act("person.end_second_factor", by=EVERYONE)
def end_second_factor(session: Session, caller: Caller, *, password: str) -> Done:
    """Turn the second factor off, with the password."""
    person = _self(session, caller)
    if person.password_hash is None or not _hashes.verify(password[:MOST_PASSWORD], person.password_hash):
        raise Invalid("That is not your password.", {"password": "Please try again."})
    person.totp_secret = None
    persons.forget_codes(session, person.id)
    return Done("person", person.id)


@look("address.whose", by=ANYONE)
def whose_address(session: Session, caller: Caller, *, token_sha256: str) -> tuple[str, bool]:
    """Return for whom a one-use address is, and whether that person still has to choose a password."""
    ticket, person = _open_address(session, caller, token_sha256)
    return person.name, ticket.kind == "invite"


@act("address.use", by=ANYONE, replayed=False)
def use_address(
    session: Session, caller: Caller, *, token_sha256: str, session_sha256: str, new_password: str | None
) -> Done:
    """Spend a one-use address: it opens a session, and an invitation sets the password."""
    ticket, person = _open_address(session, caller, token_sha256)
    if ticket.kind == "invite":
        person.password_hash = _hashed(new_password or "")
    ticket.uses += 1
    ticket.last_used_at = ticket.ended_at = caller.stores.clock()
    _add_session(session, caller, person_id=person.id, token_sha256=session_sha256)
    return Done("person", person.id, {"kind": ticket.kind})


def _open_address(session: Session, caller: Caller, token_sha256: str) -> tuple[Ticket, Person]:
    ticket = tickets.ticket_by_token(session, token_sha256)
    usable = ticket is not None and ticket.kind in ("sign_in", "invite") and ticket.ended_at is None
    person = persons.person(session, ticket.person_id) if ticket is not None and ticket.person_id else None
    if ticket is None or person is None or not usable or ticket.expires_at <= caller.stores.clock() or person.ended_at:
        raise NotFound("This address was used already, or its time is over. Ask the shop for a new one.")
    return ticket, person


def _hashed(password: str) -> str:
    if not LEAST_PASSWORD <= len(password) <= MOST_PASSWORD:
        sentence = f"Between {LEAST_PASSWORD} and {MOST_PASSWORD} characters."
        raise Invalid("This password cannot be used.", {"new_password": sentence})
    if _is_common(password):
        sentence = "Many people use this one; take three or four words that do not belong together."
        raise Invalid("This password cannot be used.", {"new_password": sentence})
    return _hashes.hash(password)


def _is_common(password: str) -> bool:
    # Long ones are often a common one twice or with a tail of digits.
    plain = password.lower().strip("0123456789!?.-_ ")
    halves = {plain, plain[: len(plain) // 2] if plain[: len(plain) // 2] * 2 == plain else plain}
    return len(set(plain)) < 4 or not halves.isdisjoint(_common())


@cache
def _common() -> frozenset[str]:
    return frozenset(FREQUENCY_LISTS["passwords"])
