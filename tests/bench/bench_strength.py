"""Print how fast the strength engine answers: run it as a script; nothing here is collected as a test."""

import resource
import statistics
import sys
import time
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.trade.strength_jobs import answer_to, drawn_job

ROUNDS = 15


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
        "1 recipe, 200 readings": (one, 100),
    }


def main() -> None:
    """Print the median wall and processor time of every job."""
    for name, (job, most_ms) in jobs().items():
        answer_to(job)
        wall, busy = [], []
        for _ in range(ROUNDS):
            begun, worked = time.perf_counter(), time.process_time()
            answer_to(job)
            wall.append(time.perf_counter() - begun)
            busy.append(time.process_time() - worked)
        sys.stdout.write(
            f"{name}: {1000 * statistics.median(wall):.0f} ms, {1000 * statistics.median(busy):.0f} ms of one core "
            f"(at most {most_ms} ms)\n"
        )
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    sys.stdout.write(f"peak memory: {peak_mb:.0f} MB (at most 250 MB)\n")


if __name__ == "__main__":
    main()
