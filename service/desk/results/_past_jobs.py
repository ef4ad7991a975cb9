"""The shop's jobs as its history takes them: each read once, and again after the trail tells of an act that touched it.

What is known of them stands in the process, begun from what the last night kept in the database: a job that nobody
touched since is not read at all.
"""

import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import Caller
from service.desk.results import _engine
from service.desk.results._imported import IMPORTED, imported_groups
from service.desk.results._kept_lessons import Known, lessons_kept
from service.desk.results._readings import ReadBlock, read_blocks
from service.desk.results._scales import Scales
from service.records import audit_log, imports, kept_history, presses, result_queries
from service.trade.strength.estimate_result import Group
from service.trade.strength.past_jobs.sights import PastJob
from service.trade.strength.shop_history import KeptJob, lessons

# Own rule: older jobs tell of other soils and other hands, and a night has an end however old the shop is.
MOST_JOBS = 2000
AT_ONCE = 25
# An act about one of these changes no reading of a crushed block. About a job, recipe, batch, block, crushing or
# session at the press it may, of that job; about anything else, such as a gauge, of every job.
_CHANGES_NONE = frozenset({
    "archive_run", "attempt", "closed_day", "criterion_check", "customer", "device", "import_file", "issued_result",
    "label_stock", "mail", "material", "message", "moisture_can", "moisture_trial", "offer", "opening_hours",
    "own_band", "own_criterion", "person", "photo", "preparation", "price", "prior", "receipt", "soil_test", "ticket",
    "trial_block", "turn", "unfinished",
})  # fmt: skip
# With more acts than these since, reading all anew is no more work than asking what each was about.
_MANY_ACTS = 20_000


@dataclass(frozen=True)
class Jobs:
    """What is known of the shop's jobs, as the trail stood.

    ``names``: of those that count now, the oldest first; ``own``: which of them are no imported ones; ``about``: where
    they were last fitted together.
    """

    trail: tuple[int, str] = (0, "")
    about: tuple[float, ...] = ()
    known: Mapping[UUID, Known] = field(default_factory=dict)
    names: Mapping[UUID, str] = field(default_factory=dict)
    own: frozenset[UUID] = frozenset()

    @property
    def told(self) -> list[PastJob | KeptJob]:
        """What is known of every job."""
        return [self.known[key].job for key in self.names]

    @property
    def sha256(self) -> str:
        """A digest of which they are and what was read of them."""
        return hashlib.sha256("".join(f"{key}{self.known[key].sha256}" for key in self.names).encode()).hexdigest()

    @property
    def as_read(self) -> list[PastJob]:
        """Those whose readings are at hand."""
        return [job for job in self.told if isinstance(job, PastJob)]

    def unread(self, *, whole: bool) -> list[UUID]:
        """Return the jobs of which nothing is known; ``whole``: of which the readings are not at hand."""
        kinds = (PastJob,) if whole else (PastJob, KeptJob)
        return [key for key in self.names if key not in self.known or not isinstance(self.known[key].job, kinds)]

    def fitted(self, about: tuple[float, ...]) -> "Jobs":
        """Return them after all were fitted together, each as what is to be kept of it."""
        kept = zip(self.names, lessons(self.as_read, about), strict=True)
        return replace(self, about=about, known={key: Known(self.known[key].sha256, job) for key, job in kept})


def jobs_now(session: Session, known: Jobs) -> Jobs:
    """Return the jobs that count now, with what is still known of them."""
    jobs = _untouched(session, known)
    newest = [(key, str(number)) for key, number in result_queries.crushed_jobs(session, most=MOST_JOBS)][::-1]
    imported = imports.counting_jobs(session, most=MOST_JOBS - len(newest))
    names = {key: f"{name} ({IMPORTED})" for key, name in imported} | dict(newest)
    known_still = {key: one for key, one in jobs.known.items() if key in names}
    return replace(jobs, known=known_still, names=names, own=frozenset(key for key, _ in newest))


def read(session: Session, caller: Caller, jobs: Jobs, *, whole: bool, go_on: Callable[[], bool]) -> tuple[Jobs, str]:
    """Return the same jobs, read as far as time goes, and a sentence where it was too short.

    ``whole``: those that are only kept are read as well.
    """
    known, unread = dict(jobs.known), jobs.unread(whole=whole)
    for begin in range(0, len(unread), AT_ONCE):
        if begin and not go_on():
            done = len(jobs.names) - len(unread) + begin
            return replace(
                jobs, known=known
            ), f"{done} of {len(jobs.names)} jobs are read so far. Look again in a moment."
        for key, groups in groups_of(session, caller, jobs, unread[begin : begin + AT_ONCE]).items():
            known[key] = Known(digest_of(groups), PastJob(jobs.names[key], groups))
    return replace(jobs, known=known), ""


def digest_of(groups: tuple[Group, ...]) -> str:
    """Return a digest of what was read of a job."""
    return hashlib.sha256(repr(groups).encode()).hexdigest()


def groups_of(session: Session, caller: Caller, jobs: Jobs, keys: Sequence[UUID]) -> dict[UUID, tuple[Group, ...]]:
    """Return some jobs as the engine takes them."""
    own = [key for key in keys if key in jobs.own]
    found = _own_groups(session, caller, own) if own else {}
    return found | imported_groups(session, [key for key in keys if key not in jobs.own])


def _untouched(session: Session, known: Jobs) -> Jobs:
    """Return what is still so: without the jobs that an act touched since, all of them if it cannot be told which."""
    head, then = audit_log.head_and(session, known.trail[0])
    if then != known.trail[1]:
        # Another database, or nothing is known yet.
        row = kept_history.kept(session)
        if row is None or row.engine != _engine.ENGINE:
            return Jobs(trail=head)
        known = Jobs((row.trail_position, row.trail_sha256), *lessons_kept(row))
    if known.trail == head:
        return known
    touched = _touched(session, audit_log.subjects_since(session, known.trail[0], most=_MANY_ACTS))
    if touched is None:
        return Jobs(trail=head)
    return replace(known, trail=head, known={key: one for key, one in known.known.items() if key not in touched})


def _touched(session: Session, subjects: Mapping[str, set[UUID]] | None) -> set[UUID] | None:
    """Return the jobs that some acts touched; None: all."""
    if subjects is None:
        return None
    telling = {kind: ids for kind, ids in subjects.items() if kind not in _CHANGES_NONE}
    if telling.keys() - {"job", *result_queries.BELONGS}:
        return None
    return telling.pop("job", set()) | result_queries.jobs_that_own(session, telling)


def _own_groups(session: Session, caller: Caller, jobs: Sequence[UUID]) -> dict[UUID, tuple[Group, ...]]:
    tried, recipes = result_queries.tried_blocks_of(session, jobs)
    gauges = {one.standing.gauge.id for one in tried if one.standing and one.standing.gauge}
    blocks = read_blocks(
        tried,
        Scales(presses.calibrations_of(session, gauges), clock=caller.clock),
        labels={key: label for key, (label, _) in recipes.items()},
        moistures={},
    )
    by_job: dict[UUID, list[ReadBlock]] = {key: [] for key in jobs}
    for one, block in zip(tried, blocks, strict=True):
        by_job[recipes[one.batch.recipe_id][1]].append(block)
    return {key: _engine.groups_of(own) for key, own in by_job.items()}
