"""Leave out what was measured and predict it, beside simpler ways: tables go to docs/holdout.md.

Run as `python -m tests.holdout`; it takes a minute. Nothing is drawn by chance.
"""

import csv
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy import stats

from service.trade.strength.censored_readings import broke
from service.trade.strength.content_curve.cells import Row
from service.trade.strength.content_curve.curve_prior import CurvePrior
from service.trade.strength.estimate import strength
from service.trade.strength.estimate_result import Group
from service.trade.strength.stabiliser_content import content

REFERENCE = Path(__file__).parent / "reference"
DOCS = Path(__file__).parent.parent / "docs"
MPA_PER_PSI = 0.0068947572931684
NINETY = 3.2897
LEAST_MPA = 0.05

PAGE = """# Left out and predicted

Made by `python -m tests.holdout`. What was measured is left out, predicted from the rest, and compared.
*Bias* is the mean of ln(predicted / measured), *error* the mean of its size, *log score* the mean log density of
ln strength (higher is better), and *90 %* how often the 90 % interval held the measured value.

## Soil-cement, one share left out

{soils} soils, {rows} means at three or four cement contents (Davidson and others, compiled by Gajurel and others 2020;
second-hand). Each mean is left out in turn and predicted from the other means of its own soil. The simpler ways have no
scatter to go by with two or three points; each is given the scatter of its own errors on the other soils.

{shares}

`work content` takes each mean as one block, with its published priors; its interval is the one of the next block. A
mean scatters less than a block: the second line tells it a scatter of {mean:.2f}, that of a mean of three. The slope
prior comes from the same compilation, so that the soils are not wholly new to it. Between tested shares a straight line
does as well or better on these soils; at the ends it does not.

## A later mix

One laminate in five conditions, three batches (CMH-17, example of 8.3.11.1.1; second-hand). Five blocks a condition
of one batch, or three a condition of each of two, predict the mean of a batch that was left out: {means} means in all.

{batches}

"t by group" takes mean and scatter of each condition alone, "pooled spread" one scatter for all conditions. Neither
knows that a batch has a level of its own. The engine of 2026-11-28 took how much mixes differ as known (batch_sd 0.05);
it was run once, and its line is kept by hand.
"""
HEAD = "| | bias | error | log score | 90 % |\n| --- | ---: | ---: | ---: | ---: |"

# Worked out with the engine of 2026-11-28, before the second edition; it is gone from the tree.
BEFORE = "| engine of 2026-11-28 | +0.002 | 0.052 | +1.28 | 0.87 |"
# A mean of three blocks that scatter by 0.15 scatters by this much.
OF_A_MEAN = 0.15 / math.sqrt(3)


@dataclass(frozen=True)
class Guess:
    """A prediction of ln strength: its middle, its standard deviation and degrees of freedom of its tails."""

    middle: float
    sd: float
    freedom: float = math.inf

    def score(self, truth: float) -> tuple[float, float, bool]:
        """Return error, log density, and whether the 90 % interval holds the truth."""
        z = (truth - self.middle) / self.sd
        tails = stats.norm if math.isinf(self.freedom) else stats.t(self.freedom)
        return self.middle - truth, float(tails.logpdf(z)) - math.log(self.sd), bool(abs(z) <= tails.ppf(0.95))


def read(name: str) -> list[dict[str, str]]:
    """Return the rows of a reference table."""
    lines = (REFERENCE / name).read_text().splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def soils() -> dict[str, list[tuple[float, float]]]:
    """Return share and strength in MPa of every mean, soil by soil."""
    found: dict[str, list[tuple[float, float]]] = {}
    for row in read("soilcement.csv"):
        point = float(row["cement_pct"]) / 100, float(row["soaked_7d_psi"]) * MPA_PER_PSI
        found.setdefault(row["soil"], []).append(point)
    return found


Points = Sequence[tuple[float, float]]


def straight(points: Points, share: float) -> float:
    """Return ln strength on a straight line of strength on share."""
    slope, level = np.polyfit(*zip(*points, strict=True), 1)
    return math.log(max(LEAST_MPA, slope * share + level))


def in_logs(points: Points, share: float) -> float:
    """Return ln strength on a straight line of ln strength on ln share."""
    slope, level = np.polyfit(*np.log(np.array(points)).T, 1)
    return float(slope * math.log(share) + level)


def nearest(points: Points, share: float) -> float:
    """Return ln strength on the line through the two nearest shares on either side, or at the end."""
    below = [one for one in points if one[0] < share][-1:]
    above = [one for one in points if one[0] > share][:1]
    pair = [*below, *above] if below and above else (points[:2] if not below else points[-2:])
    return straight(pair, share)


SIMPLE: dict[str, Callable[[Points, float], float]] = {
    "straight line in share": straight,
    "line in logs": in_logs,
    "interpolated": nearest,
}


def shares_left_out() -> dict[str, list[tuple[bool, tuple[float, float, bool]]]]:
    """Return for each way every score, and whether the share lay between tested ones."""
    cases = [
        (soil, share, math.log(strength_mpa), [one for one in points if one[0] != share], 0 < n < len(points) - 1)
        for soil, points in soils().items()
        for n, (share, strength_mpa) in enumerate(points)
    ]
    found = {}
    for name, way in SIMPLE.items():
        errors = [(soil, way(rest, share) - truth) for soil, share, truth, rest, _ in cases]
        sd = {
            soil: math.hypot(*(own := [e for other, e in errors if other != soil])) / math.sqrt(len(own))
            for soil, _ in errors
        }
        found[name] = [
            (inner, Guess(way(rest, share), sd[soil]).score(truth)) for soil, share, truth, rest, inner in cases
        ]
    for name, prior in CONTENTS.items():
        found[name] = [(inner, by_content(rest, share, prior).score(truth)) for _, share, truth, rest, inner in cases]
    return found


