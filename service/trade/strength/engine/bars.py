"""How likely a recipe meets a limit, and all of them at once."""

import math
from dataclasses import dataclass

import numpy as np

from service.trade.strength.engine.grid import GroupGrid, Plane
from service.trade.strength.engine.normal import Array, below, soft_step
from service.trade.strength.engine.quantiles import spread_of

CHARACTERISTIC_SDS = 1.6449
_REACH = 4.2
_MOST_STEPS = 60


@dataclass(frozen=True)
class Bar:
    """All limits of one condition together, in logs: of the mean, the characteristic value, and each of ``blocks``."""

    mean: float = -math.inf
    characteristic: float = -math.inf
    each: float = -math.inf
    blocks: int = 0

    def joined(self, other: "Bar") -> "Bar":
        """Return both at once; several limits on each block speak of the same next blocks."""
        return Bar(
            mean=max(self.mean, other.mean),
            characteristic=max(self.characteristic, other.characteristic),
            each=max(self.each, other.each),
            blocks=max(self.blocks, other.blocks),
        )

    def floor(self, sigma: Array) -> Array:
        """Return what mu must reach for mean and characteristic value, for each sigma."""
        return np.maximum(self.mean - sigma**2 / 2, self.characteristic + CHARACTERISTIC_SDS * sigma)


@dataclass(frozen=True)
class Lattice:
    """Errors of scale and batches on one ladder of steps: what is said of a recipe is mu less both.

    ``errors`` are all sums; ``scale`` weighs those of the press, ``batch`` those of each recipe.
    """

    errors: Array
    scale: Array
    batch: tuple[Array, ...]

    def of_both(self, recipe: int) -> Array:
        """Return the weight of every sum of errors for one recipe."""
        both = np.convolve(self.scale, self.batch[recipe])
        spare = (len(self.errors) - len(both)) // 2
        return np.pad(both, spare)


def lattice(*, scale_sd: float, batch_sd: list[float], finest: float) -> Lattice:
    """Return a ladder fine enough for densities of deviation ``finest`` and for the wider of the errors.

    Parameters
    ----------
    scale_sd : float
        Error of the press on the log; 0 or more.
    batch_sd : list[float]
        Error of the mixes of each recipe on the log; 0 or more.
    finest : float
        Narrowest density that is to be met, on the log; above 0.

    Returns
    -------
    Lattice
        One step where there is no error.

    Source
    ------
    strength-model

    Examples
    --------
    >>> lattice(scale_sd=0.0, batch_sd=[0.0], finest=0.1).errors.tolist()
    [0.0]
    >>> ladder = lattice(scale_sd=0.05, batch_sd=[0.03], finest=0.1)
    >>> float(ladder.of_both(0).sum().round(9))
    1.0
    """
    widest = max(scale_sd, *batch_sd)
    if widest == 0:
        one = np.ones(1)
        return Lattice(np.zeros(1), one, tuple(one for _ in batch_sd))
    step = max(min(0.8 * widest, 0.9 * finest), widest * _REACH / _MOST_STEPS)
    scale = _bell(scale_sd, step)
    batch = tuple(_bell(sd, step) for sd in batch_sd)
    half = len(scale) // 2 + max(len(weights) // 2 for weights in batch)
    return Lattice(np.arange(-half, half + 1.0) * step, scale, batch)


def _bell(sd: float, step: float) -> Array:
    if sd == 0:
        return np.ones(1)
    if sd < 0.9 * step:
        # Three points with the right variance stand for a bell that the ladder is too coarse to show.
        side = sd**2 / (2 * step**2)
        return np.array([side, 1 - 2 * side, side])
    half = math.ceil(_REACH * sd / step)
    weight: Array = np.exp(-0.5 * (np.arange(-half, half + 1) * step / sd) ** 2)
    return weight / float(weight.sum())


