"""What waits in the shop, grouped by what is to be done with it, today and late first."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, look
from service.measured.crushed import meant_of, name_of, step_of
from service.measured.opening_hours import opening_days
from service.records import block_queries, durability_tests
from service.records.block_queries import Waiting
from service.shop_clock import ShopClock
from service.trade.block.opening_days import Closed, OpeningDays
from service.trade.block.soak_and_crush_steps import Do, Meant, Step, When

PAGE_SIZE = 25


@dataclass(frozen=True)
class WaitingBlock:
    """One block of a set."""

    id: UUID
    label: str


@dataclass(frozen=True)
class WaitingSet:
    """Blocks of one batch with which the same is to be done at the same time; what counts is said for all of them."""

    do: Do
    when: When
    today: bool
    starts_at: datetime
    ends_at: datetime
    window_from: datetime
    window_to: datetime
    pressed_at: datetime
    in_water_since: datetime | None
    covered: bool
    state: str
    condition: str
    # The kind of another test that they are for; nothing where they are crushed.
    test: str
    recipe: str
    batch_id: UUID
    batch_number: int
    job_id: UUID
    job_number: int
    customer: str
    site: str
    blocks: list[WaitingBlock]
    # What of its time cannot be used because the shop is closed.
    closed: Closed | None

    @property
    def key(self) -> str:
        """What tells this set's form from the others on the page."""
        return f"{self.do.replace(' ', '-')}-{self.blocks[0].id.hex[:12]}"


@dataclass(frozen=True)
class CoveredBatch:
    """A batch whose blocks cure: covered against drying, or open, and for how long."""

    batch_id: UUID
    batch_number: int
    recipe: str
    job_id: UUID
    job_number: int
    customer: str
    blocks: int
    pressed_at: datetime
    covered_at: datetime | None
    uncovered_at: datetime | None
    covered_days: float
    open_days: float

    @property
    def state(self) -> Literal["open", "covered", "uncovered"]:
        """How the blocks stand now."""
        if self.covered_at is None:
            return "open"
        return "covered" if self.uncovered_at is None else "uncovered"


@dataclass(frozen=True)
class OtherTest:
    """A block in another test than crushing that is not over: in or on the water, or between two cycles."""

    block_id: UUID
    label: str
    job_id: UUID
    job_number: int
    customer: str
    recipe: str
    batch_number: int
    manner: str
    since: datetime
    cycles: int

    @property
    def test(self) -> str:
        """Which of the block's tests goes on."""
        return "cycles" if self.manner == "cycles" else "absorption"


@dataclass(frozen=True)
class CuringQueue:
    """One page of the queue: what is to be done now, what comes, and how the batches are kept."""

    soak: list[WaitingSet]
    take_out: list[WaitingSet]
    crush: list[WaitingSet]
    test: list[WaitingSet]
    later: list[WaitingSet]
    batches: list[CoveredBatch]
    testing: list[OtherTest]
    waiting: int
    page: int
    pages: int
    now: datetime


