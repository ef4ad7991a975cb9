"""All jobs side by side: what they come to together under some priors, and what each would say under others nearby."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from service.trade.strength.fit.logs import HEAVY_FROM, Array, Centred, Whole
from service.trade.strength.fit.tables import light_exp
from service.trade.strength.past_jobs.sights import Sight
from service.trade.strength.past_jobs.unknowns import Priors, numbers_of, with_numbers

# How far to each side a turn is taken: middles in standard deviations, logs of these as they are.
_ASIDE = 0.03


@dataclass(frozen=True)
class Together:
    """Sights side by side: ``under`` by job and node, ``sums`` by unknown and all nodes of all jobs."""

    under: Array
    sums: Array
    tails: Mapping[str, "_Tail"]

    def expected(self, priors: Priors) -> Array:
        """Return what the rows of each unknown in all jobs come to under some priors, and their squares."""
        found: Array = self.sums @ self._weights(priors).ravel()
        return found

    def by_job(self, priors: Priors) -> Array:
        """Return the same by job and number."""
        sums = self.sums.reshape(len(self.sums), *self.under.shape)
        found: Array = np.einsum("kjn,jn->jk", sums, self._weights(priors))
        return found

    def turns(self, priors: Priors) -> Array:
        """Return by job and number how it turns with each of the eight numbers of the priors."""
        at = numbers_of(priors)
        aside = np.array([one for prior in priors.values() for one in (_ASIDE * prior.sd, _ASIDE)])
        found: Array = np.stack(
            [
                (self.by_job(with_numbers(at + step)) - self.by_job(with_numbers(at - step))) / (2 * step[number])
                for number, step in enumerate(np.diag(aside))
            ],
            axis=2,
        )
        return found

    def _weights(self, priors: Priors) -> Array:
        """Return by job and node what it weighs under other priors; each job's weights sum to 1."""
        # Of the square of a difference: what is the same for all nodes of a job falls out with its sum.
        factors = [one for prior in priors.values() for one in (prior.middle / prior.sd**2, -0.5 / prior.sd**2)]
        log_weight = (np.array(factors) @ self.sums).reshape(self.under.shape)
        log_weight += self.under
        for name, tail in self.tails.items():
            tail.set_right(log_weight, priors[name])
        log_weight -= log_weight.max(axis=1, keepdims=True)
        weight = light_exp(log_weight)
        weight /= weight.sum(axis=1, keepdims=True)
        return weight


@dataclass(frozen=True)
class _Tail:
    """Values of one unknown by row and node, and which job each row belongs to."""

    values: Array
    jobs: Whole

    def set_right(self, log_weight: Array, prior: Centred) -> None:
        """Take for the few values far above the heavy tail instead of the normal one."""
        places = np.flatnonzero(self.values > prior.middle + HEAVY_FROM * prior.sd)
        rows, nodes = np.divmod(places, self.values.shape[1])
        far = self.values.ravel()[places]
        off = prior.log_density(far) + ((far - prior.middle) ** 2 / (2 * prior.sd**2) + np.log(prior.sd))
        np.add.at(log_weight, (self.jobs[rows], nodes), off)


def together(sights: Sequence[Sight]) -> Together:
    """Return sights side by side.

    Parameters
    ----------
    sights : Sequence[Sight]
        One at least.

    Returns
    -------
    Together
        In their order.

    Source
    ------
    computed-here : one matrix product for all.

    Examples
    --------
    >>> from service.trade.strength.past_jobs.sights import PastJob
    >>> from service.trade.strength.censored_readings import broke
    >>> from service.trade.strength.estimate_result import Group
    >>> one = PastJob("1", (Group("A", "dry", (broke(stress_mpa=3.0), broke(stress_mpa=3.2))),))
    >>> together([one.sight, one.sight]).under.shape
    (2, 256)
    """
    tails = {}
    for name in sights[0].tails:
        own = [sight.tails[name] for sight in sights]
        tails[name] = _Tail(np.concatenate(own), np.repeat(np.arange(len(own)), [len(one) for one in own]))
    sums = np.stack([sight.sums for sight in sights], axis=1)
    return Together(np.array([sight.under for sight in sights]), sums.reshape(len(sums), -1), tails)
