"""What the shop's own jobs teach of strength and scatter, and the owner's word that it counts from now on."""

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from threading import Lock
from time import perf_counter

from sqlmodel import Session

from service.desk.doorway import OWNERS, Caller, Done, act, look
from service.desk.results import _engine
from service.desk.results._kept_lessons import as_text, digests, lessons_kept
from service.desk.results._past_jobs import MOST_JOBS, Jobs, digest_of, groups_of, jobs_now, read
from service.errors import Conflict, Invalid, Unsettled
from service.records import kept_history
from service.records import shop as records
from service.records.base import canonical
from service.records.shop import Prior as AdoptedPrior
from service.trade.strength.estimate_result import Settings
from service.trade.strength.prior import Prior
from service.trade.strength.shop_history import History, learned, learned_more

# A page keeps nobody waiting longer than this; what is worked out by then is known at the next look.
LOOK_SECONDS = 8.0
# An act keeps those waiting who write.
_ACT_SECONDS = 0.5
_FOUND_MOST, _LONG_RUN = 8, 20
_found: dict[tuple[str, Settings], History] = {}
_jobs = Jobs()
_turn = Lock()


@dataclass(frozen=True)
class PriorView:
    """What is assumed now and since when, and what would be adopted, or why there is nothing to adopt."""

    present: Settings
    adopted_at: datetime | None
    rests_on: str | None
    history: History | None
    because: str
    unfinished: bool = False
    most_jobs: int = MOST_JOBS

    @property
    def would_rest_on(self) -> str:
        """The jobs by number, as every result made with it will say."""
        return _numbers(self.history.jobs) if self.history else ""


@dataclass(frozen=True)
class Fitted:
    """All jobs fitted together, as it is kept."""

    trail_position: int
    trail_sha256: str
    engine: str
    about: str
    jobs: str


@look("prior.compare", by=OWNERS)
def compared(session: Session, caller: Caller) -> PriorView:
    """Return the present prior beside what all the shop's jobs teach."""
    adopted = records.prior(session)
    present = _engine.settings_of(adopted, (), assurance=caller.shop.assurance, margin=caller.shop.margin)
    history, because, unfinished = None, "", False
    try:
        history = _worked_out(session, caller, present)
    except (Invalid, Unsettled) as refusal:
        because, unfinished = refusal.sentence, isinstance(refusal, Unsettled)
    return PriorView(
        present=present,
        adopted_at=adopted.adopted_at if adopted else None,
        rests_on=adopted.rests_on if adopted else None,
        history=history,
        because=because,
        unfinished=unfinished,
    )


@act("prior.adopt", by=OWNERS)
def adopt(session: Session, caller: Caller, *, seen_rests_on: str) -> Done:
    """Let what the shop's jobs teach count for every result from now on; it was worked out when it was looked at."""
    adopted = records.prior(session)
    present = _engine.settings_of(adopted, (), assurance=caller.shop.assurance, margin=caller.shop.margin)
    # Nothing is worked out here: whoever writes meanwhile would wait for it.
    jobs, too_short = read(session, caller, jobs_now(session, _jobs), whole=False, go_on=_until(_ACT_SECONDS))
    history = None if too_short else _found.get((jobs.sha256, present))
    if history is None:
        raise Conflict("The shop's jobs have changed since. Reload the page and check the values before you use them.")
    rests_on = _numbers(history.jobs)
    if rests_on != seen_rests_on:
        raise Conflict("Other jobs have readings now than when you looked. Look again before adopting.")
    if caller.person_id is None:
        raise Invalid("Only a person adopts a prior.")
    prior = history.prior
    row = AdoptedPrior(
        adopted_at=caller.stores.clock(),
        adopted_by=caller.person_id,
        median_mpa=prior.median_mpa,
        log_sd=prior.log_sd,
        scatter=prior.scatter,
        scatter_log_sd=prior.scatter_log_sd,
        spread=prior.spread,
        spread_log_sd=prior.spread_log_sd,
        batch_sd=history.batch_sd,
        rests_on=rests_on,
    )
    session.add(row)
    session.flush()
    return Done("prior", row.id, {"rests_on": rests_on, **_six_of(prior), "batch_sd": history.batch_sd})


