"""Envelopes, thresholds and bands: the published ones with their standing, and the own copies that count instead."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from uuid import UUID, uuid4

from sqlmodel import Session

from service.desk.doorway import OWNERS, STAFF, Caller, Done, act, look
from service.errors import Invalid, NotFound
from service.records import criteria as records
from service.records.base import canonical
from service.records.criteria import OwnBand
from service.trade.soil.soil_limits import OWN_ENVELOPE, SoilLimits, bands_with, checked_own, published_bands


@dataclass(frozen=True)
class SoilLimitsView:
    """What counts in this shop, what is published, and which of it the shop changed: key to id."""

    counting: SoilLimits
    published: SoilLimits
    own: dict[str, UUID]


@look("band.list", by=STAFF)
def known(session: Session, caller: Caller) -> SoilLimitsView:
    """Return everything a soil is held against."""
    own = records.own_bands(session)
    counting = bands_with({one.key: json.loads(one.values) for one in own})
    return SoilLimitsView(counting, published_bands(), {one.key: one.id for one in own})


@act("band.keep_own", by=OWNERS)
def keep_own(session: Session, caller: Caller, *, key: str, values: Mapping[str, Any]) -> Done:
    """Keep the shop's own copy, which counts from now on; an earlier one of the same key ends."""
    if key == OWN_ENVELOPE:
        if not str(values.get("name", "")).strip():
            raise Invalid("An envelope needs a name.", {"name": "Fill this in."})
        key = f"{OWN_ENVELOPE}{uuid4().hex[:8]}"
    checked_own(key, values)
    for former in records.own_bands(session):
        if former.key == key:
            former.ended_at = caller.stores.clock()
    row = OwnBand(key=key, values=canonical(dict(values)))
    session.add(row)
    session.flush()
    return Done("own_band", row.id, {"key": key, "values": dict(values)})


@act("band.end_own", by=OWNERS)
def end_own(session: Session, caller: Caller, *, own_id: UUID) -> Done:
    """Use the published values again, or an envelope of the shop's own no longer."""
    row = session.get(OwnBand, own_id)
    if row is None:
        raise NotFound("There is no such copy.")
    row.ended_at = row.ended_at or caller.stores.clock()
    return Done("own_band", row.id, {"key": row.key})
