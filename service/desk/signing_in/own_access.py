"""One's own way in: sessions, password, second factor and the PIN for the shop's tablets."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import CUSTOMERS, EVERYONE, TECHNICIANS, Caller, Done, Role, act, look
from service.desk.signing_in import _factors
from service.desk.signing_in._new_session import idle_lasts, is_ahead
from service.desk.signing_in._passwords_and_pins import hashed, hashed_pin, holds
from service.errors import Invalid, NotFound, NotProven, PasswordNeeded
from service.records import customers as customer_records
from service.records import people as persons
from service.records import tablets as devices
from service.records import tokens
from service.records.people import Person, RecoveryCode
from service.records.shop import Shop, asks_second_factor


@dataclass(frozen=True)
class SessionLine:
    """One session of a person's, and the tablet it is open on, if it is."""

    id: UUID
    opened_at: datetime
    last_used_at: datetime
    tablet: str
    this_one: bool


@dataclass(frozen=True)
class Own:
    """What a person may see and change of his own way in."""

    email: str
    sessions: list[SessionLine]
    has_second_factor: bool
    codes_left: int
    has_pin: bool
    may_have_pin: bool


@look("person.own", by=EVERYONE)
def own(session: Session, caller: Caller, *, token_sha256: str) -> Own:
    """Return one's own sessions and second factor."""
    person = _self(session, caller)
    now, tablets = caller.stores.clock(), devices.names(session)
    lines = [
        SessionLine(
            one.id,
            one.created_at,
            one.last_used_at or one.created_at,
            tablets[one.device_id] if one.device_id else "",
            one.token_sha256 == token_sha256,
        )
        for one in tokens.sessions_of(session, person.id)
        if one.expires_at > now and now - (one.last_used_at or one.created_at) <= idle_lasts(one)
        if not is_ahead(one, now)
    ]
    return Own(
        person.email,
        lines,
        person.totp_secret is not None,
        persons.codes_left(session, person.id),
        has_pin=person.pin_hash is not None,
        may_have_pin=person.role == Role.TECHNICIAN,
    )


def _self(session: Session, caller: Caller) -> Person:
    person = persons.person(session, caller.person_id) if caller.person_id else None
    if person is None:
        raise NotFound("There is no such person.")
    return person


def _check_password(person: Person, password: str) -> None:
    if not holds(password, person.password_hash):
        raise NotProven("Wrong password.", {"password": "Please try again."})


@act("session.confirm", by=EVERYONE, replayed=False, unfinished=True, by_pin=False)
def confirm(session: Session, caller: Caller, *, password: str, token_sha256: str, new_sha256: str) -> Done:
    """Note that whoever has this session has just typed its person's password; from now on it has another secret."""
    person, ticket = _self(session, caller), tokens.ticket_by_token(session, token_sha256)
    if ticket is None or ticket.kind != "session" or ticket.person_id != person.id:
        raise NotFound("There is no such session.")
    if not holds(password, person.password_hash):
        raise PasswordNeeded("Wrong password.", {"confirm_password": "Please try again."})
    ticket.confirmed_at, ticket.token_sha256 = caller.stores.clock(), new_sha256
    return Done("person", person.id)


@act("session.end_one", by=EVERYONE, by_pin=False, confirmed=True)
def end_one(session: Session, caller: Caller, *, ticket_id: UUID) -> Done:
    """End another of one's own sessions."""
    ticket = session.get(tokens.Ticket, ticket_id)
    if ticket is None or ticket.kind != "session" or ticket.person_id != caller.person_id:
        raise NotFound("There is no such session.")
    ticket.ended_at = ticket.ended_at or caller.stores.clock()
    return Done("person", ticket.person_id or ticket.id)


# Whoever looked over a shoulder at a PIN must not lock its owner out: what follows asks for more than that.
@act("customer.choose_language", by=CUSTOMERS)
def choose_language(session: Session, caller: Caller, *, language: str) -> Done:
    """Choose the language in which a customer reads these pages and the results to come."""
    customer = customer_records.customer(session, _self(session, caller).customer_id or UUID(int=0))
    if customer is None:
        raise NotFound("There is no such customer.")
    was, customer.language = customer.language, language
    session.add(customer)
    return Done("customer", customer.id, {"was": {"language": was}})


