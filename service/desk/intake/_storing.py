"""How a test of a soil is kept: once, or in the place of the one that it corrects as a whole."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import Caller, Done
from service.desk.intake._checks import needs_reason, the_material
from service.errors import Invalid, NotFound
from service.records import unfinished, versions
from service.records.base import Raw
from service.records.materials import Receipt
from service.records.soil_tests import SoilTest

MOST_ROWS = 40


@dataclass(frozen=True)
class About:
    """From which sack, when and with what remark; for a correction which test it replaces and why."""

    receipt_id: UUID | None = None
    done_at: datetime | None = None
    remark: str | None = None
    replaces_id: UUID | None = None
    because: str | None = None


def few_enough(rows: Sequence[object], field: str) -> None:
    """Refuse a list of readings that no form can send."""
    if len(rows) > MOST_ROWS:
        raise Invalid("That is more than this form takes.", {field: f"At most {MOST_ROWS} rows."})


def begin(
    session: Session, caller: Caller, material_id: UUID, kind: str, about: About, *, non_plastic: bool = False
) -> SoilTest:
    """Add the test itself, in the place of the one it corrects."""
    material = the_material(session, material_id)
    if about.receipt_id is not None:
        receipt = session.get(Receipt, about.receipt_id)
        if receipt is None or receipt.material_id != material.id:
            raise NotFound("There is no such sack of this soil.")
    former = _former(session, material.id, kind, about)
    as_before = former.done_at if former and about.done_at is None else None
    unfinished.end(session, material.id, kind)
    test = SoilTest(
        material_id=material.id,
        receipt_id=about.receipt_id,
        kind=kind,
        non_plastic=non_plastic,
        done_at=as_before or caller.clock.past(about.done_at, field="done_at"),
        done_by=caller.doer,
        remark=about.remark,
        as_read={},
    )
    if former is None:
        session.add(test)
        session.flush()
        return test
    reason = needs_reason(about.because)
    return versions.replace(session, former, test, at=caller.stores.clock(), by=caller.doer, because=reason)


def _former(session: Session, material_id: UUID, kind: str, about: About) -> SoilTest | None:
    if about.replaces_id is None:
        return None
    former = session.get(SoilTest, about.replaces_id)
    if former is None or former.material_id != material_id or former.kind != kind:
        raise NotFound("There is no such test of this soil.")
    return former


def end(session: Session, test: SoilTest, rows: list[Raw], about: About, details: dict[str, Any]) -> Done:
    """Save readings of a test and say what was done."""
    session.add_all(rows)
    session.flush()
    corrected = {"replaces": about.replaces_id, "because": about.because} if about.replaces_id else {}
    return Done("soil_test", test.id, {"kind": test.kind, "material": test.material_id, **details, **corrected})
