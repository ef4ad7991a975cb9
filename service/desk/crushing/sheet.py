"""One block from the mould to the trail: what is asked for next at the press, and everything that happened to it."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.desk.crushing._batch import density_off
from service.desk.crushing._due import DueBlock, due_blocks
from service.desk.crushing._facts import Meeting, facts_of, proposed
from service.desk.crushing._rates import RateLine, face_of, rate_lines
from service.desk.crushing._scale import PressSessionView, press_session_view
from service.desk.crushing.crushing_facts import CrushingFacts, Proposed
from service.desk.crushing.queue import GaugeChoice
from service.desk.doorway import STAFF, Caller, look
from service.measured.crushed import meant_of, name_of
from service.measured.gauge import line_on
from service.records import block_queries
from service.records.audit_log import Trail
from service.records.block_queries import WholeBlock
from service.records.blocks import Soak, measured_of
from service.records.corrections import Correction, before_and_after
from service.records.crushings import Crushing, last_by
from service.records.jobs import JobCriterion, criteria_of
from service.records.people import Person
from service.records.presses import Calibrated, calibrations_of
from service.trade.block.age_window import AgeWindow
from service.trade.block.durability_tests import USED_UP
from service.trade.block.measurements import stands_out
from service.trade.block.soak_and_crush_steps import Meant, Step, next_step

OF_THE_BLOCK = (
    *("id", "label", "pressed_at", "pressed_gauge_mpa", "pressed_stroke_mm", "charge_kg", "wet_mass_kg"),
    *("length_mm", "width_mm", "cracked_because", "remark", "lost_at", "lost_because", "crush_order"),
)


@dataclass(frozen=True)
class SoakFacts:
    """A stay in the water."""

    id: UUID
    started_at: datetime
    started_by: str
    ended_at: datetime | None
    ended_by: str
    hours: float


@dataclass(frozen=True)
class CorrectionFacts:
    """What was corrected on the block, its batch or a stay in the water: who, when, why, and each value both ways."""

    subject: str
    at: datetime
    by: str
    because: str
    changes: list[tuple[str, Any, Any]]


@dataclass(frozen=True)
class TrailLine:
    """One entry of the trail."""

    position: int
    at: datetime
    by: str
    act: str


@dataclass(frozen=True)
class BlockSheet:
    """Everything of one block, ready for its page."""

    id: UUID
    label: str
    job_id: UUID
    job_number: int
    job_closed: bool
    customer: str
    site: str
    recipe: str
    batch_id: UUID
    batch_number: int
    mould: str
    state: str
    condition: str
    test: str
    soak_hours: float | None
    age_days: float
    tolerance_hours: float
    pressed_at: datetime
    pressed_by: str
    pressed_gauge_mpa: float | None
    pressed_stroke_mm: float | None
    charge_kg: float | None
    wet_mass_kg: float | None
    length_mm: float
    width_mm: float
    height_mm: float | None
    cracked_because: str | None
    remark: str | None
    lost_at: datetime | None
    lost_because: str | None
    used_up: str
    covered_at: datetime | None
    uncovered_at: datetime | None
    crush_order: int
    window: AgeWindow
    step: Step
    now: datetime
    age_now_days: float
    soaks: list[SoakFacts]
    standing: CrushingFacts | None
    earlier: list[CrushingFacts]
    corrections: list[CorrectionFacts]
    trail: list[TrailLine]
    press_sessions: list[PressSessionView]
    press_session: PressSessionView | None
    rates: list[RateLine]
    gauges: list[GaugeChoice]
    closed_gauges: list[GaugeChoice]
    proposed: Proposed
    following: DueBlock | None
    due: int
    density_off: float | None

    @property
    def in_water(self) -> bool:
        """Whether it stands in the water now."""
        return bool(self.soaks) and self.soaks[-1].ended_at is None

    @property
    def stands_out(self) -> bool:
        """Whether it is far denser or lighter than the other blocks of its batch."""
        return stands_out(self.density_off)


@look("crushing.sheet", by=STAFF)
def sheet(session: Session, caller: Caller, *, block_id: UUID, press_session_id: UUID | None = None) -> BlockSheet:
    """Return one block: the form for its crushing as far as it can be filled in, and its whole story."""
    whole = block_queries.whole_block(session, block_id)
    clock = caller.clock
    now = clock.now
    stays = block_queries.soaks_with_people(session, block_id)
    crushed = block_queries.crushings_of(session, block_id)
    hands = block_queries.gauges_at_hand(session)
    wanted = {hand.gauge.id for hand in hands if hand.press_session} | {one.gauge.id for one in crushed if one.gauge}
    calibrations = calibrations_of(session, wanted)
    meant = meant_of(whole.group)
    meeting = Meeting(whole, meant, [soak for soak, _, _ in stays], calibrations, clock)
    readings = [facts_of(one, meeting) for one in crushed]
    lately = last_by(session, caller.person_id) if caller.person_id is not None else []
    last = lately[0] if lately else None
    today = clock.today
    press_sessions = _press_sessions(hands, calibrations, today)
    press_session = _chosen(press_sessions, press_session_id, last)
    at_hand = next(
        (hand for hand in hands if press_session is not None and hand.gauge.id == press_session.gauge_id), None
    )
    form = proposed(whole, [soak for soak, _, _ in stays], lately)
    due = [one for one in due_blocks(block_queries.waiting(session), now=now).blocks if one.id != block_id]
    subjects = [block_id, whole.batch.id, *(soak.id for soak, _, _ in stays), *(one.crushing.id for one in crushed)]
    gauges = [GaugeChoice(hand.gauge.id, f"{hand.press.name}, {hand.gauge.name}", hand.gauge.unit) for hand in hands]
    soaks = [_soak(*stay, now) for stay in stays]
    return BlockSheet(
        **_pressed(whole),
        window=meant.window(whole.block.pressed_at),
        step=_step(whole, meant, [soak for soak, _, _ in stays]),
        now=now,
        age_now_days=(now - whole.block.pressed_at) / timedelta(days=1),
        soaks=soaks,
        standing=next((one for one in readings if one.ended_at is None), None),
        earlier=[one for one in readings if one.ended_at is not None],
        corrections=[_corrected(*one) for one in block_queries.corrections_with_people(session, subjects)],
        trail=[_line(*one) for one in block_queries.told_about(session, subjects) if _is_about(one[0], whole)],
        press_sessions=press_sessions,
        press_session=press_session,
        rates=_rates(whole, at_hand, calibrations, criteria_of(session, whole.job.id), form.orientation, today),
        gauges=gauges,
        closed_gauges=[
            one for one in gauges if one.id not in {press_session.gauge_id for press_session in press_sessions}
        ],
        proposed=form,
        following=next((one for one in due if one.job_id == whole.job.id), due[0] if due else None),
        due=len(due),
        density_off=density_off(measured_of(session, whole.batch.id), block_id),
    )


def _step(whole: WholeBlock, meant: Meant, soaks: Sequence[Soak]) -> Step:
    last = soaks[-1] if soaks else None
    return next_step(
        meant,
        pressed_at=whole.block.pressed_at,
        soak_started_at=last.started_at if last else None,
        soak_ended_at=last.ended_at if last else None,
    )


def _pressed(whole: WholeBlock) -> dict[str, Any]:
    block, group, batch, recipe, mould, job, customer, pressed_by, height_mm, _ = whole
    return {
        **{name: getattr(block, name) for name in OF_THE_BLOCK},
        "job_id": job.id,
        "job_number": job.number,
        "job_closed": job.closed_at is not None,
        "customer": customer.name,
        "site": job.site,
        "recipe": recipe.label,
        "batch_id": batch.id,
        "batch_number": batch.number,
        "mould": mould.name,
        "used_up": USED_UP.get(whole.used_up or "", ""),
        "state": group.condition,
        "condition": name_of(group),
        "test": group.test or "",
        "soak_hours": group.soak_hours,
        "age_days": group.age_days,
        "tolerance_hours": group.tolerance_hours,
        "pressed_by": pressed_by.name,
        "height_mm": height_mm,
        "covered_at": batch.covered_at,
        "uncovered_at": batch.uncovered_at,
    }


def _soak(soak: Soak, by: Person, ended_by: Person | None, now: datetime) -> SoakFacts:
    hours = ((soak.ended_at or now) - soak.started_at) / timedelta(hours=1)
    return SoakFacts(soak.id, soak.started_at, by.name, soak.ended_at, ended_by.name if ended_by else "", hours)


def _press_sessions(
    hands: Sequence[block_queries.GaugeAtHand], calibrations: Mapping[UUID, list[Calibrated]], today: date
) -> list[PressSessionView]:
    views = [press_session_view(hand, calibrations.get(hand.gauge.id, []), today=today) for hand in hands]
    return [view for view in views if view is not None]


def _rates(
    whole: WholeBlock,
    at_hand: block_queries.GaugeAtHand | None,
    calibrations: Mapping[UUID, list[Calibrated]],
    criteria: Sequence[JobCriterion],
    orientation: str,
    today: date,
) -> list[RateLine]:
    """Return how fast the needle is to climb at the gauge that is open, nothing where none is."""
    face_mm = face_of(whole, orientation)
    if at_hand is None or face_mm is None:
        return []
    gauge, press = at_hand.gauge, at_hand.press
    line = line_on(calibrations.get(gauge.id, []), press, on=today).line
    return rate_lines(line, criteria, face_mm=face_mm, graduation_mpa=gauge.graduation_mpa)


def _chosen(
    press_sessions: Sequence[PressSessionView], wanted: UUID | None, last: Crushing | None
) -> PressSessionView | None:
    """Return the press session asked for, else that of the person's last block, else the first that is open."""
    by_id = {press_session.id: press_session for press_session in press_sessions}
    remembered = last.press_session_id if last else None
    for one in (wanted, remembered):
        if one in by_id:
            return by_id[one]
    return press_sessions[0] if press_sessions else None


def _corrected(correction: Correction, by: Person) -> CorrectionFacts:
    changes = [(column, was, became) for column, (was, became) in before_and_after(correction).items()]
    return CorrectionFacts(correction.subject_kind, correction.corrected_at, by.name, correction.because, changes)


def _is_about(entry: Trail, whole: WholeBlock) -> bool:
    """Return whether an entry of the batch speaks of this block: some name the blocks that they are about."""
    named = json.loads(entry.details).get("blocks")
    return not isinstance(named, list) or whole.block.label in named


def _line(entry: Trail, person: Person | None) -> TrailLine:
    return TrailLine(entry.position, entry.at, person.name if person else "", entry.act)
