"""What to do now, what comes later, what stands in the water, and what was just done."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, look
from service.desk.today._tasks import Task, beside_closed_days, in_order, of_batches, of_blocks, of_tests
from service.desk.today._undo_list import Slip, slips_of
from service.measured.opening_hours import opening_days
from service.records import block_queries, durability_tests, today

# More than a person can do in a day; the rest is on the pages of the jobs.
MOST_TASKS, MOST_LATER = 40, 12
LATER_WITHIN = timedelta(days=3)


@dataclass(frozen=True)
class Today:
    """The tasks of now in their order, the next ones, and when the page has to be looked at anew."""

    now: datetime
    tasks: list[Task]
    more: int
    later: list[Task]
    soaking: list[Task]
    next_at: datetime | None
    slips: list[Slip]

    @property
    def late(self) -> int:
        """How many of the tasks are late."""
        return sum(task.when == "late" for task in self.tasks)


@look("today.page", by=STAFF)
def page(session: Session, caller: Caller, *, block_id: UUID | None = None) -> Today:
    """Return what to do in the shop now; with a block only what is to be done with that one."""
    clock = caller.clock
    now = clock.now
    waiting = block_queries.waiting(session, block_id=block_id)
    if block_id is None:
        found = of_blocks(waiting, now)
        found += of_batches(today.batches_in_hand(session), waiting, clock=clock)
        found += of_tests(durability_tests.running(session))
    else:
        found = of_blocks(waiting, now)
    ordered = in_order(beside_closed_days(found, now=now, opening=opening_days(session, clock)))
    due = [task for task in ordered if task.when != "ahead"]
    ahead = [task for task in ordered if task.when == "ahead"]
    later = [task for task in ahead if task.starts_at is None or task.starts_at <= now + LATER_WITHIN]
    return Today(
        now=now,
        tasks=due[:MOST_TASKS],
        more=max(0, len(due) - MOST_TASKS),
        later=(later or ahead[:3])[:MOST_LATER],
        soaking=[task for task in ahead if task.do == "take out"],
        next_at=min((task.starts_at for task in ahead if task.starts_at), default=None),
        slips=slips_of(session, caller, now=now),
    )
