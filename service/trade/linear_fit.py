"""A straight line through measured points by ordinary least squares, with what it does not know."""

import math
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Line:
    """A fitted line ``y = intercept + slope x`` and what its uncertainty is made of."""

    slope: float
    intercept: float
    residual_sd: float
    r2: float | None
    points: int
    mean_x: float
    spread_x: float

    def at(self, x: float) -> float:
        """Return the line's value at ``x``."""
        return self.intercept + self.slope * x

    def uncertainty_at(self, x: float) -> float:
        """Return the standard uncertainty of the line itself at ``x``, scatter of a single reading left out."""
        return self.residual_sd * math.sqrt(1 / self.points + (x - self.mean_x) ** 2 / self.spread_x)


def fit_line(*, x: Sequence[float], y: Sequence[float]) -> Line:
    """Return the least-squares line of y on x.

    Parameters
    ----------
    x : Sequence[float]
        Three or more values, at least two of them different.
    y : Sequence[float]
        As many values as `x`.

    Returns
    -------
    Line
        Slope, intercept, residual standard deviation with n - 2 degrees of freedom, share of the
        scatter explained (None when y does not vary), and the sums its uncertainty needs.

    Raises
    ------
    ValueError
        If there are fewer than three points, or x and y differ in length.
    ZeroDivisionError
        If x does not vary.

    Source
    ------
    gum-h3 : the line and its standard uncertainty.

    Examples
    --------
    Points exactly on y = 1 + 2 x:

    >>> line = fit_line(x=[0, 1, 2], y=[1, 3, 5])
    >>> line.slope, line.intercept, line.residual_sd
    (2.0, 1.0, 0.0)
    """
    count = len(x)
    if count < 3:
        raise ValueError("A line with an uncertainty needs three points.")
    # Means from the first value on, so that equal values have exactly that mean and no scatter.
    mean_x, mean_y = (values[0] + math.fsum(value - values[0] for value in values) / count for values in (x, y))
    spread_x = math.fsum((value - mean_x) ** 2 for value in x)
    spread_y = math.fsum((value - mean_y) ** 2 for value in y)
    slope = math.fsum((a - mean_x) * (b - mean_y) for a, b in zip(x, y, strict=True)) / spread_x
    residuals = math.fsum((b - mean_y - slope * (a - mean_x)) ** 2 for a, b in zip(x, y, strict=True))
    return Line(
        slope=slope,
        intercept=mean_y - slope * mean_x,
        residual_sd=math.sqrt(residuals / (count - 2)),
        r2=1 - residuals / spread_y if spread_y > 0 else None,
        points=count,
        mean_x=mean_x,
        spread_x=spread_x,
    )
