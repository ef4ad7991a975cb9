"""People: opening the shop, invitations, roles, customers, tokens of programs and how the shop writes."""

import re
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal
from uuid import UUID
from zoneinfo import available_timezones

from sqlmodel import Session

from service.desk.doorway import ANYONE, OWNERS, STAFF, Caller, Done, Role, ShopFacts, Via, act, look
from service.errors import Forbidden, Invalid, NotFound
from service.records import customers as customer_records
from service.records import outbox
from service.records import people as persons
from service.records import shop as shops
from service.records import tokens as tickets
from service.records.people import Person
from service.records.shop import Shop
from service.records.tokens import Ticket
from service.typed import holds_unkept

ADDRESS_LASTS = timedelta(days=7)
MOST_TOKEN_DAYS = 366
PAGE_SIZE = 25
# Something, an @ and something more: whether it is really somebody's shows only when they sign in.
ADDRESS = re.compile(r"[^@\s]+@[^@\s]+")
NO_ADDRESS = "An address such as olu@yard.example."


@act("shop.open", by=ANYONE, replayed=False)
def open_shop(
    session: Session, caller: Caller, *, facts: ShopFacts, owner_name: str, owner_email: str, token_sha256: str
) -> Done:
    """Open an empty shop with its first owner, from the command line only; the token is his invitation."""
    if caller.via is not Via.COMMAND:
        raise Forbidden("Open a shop with the command 'loambook open'.")
    if session.get(Shop, 1) is not None:
        raise Invalid("This shop is open already.")
    faults = _faults_of(facts)
    if not owner_name.strip():
        faults["owner_name"] = "Give your name."
    if not ADDRESS.fullmatch(owner_email.strip()):
        faults["email"] = NO_ADDRESS
    if faults:
        raise Invalid("Check the fields named below.", faults)
    # Who writes pounds and inches writes 12,000 too.
    session.add(Shop(**(vars(facts) | {"comma_thousands": facts.units_first == "imperial"})))
    owner = _add_person(session, name=owner_name, email=owner_email, role=Role.OWNER, customer_id=None)
    _add_address(session, caller, kind="invite", person_id=owner.id, token_sha256=token_sha256)
    return Done("person", owner.id, {"shop": facts.name})


@look("shop.name", by=ANYONE)
def shop_name(session: Session, caller: Caller) -> str:
    """Return what the shop is called, or nothing before one was opened."""
    shop = shops.shop(session)
    return shop.name if shop else ""


def _faults_of(facts: ShopFacts) -> dict[str, str]:
    faults = {
        "name": None if facts.name.strip() else "Give the shop a name.",
        "time_zone": None if facts.time_zone in available_timezones() else "A name such as America/Denver.",
        "currency": None if facts.currency.isalpha() and len(facts.currency) == 3 else "Three letters, such as USD.",
        "paper": None if facts.paper in shops.PAPERS else f"One of: {', '.join(shops.PAPERS)}.",
        "units_first": None if facts.units_first in shops.UNITS else f"One of: {', '.join(shops.UNITS)}.",
    }
    wrong = {name: sentence for name, sentence in faults.items() if sentence}
    if holds_unkept(facts.name):
        wrong["name"] = "This holds a sign that is not text."
    return wrong


def _add_person(session: Session, *, name: str, email: str, role: Role, customer_id: UUID | None) -> Person:
    faults = {"name": name, "email": email}
    if wrong := {field: "This holds a sign that is not text." for field, text in faults.items() if holds_unkept(text)}:
        raise Invalid("This cannot be written.", wrong)
    address = email.strip().lower()
    if not ADDRESS.fullmatch(address):
        raise Invalid("This e-mail address cannot be used.", {"email": NO_ADDRESS})
    if persons.person_by_email(session, address) is not None:
        raise Invalid("Somebody signs in with this address already.", {"email": "This address is taken."})
    person = Person(name=name, email=address, role=role.value, customer_id=customer_id)
    session.add(person)
    session.flush()
    return person


