"""At which stage a job is: worked out from how far its records go, never typed."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Literal

from service.records.job_progress import Progress


class Stage(StrEnum):
    """The way of a soil through the shop, in order."""

    INTAKE = "intake"
    PLAN = "plan"
    MIXING = "mixing"
    CURING = "curing"
    CRUSHING = "crushing"
    RESULTS = "results"
    ISSUED = "issued"


@dataclass(frozen=True)
class Step:
    """One stage as a job's way shows it: past, present or ahead, with its day, and whether there is work to look at."""

    stage: Stage
    state: Literal["past", "present", "ahead"]
    at: datetime | None
    opens: bool


def stage_of(progress: Progress) -> Stage:
    """Return the first stage at which something is still to be done."""
    if not progress.receipts:
        return Stage.INTAKE
    if not progress.recipes:
        return Stage.PLAN
    if progress.blocks < progress.planned:
        return Stage.MIXING
    if progress.waiting:
        return Stage.CRUSHING if progress.due else Stage.CURING
    return Stage.ISSUED if _told(progress) else Stage.RESULTS


def _told(progress: Progress) -> bool:
    # A block crushed or tested after the last issued result, in another round of recipes, is news to tell.
    issued, news = progress.last_issued_at, (progress.last_crushed_at, progress.last_tested_at)
    return issued is not None and all(at is None or issued >= at for at in news)


def way_of(progress: Progress) -> list[Step]:
    """Return all stages of a job in order, each past, present or ahead."""
    present = stage_of(progress)
    days = {
        Stage.INTAKE: progress.received_at,
        Stage.MIXING: progress.last_mixed_at,
        Stage.CURING: None,
        Stage.CRUSHING: progress.last_crushed_at if not progress.waiting else progress.next_due_at,
        Stage.ISSUED: progress.last_issued_at,
    }
    # A recipe that is planned late takes a job back to mixing, but not what was crushed and issued before from sight.
    has_work = {
        Stage.INTAKE: True,
        Stage.PLAN: True,
        Stage.CURING: progress.blocks > 0,
        Stage.CRUSHING: progress.blocks > 0,
        Stage.RESULTS: progress.last_crushed_at is not None,
        Stage.ISSUED: progress.last_issued_at is not None,
    }
    order = list(Stage)
    here = order.index(present)
    return [
        Step(
            stage,
            "present" if stage is present else "past" if place < here else "ahead",
            days.get(stage),
            opens=place <= here or has_work.get(stage, False),
        )
        for place, stage in enumerate(order)
    ]
