"""Print how fast the strength engine answers: run it as a script; nothing here is collected as a test."""

import math
import resource
import statistics
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from service.trade.strength.engine.doubt import STRENGTH_TOLERANCE
from tests.trade.strength_jobs import answer_to, drawn_job
from tests.trade.test_strength_sampler import STEPS, at, compared, sampled

ROUNDS = 15
# So many times faster than the sampler the engine is to be at least.
FASTER = 150


def jobs() -> dict[str, tuple[dict[str, Any], int]]:
    """Return each job by what it is, with the milliseconds it may take."""
    small = drawn_job(1, recipes=4, conditions=2, blocks=5) | {"batch_sd": 0.05}
    outlived = drawn_job(1, recipes=4, conditions=2, blocks=5)
    outlived["groups"][0]["readings"] = [{"held_mpa": 5.0}] * 5
    large = drawn_job(2, recipes=12, conditions=3, blocks=10)
    large["limits"] += [
        {"name": "second", "condition": "c1", "statistic": "mean", "limit_mpa": 2.0, "blocks": 5},
    ]
    one = drawn_job(3, recipes=1, conditions=1, blocks=200)
    return {
        "4 recipes, 2 conditions, 5 readings": (small, 100),
        "the same, one group all held": (outlived, 200),
        "12 recipes, 3 conditions, 10 readings, limits in two": (large, 1000),
        "1 recipe, 200 readings": (one, 200),
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
    sigma, mu, _ = sampled(job, seed=1, steps=STEPS)
    took = time.process_time() - begun
    logs = [*mu.values(), *(np.log(values) for values in sigma.values())]
    noise = max(compared(0.0, values, at(level)).noise for values in logs for level in (0.05, 0.95))
    longer = (3 * noise / STRENGTH_TOLERANCE) ** 2
    return took * longer, math.ceil(STEPS * longer), noise


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
