"""Numbers that run out of range end as a refusal, never as a figure."""

from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np

from service.errors import Unsettled

UNSETTLED = (
    "These readings do not fit the expected strength. Look for a wrong reading or unit, or calculate without it."
)


@contextmanager
def in_range() -> Iterator[None]:
    """Refuse what is worked out within where a number runs out of range.

    Returns
    -------
    Iterator[None]
        Nothing while what stands within is worked out.

    Raises
    ------
    Unsettled
        If a number runs out of range, a matrix cannot be solved, or too few nodes carry what is believed.

    Source
    ------
    computed-here : numpy's own signals.

    Examples
    --------
    >>> with in_range():
    ...     print(np.sqrt(np.array(4.0)))
    2.0
    """
    try:
        with np.errstate(over="raise", invalid="raise"):
            yield
    except (ArithmeticError, np.linalg.LinAlgError):
        raise Unsettled(UNSETTLED) from None