@act("person.change_password", by=EVERYONE, by_pin=False)
def change_password(
    session: Session, caller: Caller, *, password: str, new_password: str, token_sha256: str, others: bool = False
) -> Done:
    """Change one's own password; every other session and one-use address of the person ends.

    ``others`` ends programs' tokens and the PIN too: whoever knew the password may have made or seen them.
    """
    person = _self(session, caller)
    _check_password(person, password)
    person.password_hash = hashed(new_password, about=(caller.shop.name, person.name, person.email))
    now = caller.stores.clock()
    tokens.end_other_sessions(session, person.id, but_sha256=token_sha256, at=now)
    tokens.end_of_kinds(session, person.id, tokens.ADDRESSES, at=now)
    if others:
        tokens.end_of_kinds(session, person.id, ("api",), at=now)
        person.pin_hash, person.pin_tries = None, 0
    return Done("person", person.id, {"others": others})


@act("person.set_pin", by=TECHNICIANS, by_pin=False)
def set_pin(session: Session, caller: Caller, *, password: str, pin: str) -> Done:
    """Choose the PIN with which one switches on the shop's tablets; the sessions of the old one end."""
    person = _self(session, caller)
    _check_password(person, password)
    person.pin_hash, person.pin_tries = hashed_pin(pin), 0
    _end_pin_sessions(session, caller, person)
    return Done("person", person.id)


@act("person.forget_pin", by=TECHNICIANS, by_pin=False)
def forget_pin(session: Session, caller: Caller) -> Done:
    """Switch on tablets no more; one's name leaves their screens."""
    person = _self(session, caller)
    person.pin_hash, person.pin_tries = None, 0
    _end_pin_sessions(session, caller, person)
    return Done("person", person.id)


def _end_pin_sessions(session: Session, caller: Caller, person: Person) -> None:
    for ticket in tokens.sessions_of(session, person.id):
        if ticket.role is not None:
            ticket.ended_at = caller.stores.clock()


@look("person.begin_second_factor", by=EVERYONE, unfinished=True, by_pin=False, confirmed=True)
def begin_second_factor(session: Session, caller: Caller, *, drawn: str | None) -> tuple[str, str, str]:
    """Return a drawn half (a fresh one unless one was shown already), the secret and the text an app scans."""
    person = _self(session, caller)
    half = drawn if drawn and _factors.is_drawn(drawn) else _factors.draw()
    secret = _factors.secret_of(caller, person.id, half)
    return half, secret, _factors.scanned(secret, name=person.email, issuer=caller.shop.name)


@act("person.add_second_factor", by=EVERYONE, unfinished=True, by_pin=False, confirmed=True)
def add_second_factor(
    session: Session, caller: Caller, *, drawn: str, code: str, recovery_sha256: Sequence[str], token_sha256: str
) -> Done:
    """Turn on the phone code, once a code shows that the app has the secret; the person's other sessions end."""
    person = _self(session, caller)
    if person.totp_secret is not None:
        raise Invalid("The phone code is on already.", {"code": "Turn it off first, with your password."})
    if not _factors.is_drawn(drawn):
        raise Invalid("This set-up cannot be used.", {"code": "Reload the page and scan the new picture."})
    secret = _factors.secret_of(caller, person.id, drawn)
    step = _factors.step_of(secret, code.replace(" ", ""), caller.stores.clock())
    if step is None:
        raise NotProven("Wrong code.", {"code": "Check again: the code changes every half minute."})
    _factors.spend_step(session, caller, person.id, step)
    person.totp_secret = drawn
    persons.forget_codes(session, person.id)
    tokens.end_other_sessions(session, person.id, but_sha256=token_sha256, at=caller.stores.clock())
    session.add_all(RecoveryCode(person_id=person.id, code_sha256=digest) for digest in recovery_sha256)
    return Done("person", person.id)


@act("person.end_second_factor", by=EVERYONE, by_pin=False)
def end_second_factor(session: Session, caller: Caller, *, password: str, token_sha256: str) -> Done:
    """Turn off the phone code, with the password, unless the shop asks for it; the other sessions end."""
    person = _self(session, caller)
    shop = session.get(Shop, 1)
    if shop is not None and asks_second_factor(shop, person.role):
        raise Invalid("This shop asks for a phone code.", {"password": "An owner changes that in Settings."})
    _check_password(person, password)
    person.totp_secret = None
    tokens.end_other_sessions(session, person.id, but_sha256=token_sha256, at=caller.stores.clock())
    persons.forget_codes(session, person.id)
    return Done("person", person.id)
