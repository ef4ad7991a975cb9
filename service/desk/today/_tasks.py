"""One thing to do: with which blocks, of which job, until when it still counts; and which comes first."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, time
from typing import Literal
from uuid import UUID

from service.measured.crushed import name_of, step_of
from service.records.block_queries import Waiting
from service.records.durability_tests import Running
from service.records.today import InHand
from service.shop_clock import ShopClock
from service.trade.block.covering import COVER_AT_ALL, COVER_WITHIN, PRESS_WITHIN
from service.trade.block.opening_days import Closed, OpeningDays
from service.trade.block.random_order import blocks_of_batches
from service.trade.block.soak_and_crush_steps import Step, When

Do = Literal["soak", "take out", "crush", "test", "cover", "uncover", "weigh", "press", "mix", "weigh again"]

WHENS: tuple[When, ...] = ("late", "now", "ahead")


@dataclass(frozen=True)
class TaskBlock:
    """A block of a task."""

    id: UUID
    label: str


@dataclass(frozen=True)
class Task:
    """One thing to do. ``ends_at`` is until when it counts; None: any time."""

    do: Do
    when: When
    starts_at: datetime | None
    ends_at: datetime | None
    job_id: UUID
    job_number: int
    customer: str
    recipe: str
    count: int = 0
    recipe_id: UUID | None = None
    batch_id: UUID | None = None
    batch_number: int = 0
    state: str = ""
    condition: str = ""
    since: datetime | None = None
    blocks: tuple[TaskBlock, ...] = ()
    test: str = ""
    pressed: int = 0
    # What of its time cannot be used because the shop is closed.
    closed: Closed | None = None

    @property
    def key(self) -> str:
        """What tells this task's form from the others on the page."""
        of = self.blocks[0].id if self.blocks else self.batch_id or self.recipe_id or self.job_id
        return f"{self.do.replace(' ', '-')}-{of.hex[:12]}"


def in_order(tasks: Iterable[Task]) -> list[Task]:
    """Return the tasks as they are to be done: late ones first, then those of now by their end, then what comes."""
    return sorted(tasks, key=_urgency)


def _urgency(task: Task) -> tuple[int, float, int, str, int]:
    rank = {"late": 0, "now": 1, "ahead": 2}[task.when]
    at = task.starts_at if task.when == "ahead" else (task.closed.do_by if task.closed else None) or task.ends_at
    return rank, at.timestamp() if at else float("inf"), task.job_number, task.recipe, task.batch_number


def beside_closed_days(tasks: Iterable[Task], *, now: datetime, opening: OpeningDays) -> list[Task]:
    """Return the tasks with blocks, and the mixes, each with what is to be said if it ends on closed hours."""
    return [replace(task, closed=_closed(task, now, opening)) for task in tasks]


def _closed(task: Task, now: datetime, opening: OpeningDays) -> Closed | None:
    if task.ends_at is None or task.when == "late" or task.do not in ("soak", "take out", "crush", "test", "mix"):
        return None
    start = max(task.starts_at or now, now)
    # A mix is planned for a day, whatever the hour.
    if task.do == "mix" and not opening.is_closed_around(task.ends_at):
        return None
    return opening.closed_at_end(start=start, end=task.ends_at)


def of_blocks(rows: Iterable[Waiting], now: datetime) -> list[Task]:
    """Return what is to be done with the blocks that wait: by batch and condition, and what is due at the press by job.

    A block in the water whose time has come goes from there to the press, and a job's blocks are crushed in the
    order drawn by lot, whichever of them is late.
    """
    sets: dict[tuple[object, ...], list[tuple[Waiting, Step]]] = {}
    for row in rows:
        step = step_of(row)
        when = step.when(now)
        whose: tuple[object, ...] = (step.do, when, row.batch_id, row.group_id)
        if when != "ahead" and step.do != "soak":
            whose = (row.test or "crush", row.job_id)
        sets.setdefault(whose, []).append((row, step))
    return [_of_set(members, now) for members in sets.values()]


def _of_set(members: list[tuple[Waiting, Step]], now: datetime) -> Task:
    members = sorted(members, key=lambda one: (one[0].crush_order, one[0].label))
    row, step = members[0]
    alike = len({(one.condition, one.soak_hours, one.age_days) for one, _ in members}) == 1
    since = [one.soak_started_at for one, _ in members if one.soak_started_at and one.soak_ended_at is None]
    whens = {one.when(now) for _, one in members}
    when: When = next(one for one in WHENS if one in whens)
    return Task(
        do="crush" if step.do == "take out" and when != "ahead" else step.do,
        when=when,
        starts_at=min(one.starts_at for _, one in members),
        ends_at=min(one.ends_at for _, one in members),
        job_id=row.job_id,
        job_number=row.job_number,
        customer=row.customer,
        recipe=", ".join(sorted({one.recipe for one, _ in members})),
        count=len(members),
        batch_id=row.batch_id,
        batch_number=row.batch_number,
        state=row.condition if alike else "",
        condition=name_of(row) if alike else "",
        test=row.test or "",
        since=min(since, default=None),
        blocks=tuple(TaskBlock(one.block_id, one.label) for one, _ in members),
    )