def _worked_out(session: Session, caller: Caller, present: Settings) -> History:
    """Return what all jobs together teach: from what is kept of them, or all fitted together again."""
    go_on = _until(LOOK_SECONDS)
    with _turn:
        jobs = _read(session, caller, jobs_now(session, _jobs), whole=False, go_on=go_on)
        key = jobs.sha256, present
        if key not in _found:
            found = jobs.about and learned_more(
                jobs.told, about=jobs.about, present=present.prior, present_batch_sd=present.batch_sd, go_on=go_on
            )
            while len(_found) >= _FOUND_MOST:
                _found.pop(next(iter(_found)))
            _found[key] = found or _fitted(session, caller, jobs, present, go_on)
        return _found[key]


def _fitted(session: Session, caller: Caller, jobs: Jobs, present: Settings, go_on: Callable[[], bool]) -> History:
    """Return what all jobs teach, fitted together, and know from now on what is to be kept of each."""
    global _jobs
    jobs = _read(session, caller, jobs, whole=True, go_on=go_on)
    found = learned(jobs.as_read, present=present.prior, present_batch_sd=present.batch_sd, go_on=go_on)
    _jobs = jobs.fitted(found.about)
    return found


def _read(session: Session, caller: Caller, jobs: Jobs, *, whole: bool, go_on: Callable[[], bool]) -> Jobs:
    """Return the jobs read; what was read when time is up is known at the next look."""
    global _jobs
    _jobs, too_short = read(session, caller, jobs, whole=whole, go_on=go_on)
    if too_short:
        raise Unsettled(too_short)
    return _jobs


def _until(seconds: float) -> Callable[[], bool]:
    end = perf_counter() + seconds
    return lambda: perf_counter() < end


@look("prior.overnight", by=OWNERS)
def overnight(session: Session, caller: Caller) -> Fitted | None:
    """Return all jobs read anew and fitted together, to be kept; None where they are as kept, or too few."""
    global _jobs
    row, adopted = kept_history.kept(session), records.prior(session)
    unread = replace(jobs_now(session, Jobs()), known={})
    jobs, _ = read(session, caller, unread, whole=True, go_on=lambda: True)
    if row is not None and row.engine == _engine.ENGINE and digests(lessons_kept(row)[1]) == digests(jobs.known):
        return None
    present = _engine.settings_of(adopted, (), assurance=caller.shop.assurance, margin=caller.shop.margin)
    try:
        found = learned(jobs.as_read, present=present.prior, present_batch_sd=present.batch_sd)
    except Invalid:
        return None
    _jobs = jobs.fitted(found.about)
    return Fitted(*_jobs.trail, _engine.ENGINE, canonical(_jobs.about), as_text(_jobs.known))


@act("prior.keep", by=OWNERS, replayed=False, trailed=False)
def keep(session: Session, caller: Caller, *, fitted: Fitted) -> Done:
    """Keep all jobs as they were fitted together, for every process."""
    row = kept_history.KeptHistory(**asdict(fitted))
    kept_history.keep(session, row)
    return Done("kept_history", row.id)


@look("prior.not_as_read", by=OWNERS)
def not_as_read(session: Session, caller: Caller) -> list[str]:
    """Return the jobs of which what is kept is not of their readings as they stand, by number."""
    now = jobs_now(session, Jobs())
    return [
        now.known[key].job.name
        for key, groups in groups_of(session, caller, now, list(now.known)).items()
        if now.known[key].sha256 != digest_of(groups)
    ]


def _numbers(jobs: Sequence[str]) -> str:
    """Return job numbers as text: long runs by their ends."""
    runs: list[list[str]] = []
    for number in jobs:
        # A job out of an old table has a name of its own.
        numbered = number.isdecimal() and bool(runs) and runs[-1][-1].isdecimal()
        if numbered and int(number) == int(runs[-1][-1]) + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    told = [f"{run[0]}–{run[-1]}" if len(run) >= _LONG_RUN else ", ".join(run) for run in runs]
    return ", ".join(told)


def _six_of(prior: Prior) -> dict[str, float]:
    """Return what of a prior is kept: level, scatter and spread."""
    names = ("median_mpa", "log_sd", "scatter", "scatter_log_sd", "spread", "spread_log_sd")
    return {name: getattr(prior, name) for name in names}