def _add_address(session: Session, caller: Caller, *, kind: str, person_id: UUID, token_sha256: str) -> None:
    session.add(
        Ticket(
            kind=kind,
            token_sha256=token_sha256,
            person_id=person_id,
            made_by=caller.person_id,
            expires_at=caller.stores.clock() + ADDRESS_LASTS,
            most_uses=1,
        )
    )


@act("person.invite", by=OWNERS, confirmed=True)
def invite(
    session: Session,
    caller: Caller,
    *,
    name: str,
    email: str,
    role: Role,
    customer_id: UUID | None,
    token_sha256: str,
) -> Done:
    """Add a person with an invitation: a single-use address at which he chooses his password."""
    if (role is Role.CUSTOMER) != (customer_id is not None):
        raise Invalid("Choose the customer that this person belongs to.", {"customer_id": "Choose the customer."})
    if customer_id is not None and customer_records.customer(session, customer_id) is None:
        raise NotFound("There is no such customer.")
    person = _add_person(session, name=name, email=email, role=role, customer_id=customer_id)
    _add_address(session, caller, kind="invite", person_id=person.id, token_sha256=token_sha256)
    if caller.stores.sends_mail:
        # The link itself is kept nowhere: whoever sends the mail draws it again from the form's key.
        facts = {"caller_key": caller.caller_key, "request_key": caller.request_key}
        now, event = caller.stores.clock(), f"invitation {person.id}"
        outbox.put(session, [person], kind="invitation", event=event, subject_id=person.id, at=now, facts=facts)
    return Done("person", person.id, {"role": role.value})


@act("person.make_address", by=OWNERS, confirmed=True)
def make_address(session: Session, caller: Caller, *, person_id: UUID, token_sha256: str) -> Done:
    """Make a one-use sign-in address for somebody, shown once to the owner."""
    person = persons.person(session, person_id)
    if person is None or person.ended_at is not None:
        raise NotFound("There is no such person.")
    _add_address(session, caller, kind="sign_in", person_id=person.id, token_sha256=token_sha256)
    return Done("person", person.id)


@act("person.reset", by=OWNERS, confirmed=True)
def reset(session: Session, caller: Caller, *, person_id: UUID, token_sha256: str) -> Done:
    """End every way in that somebody has, and make one new: an address at which he chooses a password anew."""
    person = persons.person(session, person_id)
    if person is None or person.ended_at is not None:
        raise NotFound("There is no such person.")
    if person.id == caller.person_id:
        raise Invalid("You cannot reset yourself.", {"person_id": "Change your password on your own page."})
    return _reset(session, caller, person, token_sha256)


@act("person.reset_by_command", by=OWNERS, replayed=False)
def reset_by_command(session: Session, caller: Caller, *, email: str, token_sha256: str) -> Done:
    """Do the same from the command line, for a shop whose only owner is locked out."""
    person = persons.person_by_email(session, email)
    if caller.via is not Via.COMMAND or person is None or person.ended_at is not None:
        raise NotFound("Nobody signs in with this address.")
    return _reset(session, caller, person, token_sha256)


@act("person.make_owner_by_command", by=OWNERS, replayed=False)
def make_owner_by_command(session: Session, caller: Caller, *, name: str, email: str, token_sha256: str) -> Done:
    """Make an owner from the command line: of somebody of the shop, let in again if need be, or of somebody new."""
    if caller.via is not Via.COMMAND:
        raise Forbidden("Use the command 'loambook reset EMAIL --owner NAME'.")
    person = persons.person_by_email(session, email)
    if person is None:
        person = _add_person(session, name=name, email=email, role=Role.OWNER, customer_id=None)
    if person.customer_id is not None:
        raise Invalid("This e-mail address belongs to a customer.", {"email": "Give another address."})
    person.role, person.ended_at = Role.OWNER.value, None
    return _reset(session, caller, person, token_sha256)


def _reset(session: Session, caller: Caller, person: Person, token_sha256: str) -> Done:
    tickets.end_all_of_person(session, person.id, at=caller.stores.clock())
    person.password_hash = person.totp_secret = person.pin_hash = None
    person.pin_tries = 0
    persons.forget_codes(session, person.id)
    _add_address(session, caller, kind="invite", person_id=person.id, token_sha256=token_sha256)
    return Done("person", person.id)


