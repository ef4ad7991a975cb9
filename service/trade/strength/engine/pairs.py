"""How two recipes of one condition compare: the ratio of their medians, by characteristic functions."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.trade.strength.engine.grid import GroupGrid, Plane
from service.trade.strength.engine.normal import Array
from service.trade.strength.engine.quantiles import HIGH, LOW, MIDDLE

ComplexArray = NDArray[np.complex128]

_POINTS = 2048
_MOST_FREQUENCIES = 700


@dataclass(frozen=True)
class Ratio:
    """Ratio of two medians with 5 and 95 % points, and the chances of more, less and the same."""

    ratio: float
    low: float
    high: float
    more: float
    less: float


@dataclass(frozen=True)
class _Span:
    """Where mu of one group lies: its middle over the anchor, its ends from the middle, its finest step of weight."""

    anchor: float
    middle: float
    low: float
    high: float
    step: float

    @property
    def centre(self) -> float:
        """Return the middle as a log strength."""
        return self.anchor + self.middle


def ratios(plane: Plane, *, batch_sd: dict[int, float], margin: float) -> dict[tuple[int, int], Ratio]:
    """Return the ratio a/b of every two groups of a condition, by their numbers (a before b).

    Parameters
    ----------
    plane : Plane
        One condition.
    batch_sd : dict[int, float]
        Error of the mixes of each group on the log; 0 or more.
    margin : float
        From which ratio above 1 one is more than the other; 0 or more.

    Returns
    -------
    dict[tuple[int, int], Ratio]
        Empty with fewer than two groups.

    Source
    ------
    strength-model

    Examples
    --------
    Five blocks of 4 MPa beside five of 2 MPa, drawn together a little by the prior:

    >>> from service.trade.strength.engine.frame import first_pass
    >>> from service.trade.strength.engine.job import job_of
    >>> from service.trade.strength.censored_readings import broke
    >>> from service.trade.strength.estimate import PASSES
    >>> from service.trade.strength.estimate_result import Group, Settings
    >>> groups = [Group(name, "dry", (broke(stress_mpa=mpa),) * 5) for name, mpa in (("A", 4.0), ("B", 2.0))]
    >>> job = job_of(groups, (), {}, Settings())
    >>> posterior = first_pass(job, PASSES[0])
    >>> found = ratios(posterior.planes[0], batch_sd={0: 0.05, 1: 0.05}, margin=0.1)[0, 1]
    >>> 1.9 < found.ratio < 2.0, found.more > 0.99
    (True, True)
    """
    groups = sorted(plane.groups)
    if len(groups) < 2:
        return {}
    spans = {group: _span(plane, plane.groups[group]) for group in groups}
    wave = _frequencies(list(spans.values()), sorted(batch_sd[group] for group in groups))
    together = _together(plane, spans, wave)
    # The difference between mixes is apart from all else, so that its function is a factor.
    mixes = np.stack([np.exp(-0.5 * (wave * batch_sd[group]) ** 2) for group in groups], axis=1)
    together *= mixes[:, :, None] * mixes[:, None, :]
    found = {}
    for i, a in enumerate(groups):
        for j in range(i + 1, len(groups)):
            found[a, groups[j]] = _ratio(together[:, i, j], wave, spans[a], spans[groups[j]], margin)
    return found


def _span(plane: Plane, grid: GroupGrid) -> _Span:
    # Over the anchor throughout, lest a needle far narrower than its place be lost in rounding.
    middle = float(np.sum(grid.mu * grid.joint) / np.sum(grid.joint))
    off = (grid.mu - middle)[grid.joint > 1e-6 * np.max(grid.joint)]
    heavy = plane.sigma_weight > 1e-4 * np.max(plane.sigma_weight)
    return _Span(grid.anchor, middle, float(np.min(off)), float(np.max(off)), float(np.min(grid.step[heavy])))


def _frequencies(spans: list[_Span], batch_sd: list[float]) -> Array:
    """Return angular frequencies 0, w, 2w, ...: so close that no pair wraps round, so high that no edge is lost."""
    low = sorted(span.low for span in spans)
    high = sorted((span.high for span in spans), reverse=True)
    period = max(high[0] - low[1], high[1] - low[0]) * 2 + 8 * batch_sd[-1]
    highest = math.pi / min(span.step for span in spans)
    smoothing = math.hypot(batch_sd[0], batch_sd[1])
    if smoothing > 0:
        highest = min(highest, 5.0 / smoothing)
    count = math.ceil(highest * period / (2 * math.pi))
    return np.arange(float(np.clip(count, 8, _MOST_FREQUENCIES)) + 1) * (2 * math.pi / period)


def _together(plane: Plane, spans: dict[int, _Span], wave: Array) -> ComplexArray:
    """Return the characteristic function of the difference of every two groups: frequencies by groups by groups."""
    together = np.zeros((len(wave), len(spans), len(spans)), dtype=complex)
    # A sigma at a time, for many frequencies of many groups at all nodes would fill the memory.
    for row, begin, end in plane.rows():
        heard = np.stack(
            [_transform(plane, plane.groups[group], span, wave, (row, begin, end)) for group, span in spans.items()],
            axis=1,
        )
        together += np.matmul(heard * plane.node_weight[begin:end], np.conj(np.swapaxes(heard, 1, 2)))
    return together


def _transform(plane: Plane, grid: GroupGrid, span: _Span, wave: Array, nodes: tuple[int, int, int]) -> ComplexArray:
    """Return the characteristic function of mu about its middle at the nodes of one sigma: frequencies by nodes."""
    row, begin, end = nodes
    heard = np.zeros((len(wave), end - begin), dtype=complex)
    # Above half a turn a step a grid hears its own echo and no longer the density.
    heeded = int(np.searchsorted(wave, math.pi / grid.step[row]))
    turn = np.exp(1j * wave[1] * (grid.mu[row] - span.middle))
    turns = np.multiply.accumulate(np.broadcast_to(turn, (heeded - 1, len(turn))), axis=0)
    given = plane.given(grid, row, begin, end).T
    heard[0] = 1
    heard.real[1:heeded] = turns.real @ given
    heard.imag[1:heeded] = turns.imag @ given
    return heard


def _ratio(heard: ComplexArray, wave: Array, a: _Span, b: _Span, margin: float) -> Ratio:
    centre = a.centre - b.centre
    period = 2 * math.pi / wave[1]
    middle = (a.low - b.high + a.high - b.low) / 2
    start = middle - period / 2
    at = start + np.arange(_POINTS + 1) * (period / _POINTS)
    turned = heard[1:] * np.exp(-1j * wave[1:] * start) / (-1j * wave[1:])
    tall = np.zeros(_POINTS // 2 + 1, dtype=complex)
    tall[1 : len(turned) + 1] = np.conj(turned)
    wavy = np.fft.irfft(tall, _POINTS) * _POINTS / period
    mass = np.append(wavy - wavy[0], 0.0) + np.arange(_POINTS + 1) / _POINTS
    mass = np.maximum.accumulate(np.clip(mass, 0, 1))
    low, ratio, high = (float(np.exp(centre + np.interp(level, mass, at))) for level in (LOW, MIDDLE, HIGH))
    step = math.log1p(margin) - centre
    more = 1 - float(np.interp(step, at, mass))
    less = float(np.interp(-math.log1p(margin) - centre, at, mass))
    return Ratio(ratio, low, high, more, less)
