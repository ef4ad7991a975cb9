"""What is kept of every job from night to night, as text and back."""

import json
from collections.abc import Mapping
from dataclasses import astuple, dataclass
from uuid import UUID

import numpy as np

from service.records.base import canonical
from service.records.kept_history import KeptHistory
from service.trade.strength.past_jobs.sights import Counts, PastJob
from service.trade.strength.shop_history import KeptJob, Lesson


@dataclass(frozen=True)
class Known:
    """A job with its readings, or with what is kept of it; ``sha256``: of what was read."""

    sha256: str
    job: PastJob | KeptJob


def as_text(known: Mapping[UUID, Known]) -> str:
    """Return what is kept of some jobs."""
    kept = {str(key): (one.sha256, one.job) for key, one in known.items() if isinstance(one.job, KeptJob)}
    return canonical({key: [sha256, job.name, _told(job.lesson)] for key, (sha256, job) in kept.items()})


def lessons_kept(row: KeptHistory) -> tuple[tuple[float, ...], dict[UUID, Known]]:
    """Return where all jobs were fitted together, and what is kept of each."""
    jobs = json.loads(row.jobs).items()
    return tuple(json.loads(row.about)), {
        UUID(key): Known(sha256, KeptJob(name, _lesson(told))) for key, (sha256, name, told) in jobs
    }


def digests(known: Mapping[UUID, Known]) -> dict[UUID, str]:
    """Return by job a digest of what was read of it."""
    return {key: one.sha256 for key, one in known.items()}


def _told(lesson: Lesson | None) -> object:
    if lesson is None:
        return None
    return [astuple(lesson.counts), lesson.rows.tolist(), lesson.sums.tolist(), lesson.turns.tolist()]


def _lesson(told: list[list[float]] | None) -> Lesson | None:
    if told is None:
        return None
    counts, rows, sums, turns = told
    compares, *others = (int(one) for one in counts)
    return Lesson(Counts(bool(compares), *others), np.array(rows), np.array(sums), np.array(turns))