@act("person.make_address_by_command", by=ANYONE, replayed=False)
def make_address_by_command(session: Session, caller: Caller, *, email: str, token_sha256: str) -> Done:
    """Make a one-use sign-in address from the command line, which lets an only owner in and ends nothing."""
    person = persons.person_by_email(session, email)
    if caller.via is not Via.COMMAND or person is None or person.ended_at is not None:
        raise NotFound("There is no such person.")
    _add_address(session, caller, kind="sign_in", person_id=person.id, token_sha256=token_sha256)
    return Done("person", person.id)


@act("customer.add", by=STAFF)
def add_customer(session: Session, caller: Caller, *, name: str, contact: str | None, language: str | None) -> Done:
    """Add a customer of the shop."""
    customer = customer_records.Customer(name=name, contact=contact, language=language)
    session.add(customer)
    session.flush()
    return Done("customer", customer.id, {"name": name})


@act("customer.change", by=STAFF)
def change_customer(
    session: Session, caller: Caller, *, customer_id: UUID, name: str, contact: str | None, language: str | None
) -> Done:
    """Change what is known of a customer; the trail keeps what it was, and issued results stay as they are."""
    customer = customer_records.customer(session, customer_id)
    if customer is None:
        raise NotFound("There is no such customer.")
    wanted = {"name": name, "contact": contact, "language": language}
    was = {column: getattr(customer, column) for column, value in wanted.items() if getattr(customer, column) != value}
    for column in was:
        setattr(customer, column, wanted[column])
    session.add(customer)
    return Done("customer", customer.id, {"was": was})


@act("token.make", by=OWNERS, confirmed=True)
def make_token(
    session: Session, caller: Caller, *, person_id: UUID, role: Role, token_sha256: str, lasts_days: int
) -> Done:
    """Make a token with which a program speaks for a person, in a role no higher than his."""
    person = persons.person(session, person_id)
    if person is None or person.ended_at is not None:
        raise NotFound("There is no such person.")
    # A customer's token must be a customer's person's: it is his customer that bounds what it sees.
    less = (person.role, role) == (Role.OWNER.value, Role.TECHNICIAN)
    if role.value != person.role and not less:
        raise Invalid("A program may do no more than its person.", {"role": "Choose the person's own role."})
    if not 1 <= lasts_days <= MOST_TOKEN_DAYS:
        raise Invalid("This password would last too long.", {"lasts_days": f"Between 1 and {MOST_TOKEN_DAYS} days."})
    ends = caller.stores.clock() + timedelta(days=lasts_days)
    ticket = Ticket(
        kind="api",
        token_sha256=token_sha256,
        person_id=person.id,
        role=role.value,
        made_by=caller.person_id,
        expires_at=ends,
    )
    session.add(ticket)
    session.flush()
    return Done("ticket", ticket.id, {"role": role.value, "ends": ends.isoformat()})


@dataclass(frozen=True)
class PersonLine:
    """Somebody who signs in, as the owner lists them."""

    id: UUID
    name: str
    email: str
    role: str
    customer: str | None
    has_password: bool
    ended: bool


@dataclass(frozen=True)
class TokenLine:
    """A program's token: for whom it speaks, and until when."""

    id: UUID
    person: str
    role: str
    expires_at: datetime


@dataclass(frozen=True)
class Everybody:
    """One page of all people, customers to choose from, and the tokens of programs."""

    people: list[PersonLine]
    page: int
    pages: int
    customers: list[tuple[UUID, str]]
    tokens: list[TokenLine]


