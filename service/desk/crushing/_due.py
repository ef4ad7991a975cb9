"""Which blocks are due at the press, in random order."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Literal
from uuid import UUID

from service.measured.crushed import condition_of, meant_of, step_of
from service.records.block_queries import Waiting


@dataclass(frozen=True)
class DueBlock:
    """A block that is to be crushed now, with the window in which its age still counts."""

    id: UUID
    label: str
    when: Literal["late", "now"]
    in_water: bool
    state: str
    condition: str
    recipe: str
    batch_number: int
    job_id: UUID
    job_number: int
    customer: str
    crush_order: int
    window_from: datetime
    window_to: datetime
    # The press that suits it where the shop has several; nothing where that is not known.
    press: str = ""


@dataclass(frozen=True)
class Due:
    """The due blocks in their order, and when the next one will be due."""

    blocks: list[DueBlock]
    next_at: datetime | None


def due_blocks(rows: Iterable[Waiting], *, now: datetime) -> Due:
    """Return the due blocks: the job whose window closes first before the others, each job in its drawn order.

    The drawn order is kept inside a job even where one of its windows closes earlier: an order that follows
    the clock would put one recipe after the other again.
    """
    due: dict[UUID, list[DueBlock]] = {}
    ahead: list[datetime] = []
    for row in rows:
        block = _due(row, now)
        if isinstance(block, DueBlock):
            due.setdefault(row.job_id, []).append(block)
        elif block is not None:
            ahead.append(block)
    jobs = sorted(due.values(), key=lambda blocks: (min(one.window_to for one in blocks), blocks[0].job_number))
    in_order = [one for blocks in jobs for one in sorted(blocks, key=lambda one: (one.crush_order, one.label))]
    return Due(in_order, min(ahead, default=None))


def _due(row: Waiting, now: datetime) -> DueBlock | datetime | None:
    meant, step = meant_of(row), step_of(row)
    if step.do in ("soak", "test"):
        return None
    when = step.when(now)
    if when == "ahead":
        return step.starts_at
    window = meant.window(row.pressed_at)
    return DueBlock(
        id=row.block_id,
        label=row.label,
        when=when,
        in_water=step.do == "take out",
        state=row.condition,
        condition=condition_of(row).name,
        recipe=row.recipe,
        batch_number=row.batch_number,
        job_id=row.job_id,
        job_number=row.job_number,
        customer=row.customer,
        crush_order=row.crush_order,
        window_from=window.window_from,
        window_to=window.window_to,
    )