def of_batches(rows: Iterable[InHand], waiting: Iterable[Waiting], *, clock: ShopClock) -> list[Task]:
    """Return what is to be mixed, weighed, pressed, covered and uncovered."""
    found: list[Task] = []
    begun: dict[UUID, set[int]] = {}
    first: dict[UUID, InHand] = {}
    comes, now = _first_steps(waiting), clock.now
    for row in rows:
        first.setdefault(row.recipe_id, row)
        if row.batch_id is None or row.batch_number is None:
            continue
        begun.setdefault(row.recipe_id, set()).add(row.batch_number)
        size = _sizes(row)[row.batch_number - 1] if row.batch_number <= row.batches else row.planned
        found += _of_batch(row, size, comes.get(row.batch_id), now)
    for row in first.values():
        missing = [n for n in range(1, row.batches + 1) if n not in begun.get(row.recipe_id, set())]
        if missing:
            found.append(_to_mix(row, missing, clock))
    return found


def _sizes(row: InHand) -> list[int]:
    return list(blocks_of_batches(blocks=row.planned, batches=row.batches))


def _first_steps(waiting: Iterable[Waiting]) -> Mapping[UUID, datetime]:
    """Return for each batch when the first of its blocks leaves the covers for the water or the press."""
    comes: dict[UUID, datetime] = {}
    for row in waiting:
        at = step_of(row).starts_at
        comes[row.batch_id] = min(at, comes.get(row.batch_id, at))
    return comes


def _of_batch(row: InHand, size: int, first_step: datetime | None, now: datetime) -> list[Task]:
    if row.mixed_at is None:
        return [_of(row, "weigh", "now")]
    if row.pressed < size:
        by = row.mixed_at + PRESS_WITHIN
        return [_of(row, "press", "now" if now <= by else "late", count=size - row.pressed, ends_at=by)]
    if first_step is None or row.last_pressed_at is None:
        return []
    kept = row.pressed - row.lost
    if row.covered_at is None:
        by = row.last_pressed_at + COVER_WITHIN
        if now > row.last_pressed_at + COVER_AT_ALL or first_step <= now:
            return []
        return [_of(row, "cover", "now" if now <= by else "late", count=kept, ends_at=by)]
    if row.uncovered_at is not None:
        return []
    return [_of(row, "uncover", "now" if now >= first_step else "ahead", count=kept, starts_at=first_step)]


def _to_mix(row: InHand, missing: list[int], clock: ShopClock) -> Task:
    today, zone = clock.today, clock.zone
    when: When = "now" if row.mix_on is None or row.mix_on == today else "ahead" if row.mix_on > today else "late"
    ends = datetime.combine(row.mix_on, time(23, 59), zone) if row.mix_on else None
    starts = datetime.combine(row.mix_on, time(0), zone) if row.mix_on else None
    return Task(
        "mix", when, starts, ends, row.job_id, row.job_number, row.customer, row.recipe,
        count=_sizes(row)[missing[0] - 1], recipe_id=row.recipe_id, batch_number=missing[0],
    )  # fmt: skip


def _of(
    row: InHand,
    do: Do,
    when: When,
    *,
    count: int = 0,
    starts_at: datetime | None = None,
    ends_at: datetime | None = None,
) -> Task:
    return Task(
        do, when, starts_at, ends_at, row.job_id, row.job_number, row.customer, row.recipe,
        count=count, recipe_id=row.recipe_id, batch_id=row.batch_id, batch_number=row.batch_number or 0,
        pressed=row.pressed,
    )  # fmt: skip


def of_tests(rows: Iterable[Running]) -> list[Task]:
    """Return the blocks that stand in another test and are to be weighed again."""
    return [
        Task(
            "weigh again", "now", None, None, one.job_id, one.job_number, one.customer, one.recipe,
            count=1, batch_number=one.batch_number, since=one.since, state=one.manner,
            blocks=(TaskBlock(one.block_id, one.label),), test="cycles" if one.manner == "cycles" else "absorption",
        )
        for one in rows
    ]  # fmt: skip