@look("person.list", by=OWNERS)
def everybody(session: Session, caller: Caller, *, page: int = 1, customer_id: UUID | None = None) -> Everybody:
    """Return who signs in, a page of them, every program's token in force, and customers to invite somebody for."""
    found, total = persons.page_of_people(session, page=page, size=PAGE_SIZE)
    customers = customer_records.customer_names(session, {one.customer_id for one in found if one.customer_id})
    at_hand = customer_records.customers_at_hand(session, most=customer_records.OFFERED, also=customer_id)
    in_force = tickets.tokens_in_force(session, at=caller.stores.clock())
    names = persons.names(session, {one.person_id for one in in_force if one.person_id})
    lines = [
        PersonLine(
            one.id,
            one.name,
            one.email,
            one.role,
            customers[one.customer_id] if one.customer_id else None,
            one.password_hash is not None,
            one.ended_at is not None,
        )
        for one in found
    ]
    tokens = [
        TokenLine(one.id, names[one.person_id], one.role or "", one.expires_at)
        for one in in_force
        if one.person_id in names
    ]
    pages = max(1, -(-total // PAGE_SIZE))
    return Everybody(lines, page, pages, [(one.id, one.name) for one in at_hand], tokens)


@act("person.end", by=OWNERS, confirmed=True)
def end_person(session: Session, caller: Caller, *, person_id: UUID) -> Done:
    """Let somebody in no longer; what he recorded stays under his name."""
    # Two owners who remove each other at once wait here, and whoever comes second is no owner any more.
    owners = {owner.id for owner in persons.owners_locked(session)}
    if caller.person_id is not None and caller.person_id not in owners:
        raise Forbidden("You are no longer an owner of this shop.")
    person = persons.person(session, person_id)
    if person is None:
        raise NotFound("There is no such person.")
    if person.id == caller.person_id:
        raise Invalid("You cannot lock yourself out.", {"person_id": "Ask another owner."})
    if owners == {person.id}:
        raise Invalid("This is the last owner of the shop.", {"person_id": "Invite another owner first."})
    person.ended_at = person.ended_at or caller.stores.clock()
    outbox.drop_of_person(session, person.id)
    return Done("person", person.id)


@act("token.end", by=OWNERS)
def end_token(session: Session, caller: Caller, *, ticket_id: UUID) -> Done:
    """End a program's token."""
    ticket = session.get(Ticket, ticket_id)
    if ticket is None or ticket.kind != "api":
        raise NotFound("There is no such password of a program.")
    ticket.ended_at = ticket.ended_at or caller.stores.clock()
    return Done("ticket", ticket.id)


@look("shop.letterhead", by=OWNERS)
def letterhead(session: Session, caller: Caller) -> str:
    """Return what stands at the head of every issued result."""
    shop = shops.shop(session)
    return (shop.letterhead if shop else None) or ""


@act("shop.change", by=OWNERS)
def change_shop(session: Session, caller: Caller, *, facts: ShopFacts, letterhead: str | None) -> Done:
    """Change how the shop writes; results issued before stay as they are."""
    shop = session.get(Shop, 1)
    if shop is None:
        raise NotFound("There is no shop yet.")
    if faults := _faults_of(facts):
        raise Invalid("These facts of the shop cannot be used.", faults)
    before = {name: getattr(shop, name) for name in vars(facts)}
    shop.sqlmodel_update(vars(facts))
    shop.letterhead = letterhead
    changed = {name: value for name, value in vars(facts).items() if before[name] != value}
    return Done("shop", UUID(int=1), changed)


Asked = Literal["nobody", "owners", "everybody"]


@look("shop.second_factor", by=OWNERS)
def who_needs_second_factor(session: Session, caller: Caller) -> Asked:
    """Return whom the shop asks for a second factor."""
    shop = shops.shop(session)
    if shop is not None and shop.all_need_second_factor:
        return "everybody"
    return "owners" if shop is not None and shop.owners_need_second_factor else "nobody"


@act("shop.ask_second_factor", by=OWNERS, confirmed=True)
def ask_second_factor(session: Session, caller: Caller, *, needed: Asked) -> Done:
    """Ask the owners, everybody or nobody for a second factor from now on."""
    shop = session.get(Shop, 1)
    if shop is None:
        raise NotFound("There is no shop yet.")
    shop.owners_need_second_factor, shop.all_need_second_factor = needed == "owners", needed == "everybody"
    return Done("shop", UUID(int=1), {"second_factor": needed})
