"""A session as it is opened, on somebody's own browser or on a tablet of the shop."""

from datetime import datetime, timedelta
from typing import Protocol
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import Caller
from service.desk.signing_in.lifetimes_and_tries import (
    IDLE_LASTS,
    NOTED_EVERY,
    SESSION_LASTS,
    TABLET_IDLE_LASTS,
    TABLET_NOTED_EVERY,
    TABLET_SESSION_LASTS,
)
from service.records import tokens
from service.records.base import CLOCKS_DIFFER_BY
from service.records.tokens import Ticket


class Lasting(Protocol):
    """What says how long a session lasts."""

    @property
    def device_id(self) -> UUID | None: ...
    @property
    def expires_at(self) -> datetime: ...


def idle_lasts(ticket: Lasting) -> timedelta:
    """Return how long a session lives without use."""
    return IDLE_LASTS if ticket.device_id is None else TABLET_IDLE_LASTS


def is_ahead(ticket: Lasting, now: datetime) -> bool:
    """Return whether a clock that ran ahead opened a session: it would last longer than any may, so it is none."""
    longest = SESSION_LASTS if ticket.device_id is None else TABLET_SESSION_LASTS
    return ticket.expires_at > now + longest + CLOCKS_DIFFER_BY


def noted_every(ticket: Lasting) -> timedelta:
    """Return how often the use of a session or token is noted."""
    return NOTED_EVERY if ticket.device_id is None else TABLET_NOTED_EVERY


def open_for(
    session: Session,
    caller: Caller,
    *,
    person_id: UUID,
    token_sha256: str,
    device_sha256: str | None,
    role: str | None = None,
    confirmed: bool = True,
    instead_of: str | None = None,
) -> UUID | None:
    """Open a session; on a tablet it is bound to the tablet, whose id comes back; a PIN confirms nobody.

    ``instead_of`` is the session that this browser had, whosever it was: it ends.
    """
    now = caller.stores.clock()
    if instead_of is not None:
        tokens.end_session(session, instead_of, at=now)
    tablet = tokens.tablet(session, device_sha256, at=now) if device_sha256 else None
    if tablet is not None:
        tablet.last_spoke_at = now
    session.add(
        Ticket(
            kind="session",
            token_sha256=token_sha256,
            person_id=person_id,
            device_id=tablet.id if tablet else None,
            role=role,
            expires_at=now + (SESSION_LASTS if tablet is None else TABLET_SESSION_LASTS),
            last_used_at=now,
            confirmed_at=now if confirmed else None,
        )
    )
    return tablet.id if tablet else None
