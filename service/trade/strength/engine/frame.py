"""What a pass covers: first all that the survey saw, then only where the pass before found weight."""

import numpy as np

from service.trade.strength.engine.evidence import Evidence
from service.trade.strength.engine.grid import Frame, Posterior, Resolution, integrate
from service.trade.strength.engine.job import Job
from service.trade.strength.engine.normal import Array
from service.trade.strength.engine.survey import Survey, Window, survey

_DROP = 12.0
_WHOLE = Window(0.0, 1.0)


def first_frame(seen: Survey, evidence: Evidence) -> Frame:
    """Return a frame of all that the survey saw.

    Parameters
    ----------
    seen : Survey
        What the survey saw.
    evidence : Evidence
        The readings.

    Returns
    -------
    Frame
        Windows of tau and sigma as seen, of theta and mu whole.

    Source
    ------
    strength-model

    Examples
    --------
    >>> from service.trade.strength.engine.job import job_of
    >>> from service.trade.strength.censored_readings import broke
    >>> from service.trade.strength.estimate_result import Group, Settings
    >>> job = job_of([Group("A", "dry", (broke(stress_mpa=3.0),) * 5)], (), {}, Settings())
    >>> seen = survey(job.evidence, job.prior)
    >>> first_frame(seen, job.evidence).mu
    (Window(low=0.0, high=1.0),)
    """
    return Frame(
        tau=seen.tau_window,
        sigma=seen.sigma_windows,
        theta=(_WHOLE,) * evidence.conditions,
        mu=(_WHOLE,) * evidence.groups,
    )


def first_pass(job: Job, fine: Resolution) -> Posterior:
    """Return what one pass over all that the survey saw finds.

    Parameters
    ----------
    job : Job
        Readings and prior.
    fine : Resolution
        How many nodes the pass has.

    Returns
    -------
    Posterior
        Of tau, and of sigma, theta and mu by condition.

    Raises
    ------
    Unsettled
        If the survey found no end to a range.

    Source
    ------
    strength-model

    Examples
    --------
    >>> from service.trade.strength.engine.job import job_of
    >>> from service.trade.strength.censored_readings import broke
    >>> from service.trade.strength.engine.grid import PASSES
    >>> from service.trade.strength.estimate_result import Group, Settings
    >>> job = job_of([Group("A", "dry", (broke(stress_mpa=3.0),) * 5)], (), {}, Settings())
    >>> len(first_pass(job, PASSES[0]).planes)
    1
    """
    seen = survey(job.evidence, job.prior)
    return integrate(job.evidence, job.prior, seen, first_frame(seen, job.evidence), fine)


def next_frame(posterior: Posterior, frame: Frame) -> Frame:
    """Return the frame of the next pass.

    Parameters
    ----------
    posterior : Posterior
        Of the pass before.
    frame : Frame
        What that pass covered.

    Returns
    -------
    Frame
        Where the pass before found weight; a step more where it had not fallen at an edge.

    Source
    ------
    strength-model

    Examples
    --------
    >>> from service.trade.strength.engine.job import job_of
    >>> from service.trade.strength.censored_readings import broke
    >>> from service.trade.strength.engine.grid import PASSES
    >>> from service.trade.strength.estimate_result import Group, Settings
    >>> job = job_of([Group("A", "dry", (broke(stress_mpa=3.0),) * 5)], (), {}, Settings())
    >>> wide = first_frame(survey(job.evidence, job.prior), job.evidence)
    >>> narrow = next_frame(first_pass(job, PASSES[0]), wide)
    >>> narrow.mu[0].high - narrow.mu[0].low <= 1.0
    True
    """
    mu = {number: grid.joint.max(axis=0) for plane in posterior.planes for number, grid in plane.groups.items()}
    return Frame(
        tau=_trimmed(frame.tau, posterior.tau_weight),
        sigma=tuple(
            _trimmed(window, plane.sigma_weight) for window, plane in zip(frame.sigma, posterior.planes, strict=True)
        ),
        theta=tuple(
            _trimmed(window, plane.theta_profile) for window, plane in zip(frame.theta, posterior.planes, strict=True)
        ),
        mu=tuple(_trimmed(window, mu[number]) for number, window in enumerate(frame.mu)),
    )


def _trimmed(window: Window, weight: Array) -> Window:
    """Return the part of a window in which the log weight is near its top; a step more where it has not fallen."""
    at = window.nodes(len(weight))
    log_weight = np.log(np.maximum(weight, 1e-290))
    height = log_weight - np.max(log_weight) + _DROP
    inside = np.flatnonzero(height > 0)
    return Window(_end(at, height, int(inside[0]), -1), _end(at, height, int(inside[-1]), 1))


def _end(at: Array, height: Array, last: int, side: int) -> float:
    beyond = last + side
    if not 0 <= beyond < len(at):
        return float(at[last] + side * (at[1] - at[0]))
    share = height[last] / (height[last] - height[beyond])
    return float(at[last] + share * (at[beyond] - at[last]))
