"""What is learned of all jobs together: four priors, each a middle and a standard deviation, as eight numbers."""

import math

import numpy as np

from service.trade.strength.fit.logs import Array, Centred
from service.trade.strength.prior import Prior

# What is learned, in order, and whether its prior is heavy far above (docs/model.md).
HEAVY = {"theta": False, "sigma": True, "tau": True, "beta": False}

Priors = dict[str, Centred]


def priors_of(prior: Prior, batch_sd: float) -> Priors:
    """Return what is believed of the four unknowns before any job.

    Parameters
    ----------
    prior : Prior
        Level, scatter, spread, and how much the difference between mixes differs.
    batch_sd : float
        The difference between mixes.

    Returns
    -------
    Priors
        On the log scale.

    Source
    ------
    strength-model

    Examples
    --------
    >>> [round(one.sd, 2) for one in priors_of(Prior(), 0.05).values()]
    [1.0, 0.5, 0.5, 0.6]
    """
    known = {
        "theta": (prior.median_mpa, prior.log_sd),
        "sigma": (prior.scatter, prior.scatter_log_sd),
        "tau": (prior.spread, prior.spread_log_sd),
        "beta": (batch_sd, prior.mixes_log_sd),
    }
    return {name: Centred(math.log(middle), sd, heavy=HEAVY[name]) for name, (middle, sd) in known.items()}


def prior_of(known: Priors) -> Prior:
    """Return the priors as every result takes them.

    Parameters
    ----------
    known : Priors
        On the log scale.

    Returns
    -------
    Prior
        The rest of it as published.

    Source
    ------
    strength-model

    Examples
    --------
    >>> round(prior_of(priors_of(Prior(), 0.05)).mixes, 3)
    0.05
    """
    theta, sigma, tau, beta = (known[name] for name in HEAVY)
    return Prior(
        math.exp(theta.middle), theta.sd, math.exp(sigma.middle), sigma.sd, math.exp(tau.middle), tau.sd,
        mixes=math.exp(beta.middle),
    )  # fmt: skip


def numbers_of(priors: Priors) -> Array:
    """Return middles, and logs of the standard deviations.

    Parameters
    ----------
    priors : Priors
        Four.

    Returns
    -------
    Array
        Eight numbers.

    Source
    ------
    computed-here : standard deviations as logs, so that a step cannot leave them below 0.

    Examples
    --------
    >>> numbers_of({"theta": Centred(1.0, 1.0)}).tolist()
    [1.0, 0.0]
    """
    return np.array([number for one in priors.values() for number in (one.middle, math.log(one.sd))])


def with_numbers(numbers: Array) -> Priors:
    """Return the priors of eight numbers.

    Parameters
    ----------
    numbers : Array
        As ``numbers_of`` returns them.

    Returns
    -------
    Priors
        Four.

    Source
    ------
    computed-here : the other way round.

    Examples
    --------
    >>> with_numbers(np.array([1.0, 0.0] * 4))["theta"]
    Centred(middle=1.0, sd=1.0, heavy=False)
    """
    rows = numbers.reshape(-1, 2).tolist()
    return {
        name: Centred(middle, math.exp(log_sd), heavy=heavy)
        for (name, heavy), (middle, log_sd) in zip(HEAVY.items(), rows, strict=True)
    }
