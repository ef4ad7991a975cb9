"""The library of the normal integrals, loaded when the first curve is fitted: it is slow to load."""

from functools import cache
from typing import Any


@cache
def special() -> Any:
    """Return the functions of the normal distribution, of Student's t and of sums of exponentials."""
    from scipy import special as integrals

    return integrals
