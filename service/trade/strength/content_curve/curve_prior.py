"""What is believed of strength against stabiliser content before the first block: docs/model.md has every source."""

from dataclasses import dataclass

import numpy as np

from service.trade.strength.fit.logs import Array

# Normal in the middle; this many units above, the tail of Student's t with three degrees of freedom.
_HEAVY_FROM, _POWER = 3.5, 4.0


@dataclass(frozen=True)
class CurvePrior:
    """Medians and standard deviations on the log scale; a shop's own history may take the place of each.

    ``straight``: the curve runs along the quantity itself and not along the logarithm of a share of stabiliser.

    ``median_mpa`` and ``log_sd`` speak of the strength at the middle of the tested shares, ``slope`` and ``bend``
    of ln strength on x = ln(share + 0.5 %): slope at the middle, and the factor of x squared. ``scatter`` is between
    blocks of one mix, ``mixes`` between mixes of one share, ``off_curve`` how far a share lies off the curve in all
    conditions alike, and ``own_way`` how far it does so in one condition, where there are several.
    """

    median_mpa: float = 3.0
    log_sd: float = 1.0
    slope: float = 1.1
    slope_sd: float = 0.4
    bend: float = -0.25
    bend_sd: float = 0.25
    scatter: float = 0.15
    scatter_log_sd: float = 0.5
    off_curve: float = 0.10
    off_curve_log_sd: float = 0.5
    own_way: float = 0.12
    own_way_log_sd: float = 0.5
    mixes: float = 0.06
    mixes_log_sd: float = 0.6
    straight: bool = False


# Own assumptions, weak, without a published source: a tenth more sand changes strength by 10 % either way, and the
# middle of a range of 30 % lies within 13 % of the line of its ends; one percent more water changes it by 5 %, and the
# middle of a range of 4 % of water lies within 16 %.
ADDED_SAND = CurvePrior(slope=0.0, slope_sd=1.0, bend=0.0, bend_sd=6.0, straight=True)
WATER = CurvePrior(slope=0.0, slope_sd=5.0, bend=0.0, bend_sd=400.0, straight=True)


def log_heavy_above(z: Array) -> Array:
    """Return the log density of a spread, up to a constant: normal, and heavy far above.

    Parameters
    ----------
    z : Array
        Units above the middle.

    Returns
    -------
    Array
        One log density each.

    Source
    ------
    strength-model : where readings and prior contradict each other, the prior gives way.

    Examples
    --------
    >>> log_heavy_above(np.array([0.0, 1.0])).tolist()
    [-0.0, -0.5]
    """
    far = np.maximum(z, _HEAVY_FROM)
    found: Array = np.where(
        z > _HEAVY_FROM, -(_HEAVY_FROM**2) / 2 - _POWER * np.log(far / _HEAVY_FROM), -(np.minimum(z, far) ** 2) / 2
    )
    return found
