"""What a tablet keeps until the shop has it: whether it arrived, and what the shop holds instead."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlmodel import Session, select

from service.desk.doorway import ANYONE, EVERYONE, STAFF, Caller, Done, act, look
from service.errors import Forbidden, NotFound
from service.records import audit_log, batch_queries, block_queries, idempotency, tokens
from service.records.blocks import Block
from service.records.presses import PressSession
from service.records.tablets import Device

MOST_UNSENT = 100_000


@dataclass(frozen=True)
class Saved:
    """What an act was about that arrived."""

    kind: str
    id: UUID


@look("entry.saved", by=EVERYONE)
def saved(session: Session, caller: Caller, *, key: str, person_id: UUID | None = None) -> Saved | None:
    """Return what a form with this key has made, or None if it never arrived; of others' forms staff may ask."""
    if person_id not in (None, caller.person_id) and caller.role not in STAFF:
        raise Forbidden("That is not yours.")
    kept = idempotency.find(session, caller_key=f"person:{person_id or caller.person_id}", request_key=key)
    entry = None if kept is None else session.get(audit_log.Trail, kept.trail_position)
    return None if entry is None else Saved(entry.subject_kind, UUID(entry.subject_id))


@dataclass(frozen=True)
class ShopsVersion:
    """What the shop holds where a tablet's entry was refused; a crushing can be replaced by it."""

    lines: list[tuple[str, str]]
    crushing_id: UUID | None = None
    block_id: UUID | None = None
    gauge_id: UUID | None = None


@look("entry.shops_version", by=STAFF)
def shops_version(
    session: Session,
    caller: Caller,
    *,
    block_ids: list[UUID],
    batch_id: UUID | None = None,
    position: int = 0,
    press_session_id: UUID | None = None,
) -> ShopsVersion:
    """Return what is recorded of the blocks of an entry, or of its place in a batch."""
    lines: list[tuple[str, str]] = []
    if batch_id is not None:
        pressed = next(
            (one for one in batch_queries.blocks_of_batch(session, batch_id) if one.position == position), None
        )
        block_ids = [pressed.id] if pressed else []
    only = block_ids[0] if len(block_ids) == 1 else None
    crushing_id = None
    for block_id in block_ids[:12]:
        block = session.get(Block, block_id)
        if block is None:
            continue
        found = _of_block(session, caller, block)
        lines += found if only else [(block.label, "; ".join(f"{word}: {text}" for word, text in found) or "waits")]
        standing = block_queries.standing_with_person(session, block.id)
        crushing_id = standing[0].id if standing and only else None
    read_at = session.get(PressSession, press_session_id) if press_session_id else None
    return ShopsVersion(lines, crushing_id, only, read_at.gauge_id if read_at else None)


def _at_place(session: Session, batch_id: UUID, position: int) -> Block | None:
    return next((one for one in batch_queries.blocks_of_batch(session, batch_id) if one.position == position), None)


def _of_block(session: Session, caller: Caller, block: Block) -> list[tuple[str, str]]:
    lines = [("Pressed", caller.clock.said(block.pressed_at)), *_typed(block.as_read)]
    if block.lost_at is not None:
        lines.append(("Damaged or missing", f"{caller.clock.said(block.lost_at)}: {block.lost_because}"))
    for soak, by, _ in block_queries.soaks_with_people(session, block.id):
        until = f" to {caller.clock.said(soak.ended_at)}" if soak.ended_at else ""
        lines.append(("In the water", f"{caller.clock.said(soak.started_at)}{until}, {by.name}"))
    standing = block_queries.standing_with_person(session, block.id)
    if standing is not None:
        crushing, by = standing
        lines = [("Crushed", f"{caller.clock.said(crushing.crushed_at)}, {by.name}"), ("Outcome", crushing.outcome)]
        lines += _typed(crushing.as_read)
    return lines


def _typed(as_read: dict[str, dict[str, str]]) -> list[tuple[str, str]]:
    words = {"gauge_mpa": "Gauge", "wet_mass_kg": "Mass", "mass_kg": "Mass", "charge_kg": "Mix in the mould",
             "pressed_gauge_mpa": "Gauge", "water_hours": "Time under water", "dwell_s": "Dwell"}  # fmt: skip
    return [(words[name], f"{one['text']} {one['unit']}") for name, one in as_read.items() if name in words]


@act("entry.settle", by=STAFF)
def settle(
    session: Session, caller: Caller, *, decision: str, title: str, who: str, entry_key: str, typed: list[str]
) -> Done:
    """Write down an entry of a tablet that a person decided not to keep; nothing that was typed vanishes."""
    details: dict[str, Any] = {"decision": decision, "entry": title, "typed_by": who, "typed": typed, "key": entry_key}
    return Done("person", caller.doer, details)


@dataclass(frozen=True)
class Tablet:
    """Whether a tablet is still one of the shop's."""

    id: UUID
    ended: bool


@look("device.known", by=ANYONE, unfinished=True)
def known(session: Session, caller: Caller, *, device_sha256: str) -> Tablet:
    """Return the tablet that holds a secret, in use or ended."""
    ticket = tokens.ticket_by_token(session, device_sha256)
    device = session.get(Device, ticket.device_id) if ticket and ticket.kind == "device" and ticket.device_id else None
    if ticket is None or device is None:
        raise NotFound("This is no tablet of the shop.")
    over = ticket.ended_at is not None or ticket.expires_at <= caller.stores.clock()
    return Tablet(device.id, over or device.ended_at is not None)


@act("device.say", by=ANYONE, replayed=False, trailed=False, unfinished=True)
def say(session: Session, caller: Caller, *, device_id: UUID, unsent: int, ahead_s: float | None) -> Done:
    """Note how many entries a tablet holds that were not sent, how wrong its clock is, and that it spoke."""
    device = session.exec(select(Device).where(Device.id == device_id).with_for_update()).one()
    device.unsent, device.clock_ahead_s = max(0, min(unsent, MOST_UNSENT)), ahead_s
    device.last_spoke_at = caller.stores.clock()
    session.add(device)
    return Done("device", device.id)


@dataclass(frozen=True)
class Lately:
    """How far the shop's records go, and whether they went on since."""

    position: int
    changed: bool


@look("shop.lately", by=STAFF)
def lately(session: Session, caller: Caller, *, since: int | None = None, at: datetime | None = None) -> Lately:
    """Return whether anything was recorded since a position of the trail, or since a moment."""
    position = audit_log.head(session)[0]
    if since is not None:
        return Lately(position, position > since)
    newest = audit_log.newest_at(session)
    return Lately(position, newest is not None and at is not None and newest > at)
