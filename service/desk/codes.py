"""Criteria: the published ones with their standing, the shop's own, and who has read which text."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID, uuid4

from sqlmodel import Session

from service.desk.doorway import OWNERS, STAFF, Caller, Done, act, look
from service.errors import Invalid, NotFound
from service.records import criteria as records
from service.records.base import canonical
from service.records.criteria import CriterionCheck, OwnCriterion
from service.records.people import Person
from service.trade.criteria import codes_and_rules as rules
from service.trade.criteria.codes_and_rules import Criterion


@dataclass(frozen=True)
class CheckView:
    """That somebody read the current text, and what he noted."""

    at: datetime
    by: str
    note: str


@dataclass(frozen=True)
class CriterionView:
    """A criterion, whether it may be chosen, and what has to be said of it."""

    criterion: Criterion
    own_id: UUID | None
    check: CheckView | None

    @property
    def usable(self) -> bool:
        """Whether it may be put to a job: one from memory only after its text was read."""
        return self.criterion.decides(confirmed=self.check is not None)


@look("criterion.list", by=STAFF)
def known(session: Session, caller: Caller) -> list[CriterionView]:
    """Return every criterion, the shop's own first."""
    checks = {(one.key, one.edition): (one, by) for one, by in reversed(records.checks_with_people(session))}
    published = [
        CriterionView(one, None, _check_view(checks.get((one.key, one.edition)))) for one in rules.published().values()
    ]
    own = [
        CriterionView(rules.read_criterion(json.loads(one.rules)), one.id, None)
        for one in records.own_criteria(session)
    ]
    return own + published


def _check_view(found: tuple[CriterionCheck, Person] | None) -> CheckView | None:
    if found is None:
        return None
    check, by = found
    return CheckView(check.checked_at, by.name, check.note)


@act("criterion.note_reading", by=OWNERS)
def note_reading(session: Session, caller: Caller, *, key: str, note: str) -> Done:
    """Note that the owner has read the current text of a published criterion."""
    criterion = rules.published().get(key)
    if criterion is None or caller.person_id is None:
        raise NotFound("There is no such code or rule.")
    if not note:
        raise Invalid("Say what was read.", {"note": "Edition, clause and what it says."})
    check = CriterionCheck(
        key=key,
        edition=criterion.edition,
        file_sha256=rules.file_sha256(),
        checked_by=caller.person_id,
        checked_at=caller.stores.clock(),
        note=note,
    )
    session.add(check)
    session.flush()
    return Done("criterion_check", check.id, {"key": key})


@act("criterion.add_own", by=OWNERS)
def add_own(
    session: Session,
    caller: Caller,
    *,
    name: str,
    rests_on: str,
    demands: list[Mapping[str, Any]],
    characteristic_by: str = "",
) -> Done:
    """Keep a rule of the shop's own; it says what it rests on."""
    data = _own(caller, name, rests_on)
    return _keep(session, name, {**data, "rules": demands, "characteristic_by": characteristic_by})


@act("criterion.add_own_limit", by=OWNERS)
def add_own_limit(session: Session, caller: Caller, *, name: str, rests_on: str, limit: Mapping[str, Any]) -> Done:
    """Keep a limit of the shop's own on another test than crushing."""
    return _keep(session, name, {**_own(caller, name, rests_on), "rules": [], "demands": [limit]})


def _own(caller: Caller, name: str, rests_on: str) -> dict[str, Any]:
    return {
        "key": f"own-{uuid4().hex[:8]}",
        "name": name,
        "body": rests_on,
        "edition": caller.clock.today.isoformat(),
        "clause": "",
        "source": "own",
        "standing": "own",
        "written_for": "small bench block",
        "specimen": "the bench blocks of this shop",
        "orientation": "as pressed",
        "remarks": [],
    }


def _keep(session: Session, name: str, data: dict[str, Any]) -> Done:
    criterion = rules.read_criterion(data)
    row = OwnCriterion(name=name, rules=canonical(criterion.as_data()))
    session.add(row)
    session.flush()
    return Done("own_criterion", row.id, {"name": name})


@act("criterion.rename_own", by=OWNERS)
def rename_own(session: Session, caller: Caller, *, own_id: UUID, name: str) -> Done:
    """Correct what a rule of the shop's own is called; jobs that use it keep their copy."""
    row = session.get(OwnCriterion, own_id)
    if row is None:
        raise NotFound("There is no such code or rule.")
    was, row.name = row.name, name
    row.rules = canonical({**json.loads(row.rules), "name": name})
    return Done("own_criterion", row.id, {"was": was, "name": name})


@act("criterion.end_own", by=OWNERS)
def end_own(session: Session, caller: Caller, *, own_id: UUID) -> Done:
    """Offer a rule of the shop's own no longer; jobs that use it keep their copy."""
    row = session.get(OwnCriterion, own_id)
    if row is None:
        raise NotFound("There is no such code or rule.")
    row.ended_at = row.ended_at or caller.stores.clock()
    return Done("own_criterion", row.id)
