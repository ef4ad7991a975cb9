"""What the shop's own jobs teach of strength and scatter, and the owner's word that it counts from now on."""

from dataclasses import dataclass
from datetime import datetime
from threading import Lock
from time import perf_counter
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import OWNERS, Caller, Done, act, look
from service.desk.results import _engine
from service.desk.results._readings import ReadBlock, read_blocks
from service.desk.results._scales import Scales
from service.errors import Conflict, Invalid, Unsettled
from service.records import presses, result_queries
from service.records import shop as records
from service.records.shop import Prior as AdoptedPrior
from service.trade.strength.estimate_result import Prior, Settings
from service.trade.strength.shop_history import History, PastJob, learned

# A page keeps nobody waiting longer than this; what is worked out by then is kept for the next look.
LOOK_SECONDS = 8.0
_KEPT_MOST = 8
_kept: dict[tuple[tuple[PastJob, ...], Settings], History] = {}
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

    @property
    def would_rest_on(self) -> str:
        """The jobs by number, as every result made with it will say."""
        return ", ".join(self.history.jobs) if self.history else ""


@look("prior.compare", by=OWNERS)
def compared(session: Session, caller: Caller) -> PriorView:
    """Return the present prior beside what all the shop's jobs teach."""
    adopted = records.prior(session)
    present = _engine.settings_of(adopted, (), assurance=caller.shop.assurance, margin=caller.shop.margin)
    history, because, unfinished = None, "", False
    try:
        history = _worked_out(tuple(_past_jobs(session, caller)), present)
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
    rests_on = ", ".join(history.jobs)
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


def _worked_out(jobs: tuple[PastJob, ...], present: Settings) -> History:
    found = _kept.get((jobs, present))
    if found is None:
        end = perf_counter() + LOOK_SECONDS
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


def _past_jobs(session: Session, caller: Caller) -> list[PastJob]:
    tried = result_queries.every_tried_block(session)
    known = result_queries.recipes_with_jobs(session)
    gauges = {one.standing.gauge.id for one in tried if one.standing and one.standing.gauge}
    blocks = read_blocks(
        tried,
        Scales(presses.calibrations_of(session, gauges), clock=caller.clock),
        labels={key: recipe.label for key, (recipe, _) in known.items()},
        moistures={},
    )
    by_job: dict[UUID, list[ReadBlock]] = {}
    numbers: dict[UUID, int] = {}
    for one, block in zip(tried, blocks, strict=True):
        job = known[one.batch.recipe_id][1]
        numbers[job.id] = job.number
        by_job.setdefault(job.id, []).append(block)
    return [
        PastJob(str(numbers[key]), groups)
        for key in sorted(by_job, key=lambda key: numbers[key])
        if (groups := _engine.groups_of(by_job[key]))
    ]


def _six_of(prior: Prior) -> dict[str, float]:
    """Return what of a prior is kept: level, scatter and spread."""
    names = ("median_mpa", "log_sd", "scatter", "scatter_log_sd", "spread", "spread_log_sd")
    return {name: getattr(prior, name) for name in names}
