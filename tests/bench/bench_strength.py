"""Print how fast the strength engine answers: run it as a script; nothing here is collected as a test."""

import math
import resource
import statistics
import sys
import time
from pathlib import Path
from typing import Any

import emcee
import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.trade.strength_jobs import answer_to, drawn_job
from tests.trade.whole_model import WholeModel

ROUNDS = 15
# So many times faster than the sampler the engine is to be at least.
FASTER = 500
STRENGTH_TOLERANCE, STEPS, WALKERS, BLOCKS = 0.005, 4_000, 80, 10


def jobs() -> dict[str, tuple[dict[str, Any], int]]:
    """Return each job by what it is, with the milliseconds it may take."""
    outlived = drawn_job(1, recipes=4, conditions=2, blocks=5)
    outlived["groups"][0]["readings"] = [{"held_mpa": 5.0}] * 5
    return {
        "4 recipes, 2 conditions, 5 readings": (drawn_job(1, recipes=4, conditions=2, blocks=5), 60),
        "the same, one group all held": (outlived, 200),
        "12 recipes, 3 conditions, 10 readings": (drawn_job(2, recipes=12, conditions=3, blocks=10), 400),
        "100 recipes, 2 conditions, 5 readings": (drawn_job(2, recipes=100, conditions=2, blocks=5), 3000),
        "1 recipe, 200 readings": (drawn_job(3, recipes=1, conditions=1, blocks=200), 200),
    }


def say(line: str) -> None:
    """Write one line."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def timed(job: dict[str, Any]) -> tuple[float, float]:
    """Return the median wall and processor seconds of a warm answer."""
    answer_to(job)
    wall, busy = [], []
    for _ in range(ROUNDS):
        begun, worked = time.perf_counter(), time.process_time()
        answer_to(job)
        wall.append(time.perf_counter() - begun)
        busy.append(time.process_time() - worked)
    return statistics.median(wall), statistics.median(busy)


def sampler_seconds(job: dict[str, Any]) -> tuple[float, int, float]:
    """Return the processor seconds that emcee needs for the promised tolerance, its steps, and its noise as tried.

    A run of given length shows the noise of the 5 and 95 % points of strengths and scatters between blocks of steps.
    It falls with the root of the number of steps, so that the length follows at which three standard errors of the
    noisiest of these figures are the tolerance: with fewer some of the dozens of figures would lie beyond it.
    """
    begun = time.process_time()
    model, chance = WholeModel(job), np.random.default_rng(1)
    moves = [(emcee.moves.DEMove(), 0.7), (emcee.moves.StretchMove(), 0.3)]
    sampler = emcee.EnsembleSampler(WALKERS, len(model.names), model, vectorize=True, moves=moves)
    sampler.run_mcmc(model.start(chance, WALKERS), STEPS)
    chain = sampler.get_chain(discard=STEPS // 5)
    took = time.process_time() - begun
    logs = [chain[:, :, i] for i, name in enumerate(model.names) if name.startswith(("m ", "sigma"))]
    noise = max(_noise(values, level) for values in logs for level in (0.05, 0.95))
    longer = (3 * noise / STRENGTH_TOLERANCE) ** 2
    return took * longer, math.ceil(STEPS * longer), noise


def _noise(values: np.ndarray, level: float) -> float:
    blocks = [float(np.quantile(block, level)) for block in np.array_split(values, BLOCKS)]
    return float(np.std(blocks, ddof=1)) / math.sqrt(BLOCKS)


def main() -> int:
    """Print every measurement beside what is allowed; return how many are over."""
    over = 0
    for name, (job, most_ms) in jobs().items():
        wall, busy = timed(job)
        over += 1000 * min(wall, busy) > most_ms
        say(f"{name}: {1000 * wall:.0f} ms, {1000 * busy:.0f} ms of one core (at most {most_ms} ms)")
    # Measured before the sampler runs, which is no part of the engine.
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    over += peak_mb > 250
    say(f"peak memory: {peak_mb:.0f} MB (at most 250 MB)")
    small = next(iter(jobs().values()))[0]
    _, engine_s = timed(small)
    sampler_s, steps, noise = sampler_seconds(small)
    say(f"emcee on the first of these: {100 * noise:.2f} % of noise in {STEPS:,} steps")
    say(f"  {steps:,} steps and {sampler_s:.0f} s until three standard errors are 0.5 %; the engine takes")
    say(f"  {1000 * engine_s:.0f} ms and is {sampler_s / engine_s:.0f} times faster (at least {FASTER})")
    over += sampler_s / engine_s < FASTER
    return over


if __name__ == "__main__":
    raise SystemExit(main())
