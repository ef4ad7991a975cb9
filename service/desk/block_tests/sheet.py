"""The tests of one block besides crushing: what stands, what was corrected, and what the forms are filled in with."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.desk.block_tests._force import Force, force_of
from service.desk.block_tests.given import OFFERED
from service.desk.block_tests.recording import WEIGHED_AGAIN
from service.desk.doorway import STAFF, Caller, look
from service.measured.crushed import name_of
from service.phrase import Phrase
from service.records import block_queries, durability_tests
from service.records.block_queries import WholeBlock
from service.records.durability_tests import Absorption, Erosion, Flexure, Told, WetDryCycle
from service.records.presses import Calibrated, calibrations_of
from service.shop_clock import ShopClock
from service.trade.block.durability_tests import USED_UP, Endured, bent, soaked_up, weathered, worn

HOUR = 3600.0


@dataclass(frozen=True)
class TestFacts:
    """One test as it was typed, what it comes to, and what is to be said against it."""

    id: UUID
    test: str
    words: dict[str, Any]
    as_read: dict[str, dict[str, str]]
    came_to: Endured | None
    force_kn: float | None
    flags: tuple[Phrase, ...]
    done_at: datetime
    done_by: str
    ended_at: datetime | None
    ended_by: str
    ended_because: str


@dataclass(frozen=True)
class PressSessionChoice:
    """A gauge whose zero was read, so that a force may be read from it."""

    id: UUID
    name: str
    unit: str


@dataclass(frozen=True)
class TestedBlock:
    """A block with all its tests besides crushing, ready for their pages."""

    id: UUID
    label: str
    job_id: UUID
    job_number: int
    customer: str
    recipe: str
    batch_number: int
    condition: str
    # The kind of the test that it was pressed for; nothing where it is to be crushed.
    meant_for: str
    state: str
    length_mm: float
    width_mm: float
    height_mm: float | None
    pressed_at: datetime
    lost_because: str | None
    crushed_by: str
    used_up: str | None
    used_up_because: str
    now: datetime
    standing: list[TestFacts]
    earlier: list[TestFacts]
    lost_share: Endured | None
    press_sessions: list[PressSessionChoice]

    def of(self, test: str) -> list[TestFacts]:
        """Return the standing rows of one test; only cycles have several."""
        return [one for one in self.standing if one.test == test]


@look("enduring.block", by=STAFF)
def block(session: Session, caller: Caller, *, block_id: UUID) -> TestedBlock:
    """Return a block with its tests, in nine statements."""
    whole = block_queries.whole_block(session, block_id)
    told = durability_tests.history_of(session, block_id)
    calibrations = calibrations_of(session, {one.gauge.id for one in told if one.gauge})
    clock = caller.clock
    facts = [_facts(one, calibrations, clock) for one in told]
    crushed = block_queries.standing_with_person(session, block_id)
    cycles = {
        one.row.number: one.row.mass_kg for one in told if isinstance(one.row, WetDryCycle) and one.row.ended_at is None
    }
    return TestedBlock(
        **_of_the_block(whole),
        crushed_by=crushed[1].name if crushed else "",
        now=clock.now,
        standing=[one for one in facts if one.ended_at is None],
        # The version that a second weighing ends was never wrong.
        earlier=[one for one in facts if one.ended_at is not None and one.ended_because != WEIGHED_AGAIN],
        lost_share=weathered(cycles),
        press_sessions=[
            PressSessionChoice(hand.press_session.id, f"{hand.press.name}, {hand.gauge.name}", hand.gauge.unit)
            for hand in block_queries.gauges_at_hand(session)
            if hand.press_session is not None
        ],
    )


def _of_the_block(whole: WholeBlock) -> dict[str, Any]:
    found = whole.block
    return {
        **{name: getattr(found, name) for name in ("id", "label", "length_mm", "width_mm", "pressed_at")},
        "lost_because": found.lost_because,
        "job_id": whole.job.id,
        "job_number": whole.job.number,
        "customer": whole.customer.name,
        "recipe": whole.recipe.label,
        "batch_number": whole.batch.number,
        "condition": name_of(whole.group),
        "meant_for": whole.group.test or "",
        "state": whole.group.condition,
        "height_mm": whole.height_mm,
        "used_up": whole.used_up,
        "used_up_because": USED_UP.get(whole.used_up or "", ""),
    }


def _facts(told: Told, calibrations: Mapping[UUID, list[Calibrated]], clock: ShopClock) -> TestFacts:
    row = told.row
    test = next(name for name, table in durability_tests.TABLES.items() if isinstance(row, table))
    force = force_of(told, calibrations, clock)
    return TestFacts(
        id=row.id,
        test=test,
        words=_words(told, test),
        as_read=row.as_read,
        came_to=_came_to(told, force),
        force_kn=force.force_kn,
        flags=force.flags,
        done_at=row.wetted_at if isinstance(row, Absorption) else row.done_at,
        done_by=told.by.name,
        ended_at=row.ended_at,
        ended_by=told.ended_by.name if told.ended_by else "",
        ended_because=row.ended_because or "",
    )


def _words(told: Told, test: str) -> dict[str, Any]:
    names = [*OFFERED[test], "remark", "number", "wetted_at", "weighed_at", "done_at", "press_session_id"]
    words = {name: getattr(told.row, name) for name in names if name in type(told.row).model_fields}
    return words | {"gauge": f"{told.press.name}, {told.gauge.name}" if told.press and told.gauge else ""}


def _came_to(told: Told, force: Force) -> Endured | None:
    """Return what one test comes to; the loss over cycles is of the block, not of one weighing."""
    row = told.row
    if isinstance(row, Flexure) and force.force_kn is not None:
        sides = {"span_mm": row.span_mm, "width_mm": row.width_mm, "thickness_mm": row.thickness_mm}
        return bent(force_kn=force.force_kn, held=row.outcome == "held", **sides)
    if isinstance(row, Absorption) and row.weighed_at is not None:
        return soaked_up(
            before_kg=row.before_kg,
            after_kg=row.after_kg,
            oven_dry=row.state_before == "oven-dry",
            damp_surface=row.manner == "damp surface",
            hours=(row.weighed_at - row.wetted_at).total_seconds() / HOUR,
        )
    if isinstance(row, Erosion):
        return worn(spray=row.manner == "spray", depth_mm=row.depth_mm, minutes=row.water_min)
    return None
