"""Try in the long form whether the strength engine is as sure as it says; the tables go to docs/calibration.

Run as `python -m tests.calibrate [JOBS]`, 4,000 jobs in each world unless told otherwise. Seeds are the first
ones tried.
"""

import json
import math
import sys
from pathlib import Path

import numpy as np

from tests.trade.strength_jobs import answer_to, apart
from tests.trade.test_strength_sampler import KEPT, allowed, figures
from tests.trade.test_strength_simulated import QUANTITIES, WORLDS, inside

DOCS = Path(__file__).parent.parent / "docs" / "calibration"
BEFORE = json.loads((Path(__file__).parent / "reference" / "strength.json").read_text())
LONG_JOBS, ALLOWED = 4_000, 3.0
WHY = {
    "open-1": "recipe shared by dry and soaked; scatter by recipe",
    "open-2": "special case: one recipe, one condition, no mix named",
    "open-3": "recipe shared by dry and soaked; scatter by recipe",
    "open-4": "recipe shared by dry and soaked; scatter by recipe",
}

PAGE = """# Is the strength engine as sure as it says?

Made by `python -m tests.calibrate {jobs}`. The model is that of `docs/model.md`. Every seed is the first one tried.

## Coverage

{jobs:,} jobs drawn in each world: two or three recipes, one or two conditions, one or two named mixes of each recipe,
one to three blocks of a mix, a gauge read to 0.1 MPa and a press that ends at 6 MPa. How often the 90 % interval held
the true value; in brackets how many standard errors that is off, of which {allowed:g} are allowed.

| World | {quantities} |
| --- | {rules} |
{worlds}

A true scatter by recipe and a weak block now and then are not what the model believes; where an interval does not hold,
it is told here and not mended.

## Against a sampler

{sampled} jobs of `tests/reference/whole_model.json`. *Off* is the distance from the sampler's of the figure that comes
nearest to what is allowed, in percent of a strength, ratio or scatter or in hundredths of a probability, and beside it
the sampler's own standard error there. Allowed are five of these and 1, of the ends of a scatter 3.

| Job | Figures | Off | Sampler's error | |
| ---: | ---: | ---: | ---: | --- |
{sampler}

## Where the old model is a special case

`tests/reference/strength.json` holds answers of brute quadrature under the first edition's model. Its tolerance is
0.5 % of a strength or ratio and 0.005 of a probability; *furthest* is in units of it.

| Case | Furthest | Why |
| --- | ---: | --- |
{before}
"""


def main() -> int:
    """Draw the jobs, compare, write what came out."""
    jobs = int(sys.argv[1]) if len(sys.argv) > 1 else LONG_JOBS
    DOCS.mkdir(parents=True, exist_ok=True)
    text = PAGE.format(
        jobs=jobs, allowed=ALLOWED, quantities=" | ".join(QUANTITIES), rules=" | ".join("---" for _ in QUANTITIES),
        worlds="\n".join(_world(world, jobs) for world in WORLDS), sampled=len(KEPT["cases"]),
        sampler="\n".join(map(_sampled, KEPT["cases"])), before="\n".join(map(_before, BEFORE["cases"])),
    )  # fmt: skip
    (DOCS / "README.md").write_text(text)
    sys.stdout.write(text)
    return 0


def _world(world: str, jobs: int) -> str:
    trials = [inside(seed, world) for seed in range(jobs)]
    cells = []
    for quantity in QUANTITIES:
        seen = [trial[quantity] for trial in trials if quantity in trial]
        off = (np.mean(seen) - 0.90) / math.sqrt(0.90 * 0.10 / len(seen))
        cells.append(f"{np.mean(seen):.3f} ({off:+.1f}){'' if abs(off) <= ALLOWED else ' **does not hold**'}")
    return f"| {world} | {' | '.join(cells)} |"


def _sampled(case: dict) -> str:
    told, known = figures(case["inputs"]), case["expected"]
    worst = max(told, key=lambda name: abs(told[name] - known[name][0]) / allowed(case, name))
    off, noise = abs(told[worst] - known[worst][0]), known[worst][1]
    word = "holds" if off <= allowed(case, worst) else "**does not hold**"
    return f"| {case['kind']['seed']} | {len(told)} | {100 * off:.2f} | {100 * noise:.2f} | {word} |"


def _before(case: dict) -> str:
    told = answer_to(case["inputs"]).as_dict()
    off = [
        one for part in ("scatter", "groups", "limits", "pairs") for _, one in apart(told[part], case["expected"][part])
    ]
    return f"| {case['id']}: {case['what']} | {max(off):.1f} | {WHY[case['id']]} |"


if __name__ == "__main__":
    raise SystemExit(main())
