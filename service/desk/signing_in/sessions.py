"""Whom a token speaks for: the first question of every page."""

from dataclasses import dataclass, replace
from datetime import timedelta
from typing import cast

from sqlmodel import Session

from service.desk.doorway import ANYONE, EVERYONE, OWNERS, Caller, Done, Language, Role, ShopFacts, Units, act, look
from service.desk.signing_in._new_session import idle_lasts, is_ahead, noted_every
from service.desk.signing_in.lifetimes_and_tries import CONFIRMED_LASTS
from service.errors import NotFound
from service.records import shop as shops
from service.records import tablets, tokens
from service.records.shop import Shop, ShopSaid


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
def recognise(
    session: Session, caller: Caller, *, token_sha256: str, kind: str, device_sha256: str | None = None
) -> Known | None:
    """Return whom a session or an API token speaks for, or None; a tablet's session opens on that tablet alone."""
    now = caller.stores.clock()
    found = tokens.bearer(session, token_sha256, kind=kind, device_sha256=device_sha256, at=now)
    if found is None:
        return None
    used_at = found.last_used_at or found.created_at
    if kind == "session" and (now - used_at > idle_lasts(found) or is_ahead(found, now)):
        return None
    # A clock that went back makes a use look like one to come; it is noted anew rather than trusted.
    stale = abs(now - used_at) > noted_every(found)
    role, shop = Role(found.role or found.own_role), found.shop
    confirmed_for = now - (found.confirmed_at or found.created_at)
    by_pin = kind == "session" and found.role is not None
    known = replace(
        caller,
        caller_key=f"person:{found.person_id}" if kind == "session" else f"token:{found.ticket_id}",
        person_id=found.person_id,
        name=found.name,
        role=role,
        customer_id=found.customer_id,
        device_id=found.device_id,
        by_pin=by_pin,
        # A clock that went back confirms nobody.
        confirmed=found.confirmed_at is not None and timedelta(0) <= confirmed_for <= CONFIRMED_LASTS,
        # A PIN opens on an enrolled tablet only: that is two things already.
        owes_second_factor=not by_pin and found.totp_secret is None and shops.asks_second_factor(shop, role),
        shop=_facts_of(shop),
        language=cast(Language, found.language or shop.language) if role is Role.CUSTOMER else "en",
    )
    return Known(known, stale)


@look("shop.facts", by=OWNERS)
def shop_facts(session: Session, caller: Caller) -> ShopFacts:
    """Return how the shop writes, for a command, which nobody signed in for."""
    shop = shops.shop(session)
    return _facts_of(shop) if shop else ShopFacts()


def _facts_of(shop: Shop | ShopSaid) -> ShopFacts:
    # The table's own checks leave no other word in units and language.
    return ShopFacts(
        name=shop.name,
        time_zone=shop.time_zone,
        currency=shop.currency,
        paper=shop.paper,
        units_first=cast(Units, shop.units_first),
        comma_thousands=shop.comma_thousands,
        language=cast(Language, shop.language),
        whom_to_call=shop.whom_to_call,
        assurance=shop.assurance,
        margin=shop.margin,
        block_price=shop.block_price,
        calibration_price=shop.calibration_price,
    )


@act("session.note_use", by=EVERYONE, replayed=False, trailed=False, unfinished=True)
def note_use(session: Session, caller: Caller, *, token_sha256: str) -> Done:
    """Note that a session or token is in use, and that its tablet spoke."""
    ticket = tokens.ticket_by_token(session, token_sha256)
    if ticket is None:
        raise NotFound("There is no such session.")
    ticket.last_used_at = caller.stores.clock()
    ticket.uses += 1
    if ticket.device_id is not None:
        tablets.spoke(session, ticket.device_id, at=ticket.last_used_at)
    return Done("ticket", ticket.id)