def passing(grid: GroupGrid, bar: Bar, *, sigma: Array, errors: Array) -> Array:
    """Return the chance to meet ``bar`` at every (sigma, mu, error).

    Parameters
    ----------
    grid : GroupGrid
        mu of one group.
    bar : Bar
        What must be met.
    sigma : Array
        Scatter on the log, one a row of the grid; above 0.
    errors : Array
        Errors of press and mixes on the log.

    Returns
    -------
    Array
        Chances, sigma by mu by error.

    Source
    ------
    strength-model

    Examples
    --------
    One block that must reach 1 MPa, from mu of a scatter below to one above it:

    >>> grid = GroupGrid(0.0, np.array([[-0.1, 0.0, 0.1]]), np.ones((1, 3)), np.full((1, 3), 1 / 3))
    >>> bar = Bar(each=0.0, blocks=1)
    >>> passing(grid, bar, sigma=np.array([0.1]), errors=np.zeros(1)).round(4).ravel().tolist()
    [0.1587, 0.5, 0.8413]
    """
    log_strength = (grid.anchor + grid.mu)[:, :, None] - errors
    chance = np.ones_like(log_strength)
    if bar.mean > -math.inf or bar.characteristic > -math.inf:
        coarser = np.maximum(grid.step, errors[1] - errors[0] if len(errors) > 1 else 0.0)
        blur = np.broadcast_to(0.7 * coarser[:, None, None], log_strength.shape)
        over = log_strength - bar.floor(sigma)[:, None, None]
        chance, _ = soft_step(over, sd=np.zeros_like(blur), blur=blur)
    if bar.blocks:
        chance = chance * below((log_strength - bar.each) / sigma[:, None, None]) ** bar.blocks
    return chance


def assurance(grid: GroupGrid, bar: Bar, *, sigma: Array, error_sd: float, errors: Array, weights: Array) -> float:
    """Return the chance that one group meets ``bar``, whose limits are of one kind.

    Parameters
    ----------
    grid : GroupGrid
        mu of one group.
    bar : Bar
        What must be met.
    sigma : Array
        Scatter on the log, one a row of the grid; above 0.
    error_sd : float
        Error of press and mixes together on the log; 0 or more.
    errors, weights : Array
        The same as a ladder of steps.

    Returns
    -------
    float
        Chance from 0 to 1.

    Source
    ------
    strength-model

    Examples
    --------
    The mean of the three chances of ``passing``:

    >>> grid = GroupGrid(0.0, np.array([[-0.1, 0.0, 0.1]]), np.ones((1, 3)), np.full((1, 3), 1 / 3))
    >>> bar, one = Bar(each=0.0, blocks=1), np.ones(1)
    >>> round(assurance(grid, bar, sigma=np.array([0.1]), error_sd=0.0, errors=np.zeros(1), weights=one), 6)
    0.5
    """
    if bar.blocks:
        chance = passing(grid, bar, sigma=sigma, errors=errors) @ weights
        return float(np.sum(grid.joint * chance))
    shift = sigma**2 / 2 if bar.mean > -math.inf else -CHARACTERISTIC_SDS * sigma
    spread = spread_of(grid, shift=shift, sd=np.full_like(sigma, error_sd))
    limit = max(bar.mean, bar.characteristic) - grid.anchor
    mass, _ = spread.below(np.array([limit]))
    return 1 - float(mass[0])


def passing_at_nodes(plane: Plane, grid: GroupGrid, bar: Bar, *, errors: Array) -> Array:
    """Return the chance to meet ``bar`` at every kept node and error.

    Parameters
    ----------
    plane : Plane
        One condition.
    grid : GroupGrid
        One of its groups.
    bar : Bar
        What must be met.
    errors : Array
        Errors of press and mixes on the log.

    Returns
    -------
    Array
        Chances, kept nodes by errors.

    Source
    ------
    strength-model

    Examples
    --------
    Blocks of 3 MPa pass 0.5 MPa wherever the nodes lie:

    >>> from service.trade.strength.engine.frame import first_pass
    >>> from service.trade.strength.engine.job import job_of
    >>> from service.trade.strength.censored_readings import broke
    >>> from service.trade.strength.estimate import PASSES
    >>> from service.trade.strength.estimate_result import Group, Settings
    >>> job = job_of([Group("A", "dry", (broke(stress_mpa=3.0),) * 5)], (), {}, Settings())
    >>> posterior = first_pass(job, PASSES[0])
    >>> (plane,) = posterior.planes
    >>> table = passing_at_nodes(plane, plane.groups[0], Bar(mean=math.log(0.5)), errors=np.zeros(1))
    >>> bool(table.min() > 0.99)
    True
    """
    table = passing(grid, bar, sigma=np.exp(plane.log_sigma), errors=errors)
    found = np.empty((len(plane.node_weight), len(errors)))
    for row, begin, end in plane.rows():
        found[begin:end] = plane.given(grid, row, begin, end) @ table[row]
    return found
