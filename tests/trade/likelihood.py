"""What the fit takes the readings of one recipe in one condition to say of its level and scatter, without any prior."""

from collections.abc import Sequence

import numpy as np

from service.trade.strength.censored_readings import Reading
from service.trade.strength.fit.cells import cells_of
from service.trade.strength.fit.logs import Array
from service.trade.strength.fit.sites import hard_of

# So fine that no two edges count as one and every graduation as coarse.
_FINE = 1e-9


def log_likelihood(readings: Sequence[Reading], *, mu: Array, sigma: float) -> Array:
    """Return the log likelihood at levels ``mu``, up to a constant."""
    cells = cells_of({(0, 0, 0): readings}, shape=(1, 1, 1), scatter=[_FINE])
    count, mean, squares = (float(one[0, 0, 0]) for one in (cells.count, cells.mean, cells.squares))
    total: Array = -count * np.log(sigma) - (squares + count * (mean - mu) ** 2) / (2 * sigma**2)
    if not cells.hard:
        return total
    found: Array = total + hard_of(cells.hard).log_mass(mu[None, None, None, :], np.full((1, 1, 1, 1), sigma)).ravel()
    return found
