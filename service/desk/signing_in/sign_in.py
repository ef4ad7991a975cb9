"""Coming in by password and second factor or by a one-use address, and going out."""

from dataclasses import dataclass
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import ANYONE, EVERYONE, Caller, Done, act, look
from service.desk.signing_in import _factors
from service.desk.signing_in._new_session import open_for
from service.desk.signing_in._passwords_and_pins import hashed, holds
from service.errors import Invalid, NotFound, NotProven
from service.records import people as persons
from service.records import shop as shops
from service.records import tokens
from service.records.people import Person
from service.records.tokens import Ticket


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
    kept = person.password_hash if person is not None and person.ended_at is None else None
    fits = holds(password, kept)
    if person is None or not fits:
        raise NotProven("Wrong e-mail or password.", {"password": "Please try again."})
    return _second_proof(session, caller, person, code)


def _second_proof(session: Session, caller: Caller, person: Person, code: str | None) -> Proof:
    if person.totp_secret is None:
        return Proof(person.id)
    typed = (code or "").replace(" ", "")
    if not typed:
        raise Invalid("Your phone code is needed too.", {"code": "The six digits your app shows, or a recovery code."})
    secret = _factors.secret_of(caller, person.id, person.totp_secret)
    step = _factors.step_of(secret, typed, caller.stores.clock())
    if step is not None:
        return Proof(person.id, step=step)
    digest = _factors.digest(typed.lower())
    if persons.recovery_code(session, person.id, digest) is not None:
        return Proof(person.id, recovery_sha256=digest)
    raise NotProven("Wrong code.", {"code": "Wait for the next code, or use a recovery code."})


def _spend(session: Session, caller: Caller, proof: Proof) -> None:
    if proof.step is not None:
        _factors.spend_step(session, caller, proof.person_id, proof.step)
    if proof.recovery_sha256 is not None:
        persons.locked(session, proof.person_id)
        code = persons.recovery_code(session, proof.person_id, proof.recovery_sha256)
        if code is None:
            raise NotProven("This code was used already.", {"code": "Each recovery code works once."})
        code.used_at = caller.stores.clock()


@act("session.open", by=ANYONE, replayed=False)
def open_session(
    session: Session,
    caller: Caller,
    *,
    proof: Proof,
    token_sha256: str,
    device_sha256: str | None = None,
    instead_of: str | None = None,
) -> Done:
    """Open a session for who has proved to be himself; a code of the second factor is spent with it."""
    _spend(session, caller, proof)
    device_id = open_for(
        session,
        caller,
        person_id=proof.person_id,
        token_sha256=token_sha256,
        device_sha256=device_sha256,
        instead_of=instead_of,
    )
    return Done("person", proof.person_id, {"device": device_id} if device_id else {})


@act("session.end", by=EVERYONE, unfinished=True)
def end_session(session: Session, caller: Caller, *, token_sha256: str) -> Done:
    """End the session that the token belongs to."""
    ticket = tokens.ticket_by_token(session, token_sha256)
    if ticket is None or ticket.kind != "session" or ticket.person_id != caller.person_id:
        raise NotFound("There is no such session.")
    ticket.ended_at = ticket.ended_at or caller.stores.clock()
    return Done("person", ticket.person_id or ticket.id)


@dataclass(frozen=True)
class Welcome:
    """For whom a one-use address is, and what has to be typed before it lets in."""

    name: str
    email: str
    chooses_password: bool
    needs_code: bool


@look("address.whose", by=ANYONE)
def whose_address(session: Session, caller: Caller, *, token_sha256: str) -> Welcome:
    """Return for whom a one-use address is."""
    ticket, person = _open_address(session, caller, token_sha256)
    return Welcome(person.name, person.email, ticket.kind == "invite", person.totp_secret is not None)


@act("address.use", by=ANYONE, replayed=False)
def use_address(
    session: Session,
    caller: Caller,
    *,
    token_sha256: str,
    session_sha256: str,
    new_password: str | None,
    code: str | None = None,
    instead_of: str | None = None,
) -> Done:
    """Spend a one-use address: it opens a session, a second factor is still asked, and a password may be chosen anew.

    An invitation asks for one; whoever chooses another in place of a lost one ends his other sessions.
    """
    tokens.locked(session, token_sha256)
    ticket, person = _open_address(session, caller, token_sha256)
    _spend(session, caller, _second_proof(session, caller, person, code))
    if ticket.kind == "invite" or new_password:
        shop = shops.shop(session)
        about = (shop.name if shop else "", person.name, person.email)
        person.password_hash = hashed(new_password or "", about=about)
        now = caller.stores.clock()
        tokens.end_other_sessions(session, person.id, but_sha256=session_sha256, at=now)
        tokens.end_of_kinds(session, person.id, tokens.ADDRESSES, at=now)
    ticket.uses += 1
    ticket.last_used_at = ticket.ended_at = caller.stores.clock()
    open_for(
        session,
        caller,
        person_id=person.id,
        token_sha256=session_sha256,
        device_sha256=None,
        instead_of=instead_of,
    )
    return Done("person", person.id, {"kind": ticket.kind})


def _open_address(session: Session, caller: Caller, token_sha256: str) -> tuple[Ticket, Person]:
    ticket = tokens.ticket_by_token(session, token_sha256)
    usable = ticket is not None and ticket.kind in ("sign_in", "invite") and ticket.ended_at is None
    # Looked for in any case, so that an address that never was costs the same look as one that was used.
    person = persons.person(session, ticket.person_id if ticket is not None and ticket.person_id else UUID(int=0))
    if ticket is None or person is None or not usable or ticket.expires_at <= caller.stores.clock() or person.ended_at:
        raise NotFound("This link was used already or has ended. Ask the shop for a new one.")
    return ticket, person
