"""Print how fast the strength engine answers and write it down: ``python -m tests.bench.bench_strength``.

Processor time of one core, the least of some rounds: other work on the machine only adds to it.
"""

import math
import resource
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import emcee
import numpy as np

from service.trade.strength.past_jobs.sights import PastJob
from service.trade.strength.prior import Prior
from service.trade.strength.shop_history import History, KeptJob, learned, learned_more, lessons
from tests.trade.strength_jobs import answer_to, drawn_job
from tests.trade.test_history import simulated
from tests.trade.whole_model import WholeModel

ROUNDS, FEW_ROUNDS = 9, 3
REPORT = Path(__file__).resolve().parents[2] / "docs" / "strength_speed.md"
# So many times faster than the sampler the engine is to be at least.
FASTER = 500
STRENGTH_TOLERANCE, STEPS, WALKERS, BLOCKS = 0.005, 4_000, 80, 10
# Jobs of the shop, seconds they may take when none was looked at before.
HISTORIES = ((60, 3.0), (2_000, 60.0))
ONE_MORE_S, ANSWER_MB, HISTORY_MB = 0.05, 250, 500


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


def busy_s(work: Callable[[], Any], rounds: int = 1) -> float:
    """Return the least processor seconds of some rounds."""
    took = []
    for _ in range(rounds):
        begun = time.process_time()
        work()
        took.append(time.process_time() - begun)
    return min(took)


def peak_mb() -> float:
    """Return the most memory that this process had at once."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def row(name: str, found: float, most: float, unit: str) -> str:
    """Return one line of the table, and say it."""
    line = f"| {name} | {found:,.0f} {unit} | {most:,.0f} {unit} | {'' if found <= most else 'over'} |"
    say(line)
    return line


def answers() -> list[str]:
    """Return a line for each job."""
    rows = []
    for name, (job, most_ms) in jobs().items():
        answer_to(job)
        found = busy_s(lambda job=job: answer_to(job), FEW_ROUNDS if name.startswith("100") else ROUNDS)
        rows.append(row(name, 1000 * found, most_ms, "ms"))
    return [*rows, row("memory of all of these", peak_mb(), ANSWER_MB, "MB")]


def histories() -> list[str]:
    """Return a line for each history: none of its jobs looked at before, and one more, the least of some."""
    rows, seed = [], iter(range(5, 100))
    taught(simulated(8, seed=next(seed)))
    for many, most_s in HISTORIES:
        jobs = simulated(many + ROUNDS, seed=next(seed))
        cold = busy_s(lambda jobs=jobs, many=many: taught(jobs[:many]))
        rows.append(row(f"history of {many:,} jobs", 1000 * cold, 1000 * most_s, "ms"))
        about = taught(jobs[:many]).about
        kept = lessons(jobs[:many], about)
        more = [busy_s(lambda job=job, at=about, kept=kept: taught_more([*kept, job], at)) for job in jobs[many:]]
        rows.append(row("  one more job", 1000 * min(more), 1000 * ONE_MORE_S, "ms"))
    return [*rows, row("memory of all of these", peak_mb(), HISTORY_MB, "MB")]


def taught(jobs: list[PastJob]) -> History:
    """Learn from some jobs."""
    return learned(jobs, present=Prior(), present_batch_sd=0.05)


def taught_more(jobs: list[PastJob | KeptJob], about: tuple[float, ...]) -> None:
    """Learn from jobs that were kept and one that was not looked at before."""
    learned_more(jobs, about=about, present=Prior(), present_batch_sd=0.05)


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


def beside_sampler() -> list[str]:
    """Return what emcee takes for the first job, and how many times faster the engine is."""
    small = next(iter(jobs().values()))[0]
    engine_s = busy_s(lambda: answer_to(small), ROUNDS)
    sampler_s, steps, noise = sampler_seconds(small)
    times = sampler_s / engine_s
    lines = [
        f"A run of {STEPS:,} steps of emcee with {WALKERS} walkers leaves {100 * noise:.2f} % of noise in the ends of",
        f"strengths and scatters of the first of these jobs. {steps:,} steps and {sampler_s:,.0f} s are needed until",
        f"three standard errors are {100 * STRENGTH_TOLERANCE:g} %. The engine takes {1000 * engine_s:.0f} ms and is",
        f"{times:,.0f} times faster; at least {FASTER} are asked.",
    ]
    say("\n".join(lines))
    return lines


def main() -> None:
    """Measure, print and write docs/strength_speed.md."""
    head = ["| | takes | at most | |", "| --- | ---: | ---: | --- |"]
    text = [
        "# How fast the strength engine answers",
        "",
        "Made by `python -m tests.bench.bench_strength`. Processor time of one core; of an answer, warm, the least of",
        f"{ROUNDS} ({FEW_ROUNDS} of the largest). A job of a history has 36 blocks, of 3 recipes and 2 states; none",
        f"was looked at before; one more is the least of {ROUNDS}, each another job, beside what is kept of the",
        "others. The machine was busy with other work, which adds to processor time too.",
        "",
        *(*head, *answers(), *histories(), ""),
        "## Beside a sampler",
        "",
        *beside_sampler(),
        "",
    ]
    REPORT.write_text("\n".join(text))


if __name__ == "__main__":
    main()