@look("curing.queue", by=STAFF)
def queue(session: Session, caller: Caller, *, job_id: UUID | None = None, page: int = 1) -> CuringQueue:
    """Return what waits in the shop, or in one job."""
    clock = caller.clock
    now = clock.now
    rows = block_queries.waiting(session, job_id=job_id)
    sets = sorted(_sets(rows, now), key=lambda members: _urgency(members, now))
    batches = _batches(rows, now)
    testing = [OtherTest(*one) for one in durability_tests.running(session, job_id=job_id)]
    first = (page - 1) * PAGE_SIZE
    opening = opening_days(session, clock)
    shown = [_set(members, clock, opening) for members in sets[first : first + PAGE_SIZE]]
    due = [one for one in shown if one.when != "ahead"]
    return CuringQueue(
        soak=[one for one in due if one.do == "soak"],
        take_out=[one for one in due if one.do == "take out"],
        crush=[one for one in due if one.do == "crush"],
        test=[one for one in due if one.do == "test"],
        later=[one for one in shown if one.when == "ahead"],
        batches=batches[first : first + PAGE_SIZE],
        testing=testing[first : first + PAGE_SIZE],
        waiting=len(rows),
        page=page,
        pages=max(1, -(-max(len(sets), len(batches), len(testing)) // PAGE_SIZE)),
        now=now,
    )


# A block that waits, how it is meant to stand, and what is to be done with it next.
Member = tuple[Waiting, Meant, Step]


def _urgency(members: list[Member], now: datetime) -> tuple[bool, datetime, datetime, int, str]:
    row, _, step = members[0]
    ends_at, starts_at = (min(getattr(one, which) for _, _, one in members) for which in ("ends_at", "starts_at"))
    return step.when(now) == "ahead", ends_at, starts_at, row.job_number, row.label


def _sets(rows: Iterable[Waiting], now: datetime) -> list[list[Member]]:
    found: dict[tuple[UUID, UUID, Do, When], list[Member]] = {}
    for row in rows:
        meant, step = meant_of(row), step_of(row)
        key = (row.batch_id, row.group_id, step.do, step.when(now))
        found.setdefault(key, []).append((row, meant, step))
    return list(found.values())


def _set(members: list[Member], clock: ShopClock, opening: OpeningDays) -> WaitingSet:
    row, meant, step = members[0]
    windows = [meant.window(one.pressed_at) for one, _, _ in members]
    starts_at = min(one.starts_at for _, _, one in members)
    ends_at, when = min(one.ends_at for _, _, one in members), step.when(clock.now)
    start = max(starts_at, clock.now)
    since = [one.soak_started_at for one, _, _ in members if one.soak_started_at and one.soak_ended_at is None]
    return WaitingSet(
        do=step.do,
        when=when,
        today=clock.day(starts_at) <= clock.today,
        starts_at=starts_at,
        ends_at=ends_at,
        window_from=max(window.window_from for window in windows),
        window_to=min(window.window_to for window in windows),
        pressed_at=min(one.pressed_at for one, _, _ in members),
        in_water_since=min(since, default=None),
        covered=row.covered_at is not None and row.uncovered_at is None,
        state=row.condition,
        condition=name_of(row),
        test=row.test or "",
        recipe=row.recipe,
        batch_id=row.batch_id,
        batch_number=row.batch_number,
        job_id=row.job_id,
        job_number=row.job_number,
        customer=row.customer,
        site=row.site,
        blocks=[WaitingBlock(one.block_id, one.label) for one, _, _ in members],
        closed=None if when == "late" else opening.closed_at_end(start=start, end=ends_at),
    )


def _batches(rows: Iterable[Waiting], now: datetime) -> list[CoveredBatch]:
    by_batch: dict[UUID, list[Waiting]] = {}
    for row in rows:
        by_batch.setdefault(row.batch_id, []).append(row)
    found = [_batch(members, now) for members in by_batch.values()]
    return sorted(found, key=lambda one: (one.state == "uncovered", one.pressed_at, one.job_number, one.recipe))


def _batch(members: list[Waiting], now: datetime) -> CoveredBatch:
    row, day = members[0], timedelta(days=1)
    pressed_at = min(one.pressed_at for one in members)
    covered = ((row.uncovered_at or now) - row.covered_at) / day if row.covered_at else 0.0
    return CoveredBatch(
        batch_id=row.batch_id,
        batch_number=row.batch_number,
        recipe=row.recipe,
        job_id=row.job_id,
        job_number=row.job_number,
        customer=row.customer,
        blocks=len(members),
        pressed_at=pressed_at,
        covered_at=row.covered_at,
        uncovered_at=row.uncovered_at,
        covered_days=covered,
        open_days=max(0.0, (now - pressed_at) / day - covered),
    )