CONTENTS = {
    "`work content`": CurvePrior(),
    "`work content`, told of means": CurvePrior(scatter=OF_A_MEAN),
}


def by_content(points: Points, share: float, prior: CurvePrior) -> Guess:
    """Return what the service says of the next block at a share."""
    rows = [Row(one, "soaked", (broke(stress_mpa=strength_mpa),)) for one, strength_mpa in points]
    said = content(rows, at=[share], prior=prior).at[0]
    assert said.next_low_mpa and said.next_high_mpa
    return _between(said.next_low_mpa, said.next_high_mpa)


def _between(low_mpa: float, high_mpa: float) -> Guess:
    low, high = math.log(low_mpa), math.log(high_mpa)
    return Guess((low + high) / 2, (high - low) / NINETY)


Batches = dict[str, dict[str, list[float]]]


def batches() -> Batches:
    """Return ln strength by condition and batch."""
    found: Batches = {}
    for row in read("batches.csv"):
        by_batch = found.setdefault(row["condition"], {})
        by_batch.setdefault(row["batch"], []).append(math.log(float(row["strength_ksi"])))
    return found


def later_mixes() -> Iterator[tuple[Batches, str]]:
    """Yield what a shop would have crushed, and the batch that was left out."""
    whole = batches()
    for left_out in ("1", "2", "3"):
        others = [one for one in ("1", "2", "3") if one != left_out]
        for taken, blocks in (([others[0]], 5), ([others[1]], 5), (others, 3)):
            yield {c: {b: by[b][:blocks] for b in taken} for c, by in whole.items()}, left_out


def t_by_group(crushed: Batches, condition: str) -> Guess:
    """Return Student's t of the condition's own blocks."""
    mine = [value for batch in crushed[condition].values() for value in batch]
    return Guess(float(np.mean(mine)), float(np.std(mine, ddof=1)) / math.sqrt(len(mine)), len(mine) - 1)


def pooled(crushed: Batches, condition: str) -> Guess:
    """Return Student's t with one scatter for all conditions."""
    groups = [[value for batch in by.values() for value in batch] for by in crushed.values()]
    freedom = sum(len(one) - 1 for one in groups)
    sd = math.sqrt(sum(float(np.var(one)) * len(one) for one in groups) / freedom)
    mine = [value for batch in crushed[condition].values() for value in batch]
    return Guess(float(np.mean(mine)), sd / math.sqrt(len(mine)), freedom)


def by_engine(crushed: Batches, condition: str) -> Guess:
    """Return what `work strength` says of the recipe, all its mixes taken together."""
    said = _said(tuple((c, tuple(by), tuple(tuple(v) for v in by.values())) for c, by in crushed.items()))
    low, high = said[condition]
    return _between(low, high)


def _said(
    crushed: tuple[tuple[str, tuple[str, ...], tuple[tuple[float, ...], ...]], ...],
) -> dict[str, tuple[float, float]]:
    groups = [
        Group("A", condition, tuple(broke(stress_mpa=math.exp(v)) for batch in by for v in batch), len(names))
        for condition, names, by in crushed
    ]
    return {
        one.condition: (one.low_mpa or 0.0, one.high_mpa or 0.0)
        for part in (groups[:3], groups[3:])
        for one in strength(part).groups
    }


WAYS = {"t by group": t_by_group, "pooled spread": pooled, "engine of today": by_engine}


def mixes_left_out() -> dict[str, list[tuple[float, float, bool]]]:
    """Return for each way every score of the mean of a batch that was left out."""
    whole = batches()
    return {
        name: [
            way(crushed, condition).score(float(np.mean(whole[condition][left_out])))
            for crushed, left_out in later_mixes()
            for condition in whole
        ]
        for name, way in WAYS.items()
    }


def row(name: str, scores: Sequence[tuple[float, float, bool]]) -> str:
    """Return one line of a table."""
    errors, logs, held = (np.array(column, dtype=float) for column in zip(*scores, strict=True))
    return f"| {name} | {errors.mean():+.3f} | {np.abs(errors).mean():.3f} | {logs.mean():+.2f} | {held.mean():.2f} |"


def make() -> None:
    """Write the page."""
    by_share, by_batch = shares_left_out(), mixes_left_out()
    tables = []
    for title, kept in (
        ("Between tested shares", (True,)),
        ("At the ends, outside the rest", (False,)),
        ("All", (True, False)),
    ):
        lines = [row(name, [score for inner, score in scores if inner in kept]) for name, scores in by_share.items()]
        count = sum(inner in kept for inner, _ in next(iter(by_share.values())))
        tables.append("\n".join([f"### {title}: {count} means\n", HEAD, *lines]))
    page = PAGE.format(
        soils=len(soils()),
        rows=sum(len(points) for points in soils().values()),
        mean=OF_A_MEAN,
        shares="\n\n".join(tables),
        means=len(next(iter(by_batch.values()))),
        batches="\n".join([HEAD, *(row(name, scores) for name, scores in by_batch.items()), BEFORE]),
    )
    (DOCS / "holdout.md").write_text(page)


if __name__ == "__main__":
    make()
