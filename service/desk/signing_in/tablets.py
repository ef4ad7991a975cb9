"""The shop's tablets: the owner enrols and ends them, technicians switch on them by name and PIN."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import ANYONE, OWNERS, Caller, Done, Role, act, look
from service.desk.signing_in._new_session import open_for
from service.desk.signing_in._passwords_and_pins import holds
from service.desk.signing_in.lifetimes_and_tries import ENROLMENT_LASTS, MOST_PIN_TRIES, TABLET_LASTS
from service.errors import Invalid, NotFound, NotProven, TooMany
from service.records import people as persons
from service.records import tablets, tokens
from service.records.people import Person
from service.records.tablets import Device
from service.records.tokens import Ticket


@act("device.enrol", by=OWNERS, confirmed=True)
def enrol(session: Session, caller: Caller, *, name: str, token_sha256: str) -> Done:
    """Add a tablet, with the one-use address that makes a browser this tablet."""
    if name in tablets.names_in_use(session):
        raise Invalid("There is a tablet of this name.", {"name": "Choose another name."})
    device = Device(name=name, enrolled_by=caller.doer)
    session.add(device)
    session.flush()
    # An invitation that names a tablet and no person opens a tablet and nothing else.
    session.add(
        Ticket(
            kind="invite",
            token_sha256=token_sha256,
            device_id=device.id,
            made_by=caller.person_id,
            expires_at=caller.stores.clock() + ENROLMENT_LASTS,
            most_uses=1,
        )
    )
    return Done("device", device.id, {"name": name})


@look("device.whose_enrolment", by=ANYONE)
def whose_enrolment(session: Session, caller: Caller, *, token_sha256: str) -> str:
    """Return the name of the tablet that an address would make of this browser."""
    return _open_enrolment(session, caller, token_sha256)[1].name


@act("device.begin", by=ANYONE)
def begin(session: Session, caller: Caller, *, token_sha256: str, device_sha256: str) -> Done:
    """Spend the one-use address: whoever holds the new secret is the tablet."""
    tokens.locked(session, token_sha256)
    ticket, device = _open_enrolment(session, caller, token_sha256)
    now = caller.stores.clock()
    ticket.uses += 1
    ticket.last_used_at = ticket.ended_at = now
    session.add(Ticket(kind="device", token_sha256=device_sha256, device_id=device.id, expires_at=now + TABLET_LASTS))
    device.last_spoke_at = now
    return Done("device", device.id)


def _open_enrolment(session: Session, caller: Caller, token_sha256: str) -> tuple[Ticket, Device]:
    ticket = tokens.ticket_by_token(session, token_sha256)
    usable = ticket is not None and ticket.kind == "invite" and ticket.ended_at is None
    device = session.get(Device, ticket.device_id) if ticket is not None and ticket.device_id else None
    if ticket is None or device is None or not usable or device.ended_at or ticket.expires_at <= caller.stores.clock():
        raise NotFound("This link was used already or has ended. Ask the owner for a new one.")
    return ticket, device


@dataclass(frozen=True)
class NameScreen:
    """A tablet, and who may switch on it."""

    tablet: str
    people: list[tuple[UUID, str]]


@look("device.names", by=ANYONE)
def name_screen(session: Session, caller: Caller, *, device_sha256: str) -> NameScreen:
    """Return who may switch on this tablet."""
    tablet = _tablet(session, caller, device_sha256)
    return NameScreen(tablet.name, [(one.id, one.name) for one in persons.people(session) if _may_switch(one)])


def _tablet(session: Session, caller: Caller, device_sha256: str) -> Device:
    tablet = tokens.tablet(session, device_sha256, at=caller.stores.clock())
    if tablet is None:
        raise NotFound("This is not a shop tablet. The owner can enrol it.")
    return tablet


def _may_switch(person: Person) -> bool:
    return person.role == Role.TECHNICIAN and person.ended_at is None and person.pin_hash is not None


@act("device.note_pin_try", by=ANYONE, replayed=False, trailed=False)
def note_pin_try(session: Session, caller: Caller, *, device_sha256: str, person_id: UUID) -> Done:
    """Count a PIN before it is looked at, and refuse one too many."""
    tablet, person = _tablet(session, caller, device_sha256), persons.locked(session, person_id)
    if person is not None:
        if person.pin_tries >= MOST_PIN_TRIES:
            raise TooMany("This PIN was wrong too often. Sign in with your password and choose a new one.")
        person.pin_tries += 1
    return Done("device", tablet.id)


@dataclass(frozen=True)
class PinProof:
    """Who knew his PIN on a tablet."""

    person_id: UUID


@look("person.prove_pin", by=ANYONE)
def prove_pin(session: Session, caller: Caller, *, device_sha256: str, person_id: UUID, pin: str) -> PinProof:
    """Return whose PIN this is; somebody without a PIN and a wrong PIN get the same answer in the same time."""
    _tablet(session, caller, device_sha256)
    person = persons.person(session, person_id)
    kept = person.pin_hash if person is not None and _may_switch(person) else None
    if not holds(pin, kept):
        raise NotProven("Wrong PIN.", {"pin": "Please try again."})
    return PinProof(person_id)


@act("session.open_by_pin", by=ANYONE, replayed=False)
def open_by_pin(
    session: Session,
    caller: Caller,
    *,
    proof: PinProof,
    token_sha256: str,
    device_sha256: str,
    instead_of: str | None = None,
) -> Done:
    """Open a technician's session, bound to this tablet."""
    tablet, person = _tablet(session, caller, device_sha256), persons.person(session, proof.person_id)
    if person is None or not _may_switch(person):
        raise NotProven("Wrong PIN.", {"pin": "Please try again."})
    person.pin_tries = 0
    open_for(
        session,
        caller,
        person_id=person.id,
        token_sha256=token_sha256,
        device_sha256=device_sha256,
        role=Role.TECHNICIAN.value,
        confirmed=False,
        instead_of=instead_of,
    )
    return Done("person", person.id, {"device": tablet.id})


@dataclass(frozen=True)
class TabletLine:
    """A tablet, as the owner lists them."""

    id: UUID
    name: str
    enrolled_by: str
    enrolled_at: datetime
    last_spoke_at: datetime | None
    ended_at: datetime | None
    unsent: int
    clock_ahead_s: float | None


@look("device.list", by=OWNERS)
def listed(session: Session, caller: Caller) -> list[TabletLine]:
    """Return every tablet, those in use first."""
    names = {one.id: one.name for one in persons.people(session)}
    return [
        TabletLine(one.id, one.name, names[one.enrolled_by], one.created_at, one.last_spoke_at, one.ended_at,
                   one.unsent, one.clock_ahead_s)
        for one in tablets.devices(session)
    ]  # fmt: skip


@act("device.end", by=OWNERS)
def end_tablet(session: Session, caller: Caller, *, device_id: UUID) -> Done:
    """End a tablet, and with it every session on it."""
    device = session.get(Device, device_id)
    if device is None:
        raise NotFound("There is no such tablet.")
    device.ended_at = device.ended_at or caller.stores.clock()
    tokens.end_all_of_device(session, device.id, at=device.ended_at)
    return Done("device", device.id)
