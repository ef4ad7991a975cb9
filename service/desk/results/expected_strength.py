"""What the shop's own jobs teach of strength and scatter, and the owner's word that it counts from now on."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from threading import Lock
from time import perf_counter
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import OWNERS, Caller, Done, act, look
from service.desk.results import _engine
from service.desk.results._imported import imported_jobs
from service.desk.results._readings import ReadBlock, read_blocks
from service.desk.results._scales import Scales
from service.errors import Conflict, Invalid, Unsettled
from service.records import audit_log, presses, result_queries
from service.records import shop as records
from service.records.shop import Prior as AdoptedPrior
from service.trade.strength.estimate_result import Group, Settings
from service.trade.strength.prior import Prior
from service.trade.strength.shop_history import History, PastJob, learned

# A page keeps nobody waiting longer than this; what is worked out by then is kept for the next look.
LOOK_SECONDS = 8.0
# Own rule: older jobs tell of other soils and other hands, and a look has an end however old the shop is.
MOST_JOBS = 1000
_AT_ONCE, _KEPT_MOST, _LONG_RUN = 25, 8, 20
_kept: dict[tuple[tuple[PastJob, ...], Settings], History] = {}
# Jobs as they were read while the trail ended in this entry; whoever adds to it has them read again.
_as_read: tuple[str, dict[UUID, PastJob]] = ("", {})
_keeping = Lock()


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
    history = _kept.get((tuple(_past_jobs(session, caller)), present))
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
    end = perf_counter() + LOOK_SECONDS
    jobs = tuple(_past_jobs(session, caller, go_on=lambda: perf_counter() < end))
    found = _kept.get((jobs, present))
    if found is None:
        found = learned(
            jobs,
            present=present.prior,
            present_batch_sd=present.batch_sd,
            go_on=lambda: perf_counter() < end,
        )
        with _keeping:
            while len(_kept) >= _KEPT_MOST:
                _kept.pop(next(iter(_kept)))
            _kept[jobs, present] = found
    return found


def _past_jobs(session: Session, caller: Caller, *, go_on: Callable[[], bool] = lambda: True) -> list[PastJob]:
    """Return the newest jobs with a crushed block, oldest first; what was read when time is up is kept."""
    global _as_read
    newest = result_queries.crushed_jobs(session, most=MOST_JOBS)
    end = audit_log.head(session)[1]
    known = dict(_as_read[1]) if _as_read[0] == end else {}
    lacking = [(key, number) for key, number in newest if key not in known]
    for begin in range(0, len(lacking), _AT_ONCE):
        if begin and not go_on():
            raise Unsettled(f"{len(known)} of {len(newest)} jobs are read so far. Look again in a moment.")
        some = dict(lacking[begin : begin + _AT_ONCE])
        known |= {
            key: PastJob(str(some[key]), groups) for key, groups in _groups_of(session, caller, list(some)).items()
        }
        _as_read = (end, known)
    own = [known[key] for key, _ in reversed(newest) if known[key].groups]
    return [*imported_jobs(session)[: MOST_JOBS - len(own)], *own]


def _groups_of(session: Session, caller: Caller, jobs: Sequence[UUID]) -> dict[UUID, tuple[Group, ...]]:
    tried = result_queries.tried_blocks_of(session, jobs)
    recipes = result_queries.recipes_of(session, jobs)
    gauges = {one.standing.gauge.id for one in tried if one.standing and one.standing.gauge}
    blocks = read_blocks(
        tried,
        Scales(presses.calibrations_of(session, gauges), clock=caller.clock),
        labels={key: recipe.label for key, recipe in recipes.items()},
        moistures={},
    )
    by_job: dict[UUID, list[ReadBlock]] = {key: [] for key in jobs}
    for one, block in zip(tried, blocks, strict=True):
        by_job[recipes[one.batch.recipe_id].job_id].append(block)
    return {key: _engine.groups_of(own) for key, own in by_job.items()}


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
