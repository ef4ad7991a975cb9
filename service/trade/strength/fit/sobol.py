"""Sobol points: few points that are even in every direction.

Our own lines, because the library's come with all of its statistics and take longer to load than a job to fit;
a test holds them against it.
"""

from functools import lru_cache

import numpy as np

from service.trade.strength.fit.logs import Array, point

_SEED, _BITS = 20_270_301, 30
# Polynomial and first direction numbers of each dimension after the first: Joe and Kuo, SIAM J. Sci. Comput. 30, 2008.
# fmt: off
_DIRECTIONS = (
    (3, (1,)),
    (7, (1, 3)),
    (11, (1, 3, 1)),
    (13, (1, 1, 1)),
    (19, (1, 1, 3, 3)),
    (25, (1, 3, 5, 13)),
    (37, (1, 1, 5, 5, 17)),
    (41, (1, 1, 5, 5, 5)),
    (47, (1, 1, 7, 11, 19)),
    (55, (1, 1, 5, 1, 1)),
    (59, (1, 1, 1, 3, 11)),
    (61, (1, 3, 5, 5, 31)),
    (67, (1, 3, 3, 9, 7, 49)),
    (91, (1, 1, 1, 15, 21, 21)),
    (97, (1, 3, 1, 13, 27, 49)),
    (103, (1, 1, 1, 15, 7, 5)),
    (109, (1, 3, 1, 15, 13, 25)),
    (115, (1, 1, 5, 5, 19, 61)),
    (131, (1, 3, 7, 11, 23, 15, 103)),
    (137, (1, 3, 7, 13, 13, 15, 69)),
    (143, (1, 1, 3, 13, 7, 35, 63)),
    (145, (1, 3, 5, 9, 1, 25, 53)),
    (157, (1, 3, 1, 13, 9, 35, 107)),
    (167, (1, 3, 1, 5, 27, 61, 31)),
    (171, (1, 1, 5, 11, 19, 41, 61)),
    (185, (1, 3, 5, 3, 3, 13, 69)),
    (191, (1, 1, 7, 13, 1, 19, 1)),
    (193, (1, 3, 7, 5, 13, 19, 59)),
    (203, (1, 1, 3, 9, 25, 29, 41)),
    (211, (1, 3, 5, 13, 23, 1, 55)),
    (213, (1, 3, 7, 3, 13, 59, 17)),
    (229, (1, 3, 1, 3, 5, 53, 69)),
    (239, (1, 1, 5, 5, 23, 33, 13)),
    (241, (1, 1, 7, 7, 1, 61, 123)),
    (247, (1, 1, 7, 9, 13, 61, 49)),
    (253, (1, 3, 3, 5, 3, 55, 33)),
    (285, (1, 3, 1, 15, 31, 13, 49, 245)),
    (299, (1, 3, 5, 15, 31, 59, 63, 97)),
    (301, (1, 3, 1, 11, 11, 11, 77, 249)),
)
# fmt: on
MOST_DIMENSIONS = len(_DIRECTIONS) + 1


@lru_cache(maxsize=64)
def normal_points(dimensions: int, many: int, seed: int) -> Array:
    """Return points of the standard normal in so many dimensions, one column a point.

    Parameters
    ----------
    dimensions : int
        At most 40.
    many : int
        A power of 2.
    seed : int
        Which of many alike designs.

    Returns
    -------
    Array
        By dimension and point; not to be written to.

    Source
    ------
    sobol : Joe and Kuo's numbers with a digital shift.

    Examples
    --------
    >>> normal_points(2, 4, 0).shape
    (2, 4)
    """
    whole = np.array([_row(number, many) for number in range(dimensions)])
    shift = np.random.default_rng([_SEED, seed]).integers(0, 1 << _BITS, size=(dimensions, 1))
    found = point(((whole ^ shift) + 0.5) / (1 << _BITS))
    found.flags.writeable = False
    return found


def _row(number: int, many: int) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    index = np.arange(many)
    found = np.zeros(many, dtype=np.int64)
    for bit, direction in enumerate(_directions(number, max(1, (many - 1).bit_length()))):
        found ^= np.where(index >> bit & 1, direction, 0)
    return found


def _directions(number: int, bits: int) -> list[int]:
    if not number:
        return [1 << (_BITS - 1 - i) for i in range(bits)]
    polynomial, first = _DIRECTIONS[number - 1]
    degree = polynomial.bit_length() - 1
    m = list(first)
    for i in range(degree, bits):
        new = m[i - degree] ^ (m[i - degree] << degree)
        for k in range(1, degree):
            if polynomial >> (degree - k) & 1:
                new ^= m[i - k] << k
        m.append(new)
    return [m[i] << (_BITS - 1 - i) for i in range(bits)]
