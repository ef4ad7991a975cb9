"""How strong a soil is with 8 % cement, from its fines and its liquid limit, before a block of it was pressed.

ln strength = a + b (fines - mean) + c (liquid limit - mean) + e, fitted to seven soils with weak priors:
a ~ N(ln 2, 1), b ~ N(0, 1), c ~ N(0, 2), e ~ N(0, 0.4^2). What a soil is told by this stays wide: to the error of a
soil about the line come 0.4 for press, compaction, cement and age, which the table does not share with a shop.
"""

import math
from dataclasses import dataclass

import numpy as np

from service.trade.strength.content_curve.cells import OFFSET
from service.trade.strength.fit.logs import Array
from service.trade.validation import refuse

AT_SHARE = 0.08
_OFF, _ELSEWHERE = 0.4, 0.4
_PRIOR_SD = np.array([1.0, 1.0, 2.0])
_PSI_PER_MPA = 145.0377
# Share below 0.075 mm (silt and clay), liquid limit, and soaked strength at 7 days with 8 % cement in psi: Davidson and
# others, as compiled by Gajurel and others 2020 (tests/reference/soilcement.csv has the strengths). Second-hand.
_SOILS = np.array(
    [
        (0.056, 0.190, 235.0),
        (1.000, 0.510, 260.0),
        (0.936, 0.548, 160.0),
        (0.825, 0.871, 280.0),
        (0.293, 0.189, 571.2),
        (0.996, 0.308, 320.0),
        (0.685, 0.424, 320.0),
    ]
)


@dataclass(frozen=True)
class Level:
    """Strength with 8 % cement: median in MPa, and how far it may be off, on the log."""

    median_mpa: float
    log_sd: float

    def at_middle_of(self, low: float, high: float, *, slope: float, bend: float) -> float:
        """Return the median strength at the middle, in logs, of two shares, along the curve of docs/model.md."""
        first, last = math.log(low + OFFSET), math.log(high + OFFSET)
        x = math.log(AT_SHARE + OFFSET) - (first + last) / 2
        return self.median_mpa * math.exp(-(slope * x + bend * x**2))


def soil_level(*, fines: float | None, liquid_limit: float | None) -> Level:
    """Return how strong a soil is with 8 % cement, from what was tested of it.

    Parameters
    ----------
    fines : float or None
        Share below 0.075 mm, 0 to 1; None: not tested, taken as that of the seven soils.
    liquid_limit : float or None
        As a fraction of dry mass, 0 to 2; None: not tested.

    Returns
    -------
    Level
        Of a soil like that.

    Raises
    ------
    Invalid
        If a number is out of its range.

    Source
    ------
    content-slope : seven of its soils, fitted here.

    Examples
    --------
    >>> level = soil_level(fines=None, liquid_limit=None)
    >>> round(level.median_mpa, 1), round(level.log_sd, 1)
    (2.0, 0.6)
    """
    faults = {"soil.fines": "From 0 to 1."} if fines is not None and not 0 <= fines <= 1 else {}
    if liquid_limit is not None and not 0 <= liquid_limit <= 2:
        faults["soil.liquid_limit"] = "From 0 to 2."
    if faults:
        refuse(faults)
    middle = _SOILS[:, :2].mean(axis=0)
    at = np.array([middle[0] if fines is None else fines, middle[1] if liquid_limit is None else liquid_limit])
    design = np.column_stack([np.ones(len(_SOILS)), _SOILS[:, :2] - middle])
    read: Array = np.log(_SOILS[:, 2] / _PSI_PER_MPA) - math.log(2.0)
    precision = design.T @ design / _OFF**2 + np.diag(1 / _PRIOR_SD**2)
    told = np.linalg.solve(precision, design.T @ read / _OFF**2)
    asked = np.concatenate([[1.0], at - middle])
    variance = float(asked @ np.linalg.solve(precision, asked)) + _OFF**2 + _ELSEWHERE**2
    return Level(2.0 * math.exp(float(asked @ told)), math.sqrt(variance))
