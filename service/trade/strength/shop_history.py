"""What a shop's own jobs teach of strength, scatter and mixes before a job: the priors, re-estimated.

Every job is looked at once under a wide prior; other priors then only weigh its nodes anew, so that the marginal
likelihood of all jobs together is climbed by expectation and maximisation in closed steps. Near where all were fitted
together a job is kept as what it comes to there and how that turns with the priors: one more job then costs its own
look. Held blocks stay "at least" throughout.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from service.errors import Invalid, Unsettled
from service.trade.strength.fit.logs import Array
from service.trade.strength.past_jobs.climbing import Climb
from service.trade.strength.past_jobs.sights import Counts, PastJob, Sight
from service.trade.strength.past_jobs.together import together
from service.trade.strength.past_jobs.unknowns import Priors, numbers_of, prior_of, priors_of, with_numbers
from service.trade.strength.prior import Prior

# Our own rule: with fewer jobs the spread of what differs from job to job is guesswork.
FEWEST_JOBS = 8
FEWEST_MIXED_RECIPES = 8
# Own rule: so many standard errors the priors may move before all jobs are fitted together again. They are reckoned as
# if each job's unknowns were read off without error, and are thus smaller than the true ones.
FARTHEST = 1.0

# So many jobs say about where to look among more.
_SOME = 128


@dataclass(frozen=True)
class Lesson:
    """What one job comes to where all were fitted together, and how that turns with the priors.

    ``sums``: for each unknown its rows summed up as expected, and their squares; ``turns``: by each of these and each
    of the eight numbers of the priors; ``rows``: how many rows each unknown has.
    """

    counts: Counts
    rows: Array
    sums: Array
    turns: Array


@dataclass(frozen=True)
class KeptJob:
    """A job of which only its lesson is kept; None where it teaches nothing."""

    name: str
    lesson: Lesson | None


@dataclass(frozen=True)
class History:
    """What all jobs together teach, and which of it they were enough for; ``about``: the same as eight numbers."""

    prior: Prior
    batch_sd: float
    jobs: tuple[str, ...]
    left_aside: tuple[str, ...]
    blocks: int
    held: int
    spread_jobs: int
    mixed_recipes: int
    about: tuple[float, ...] = ()


def learned(
    jobs: Sequence[PastJob], *, present: Prior, present_batch_sd: float, go_on: Callable[[], bool] = lambda: True
) -> History:
    """Return the priors under which the shop's jobs together are most likely.

    Parameters
    ----------
    jobs : Sequence[PastJob]
        All jobs with a crushed block.
    present : Prior
        What stands now; its spread stays where fewer than eight jobs compare two recipes.
    present_batch_sd : float
        The present difference between mixes; it stays where fewer than eight recipes were mixed twice.
    go_on : Callable[[], bool]
        Asked between jobs whether there is time for another; what was worked out of a job is kept for the next call.

    Returns
    -------
    History
        Standard deviations of logarithms are never below 0.25 (strength) and 0.20 (scatter, spread), and the
        difference between mixes lies from 0.01 to 0.5; how much it differs from job to job stays as published.

    Raises
    ------
    Invalid
        If fewer than eight jobs have two standing blocks of one recipe in one condition.
    Unsettled
        If the time was up before all jobs were worked through.

    Source
    ------
    own-rule : the least numbers and the floors; the rest is marginal likelihood under the strength model.

    Examples
    --------
    >>> learned([], present=Prior(), present_batch_sd=0.05)
    Traceback (most recent call last):
    service.errors.Invalid: The shop's own history needs 8 jobs with two blocks of one recipe; there are 0.
    """
    seen = [(job.name, job.sight) for job in _in_time(jobs, go_on)]
    sights = [sight for _, sight in seen if sight]
    climb, known = _start([(one.counts, one.rows) for one in sights], present, present_batch_sd)
    some = sights[:: len(sights) // _SOME] if len(sights) > 2 * _SOME else []
    for few in (some, sights):
        if few:
            part = Climb(_rows([one.rows for one in few]), spread=climb.spread, mixes=climb.mixes)
            known = part.top(together(few).expected, known)
    return _history(climb, known, present_batch_sd, [(name, sight.counts if sight else None) for name, sight in seen])


def lessons(jobs: Sequence[PastJob], about: Sequence[float]) -> tuple[KeptJob, ...]:
    """Return what to keep of each job, once all were fitted together.

    Parameters
    ----------
    jobs : Sequence[PastJob]
        All of them.
    about : Sequence[float]
        Where they were fitted: ``History.about``.

    Returns
    -------
    tuple[KeptJob, ...]
        In their order.

    Source
    ------
    computed-here : the first two terms of what each job comes to; its turns by differences to both sides.

    Examples
    --------
    >>> lessons([PastJob("1", ())], [0.0] * 8)
    (KeptJob(name='1', lesson=None),)
    """
    teach = [(job.name, job.sight) for job in jobs if job.sight]
    if not teach:
        return tuple(KeptJob(job.name, None) for job in jobs)
    known, all_of_them = with_numbers(np.array(about)), together([sight for _, sight in teach])
    rows = zip(teach, all_of_them.by_job(known), all_of_them.turns(known), strict=True)
    taught = iter([Lesson(sight.counts, sight.rows, sums, turns) for (_, sight), sums, turns in rows])
    return tuple(KeptJob(job.name, next(taught) if job.sight else None) for job in jobs)


def learned_more(
    jobs: Sequence[PastJob | KeptJob],
    *,
    about: Sequence[float],
    present: Prior,
    present_batch_sd: float,
    go_on: Callable[[], bool] = lambda: True,
) -> History | None:
    """Return what ``learned`` would of the same jobs, of which most are kept as lessons.

    Parameters
    ----------
    jobs : Sequence[PastJob | KeptJob]
        In order; those that came or changed since all were fitted together are looked at.
    about : Sequence[float]
        Where they were: ``History.about`` of that time.
    present, present_batch_sd, go_on
        As in ``learned``.

    Returns
    -------
    History or None
        None where the priors have moved by more than a standard error of theirs: the lessons do not reach so far, and
        all jobs are to be fitted together again.

    Raises
    ------
    Invalid, Unsettled
        As ``learned``.

    Source
    ------
    own-rule : one standard error, reckoned as if every unknown of a job were read off without error.

    Examples
    --------
    >>> learned_more([KeptJob("1", None)], about=[0.0] * 8, present=Prior(), present_batch_sd=0.05)
    Traceback (most recent call last):
    service.errors.Invalid: The shop's own history needs 8 jobs with two blocks of one recipe; there are 0.
    """
    fresh = {job.name: job.sight for job in _in_time([job for job in jobs if isinstance(job, PastJob)], go_on)}
    known_jobs = [(job.name, job.lesson if isinstance(job, KeptJob) else fresh[job.name]) for job in jobs]
    taught = [one for _, one in known_jobs if one]
    climb, known = _start([(one.counts, one.rows) for one in taught], present, present_batch_sd)
    kept = [one for one in taught if isinstance(one, Lesson)]
    if not kept:
        return None
    sums, turns = np.sum([one.sums for one in kept], axis=0), np.sum([one.turns for one in kept], axis=0)
    looked_at = [one for one in taught if isinstance(one, Sight)]
    more, middle = together(looked_at) if looked_at else None, np.array(about)

    def expected(priors: Priors) -> Array:
        near: Array = sums + turns @ (numbers_of(priors) - middle)
        return near + more.expected(priors) if more else near

    begin = with_numbers(middle)
    stays = {name: known[name] for name, learns in (("tau", climb.spread), ("beta", climb.mixes)) if not learns}
    found = climb.top(expected, begin | stays)
    if np.any(np.abs(numbers_of(found) - middle) > FARTHEST * _standard_errors(found, climb.rows)):
        return None
    told = [(name, one.counts if one else None) for name, one in known_jobs]
    return _history(climb, found, present_batch_sd, told)


def _in_time(jobs: Sequence[PastJob], go_on: Callable[[], bool]) -> Iterator[PastJob]:
    for done, job in enumerate(jobs):
        if not go_on():
            raise Unsettled(f"{done} of {len(jobs)} jobs are done so far. Look again in a moment.")
        yield job


def _start(taught: Sequence[tuple[Counts, Array]], present: Prior, present_batch_sd: float) -> tuple[Climb, Priors]:
    """Return what can be learned of some jobs, and from where; refuse too few of them."""
    if len(taught) < FEWEST_JOBS:
        raise Invalid(
            f"The shop's own history needs {FEWEST_JOBS} jobs with two blocks of one recipe; there are {len(taught)}."
        )
    climb = Climb(
        _rows([rows for _, rows in taught]),
        spread=sum(counts.compares for counts, _ in taught) >= FEWEST_JOBS,
        mixes=sum(counts.mixed_recipes for counts, _ in taught) >= FEWEST_MIXED_RECIPES,
    )
    return climb, priors_of(present, present_batch_sd)


def _rows(each: Sequence[Array]) -> Array:
    found: Array = np.sum(each, axis=0)
    return found


def _standard_errors(priors: Priors, rows: Array) -> Array:
    """Return about how well the eight numbers are known: as if each row were read off without error."""
    many = np.maximum(rows, 1)
    return np.array(
        [one for prior, n in zip(priors.values(), many, strict=True) for one in (prior.sd / n**0.5, (2 * n) ** -0.5)]
    )


def _history(
    climb: Climb, known: Priors, present_batch_sd: float, jobs: Sequence[tuple[str, Counts | None]]
) -> History:
    prior, counts = prior_of(known), [one for _, one in jobs if one]
    return History(
        prior=prior,
        batch_sd=prior.mixes if climb.mixes else present_batch_sd,
        jobs=tuple(name for name, one in jobs if one),
        left_aside=tuple(name for name, one in jobs if not one),
        blocks=sum(one.blocks for one in counts),
        held=sum(one.held for one in counts),
        spread_jobs=sum(one.compares for one in counts),
        mixed_recipes=sum(one.mixed_recipes for one in counts),
        about=tuple(numbers_of(known).tolist()),
    )
