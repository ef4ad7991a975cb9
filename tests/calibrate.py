"""Try in the long form whether the strength engine is as sure as it says; tables and pictures go to docs/calibration.

Run as `python -m tests.calibrate`; it takes some minutes. Seeds are the first ones tried.
"""

import math
import sys
from collections.abc import Mapping
from importlib.metadata import version
from pathlib import Path

import numpy as np
from scipy import stats

from tests.trade.test_strength_sampler import LONG_SEEDS, LONG_STEPS, WALKERS, Compared, comparisons
from tests.trade.test_strength_simulated import LONG_JOBS, ranked

DOCS = Path(__file__).parent.parent / "docs" / "calibration"
QUANTITIES = ("sigma", "strength", "characteristic", "next block")
INTERVALS = {"sigma": 0.90, "strength": 0.90, "next block": 0.90, "ratio": 0.90, "characteristic": 0.95}
BINS, LEVEL, ERRORS = 20, 0.05, 3.3
INK, QUIET, CARD, CLAY = "#2a231c", "#6a5d50", "#ffffff", "#8f4320"
PANEL, HIGH, GAP = 300, 150, 46

PAGE = """# Is the strength engine as sure as it says?

Made by `python -m tests.calibrate`, the long form of `tests/trade/test_strength_simulated.py` and
`tests/trade/test_strength_sampler.py`, whose short forms are part of `./run test`. Every seed is the first one tried.

## Simulation-based calibration

{jobs:,} jobs drawn from the model itself, seeds 0 to {last:,} under 20260701: two or three recipes, one to five blocks
each, a gauge read to 0.1 MPa, and a press that ends at 6 MPa, which many blocks outlive. Where an engine is right, the
true value lies at every rank of its answer equally often.

The level of 5 % is divided by the {quantities} quantities looked at: a chi-square over {bins} bins may not fall below
p = {least:.4f}.

| Quantity | Chi-square | p | |
| --- | ---: | ---: | --- |
{ranks}

![Ranks of the true values](ranks.svg)

How often the true value lay inside, against what is promised; {errors} standard errors are allowed.

| Interval of | Promised | Seen | Standard errors off | |
| --- | ---: | ---: | ---: | --- |
{coverage}

![Coverage at every level](coverage.svg)

## Against a sampler

Five jobs of three recipes in one condition, against emcee {emcee} with its default move, {walkers} walkers, {steps:,}
steps of which a fifth is thrown away. *Worst* is the largest difference over what is promised (0.5 % of a strength or
ratio, 0.005 of a probability); the sampler's own noise at that figure stands beside it in the same measure.

| Seed | Figures compared | Worst | Sampler's noise there | |
| ---: | ---: | ---: | ---: | --- |
{sampler}
"""

Ranks = Mapping[str, np.ndarray]


def main() -> int:
    """Draw the jobs, run the sampler, write what came out; return 1 if anything is not as it should be."""
    trials = [ranked(seed) for seed in range(LONG_JOBS)]
    ranks = {name: np.array([rank[name] for rank, _ in trials]) for name in QUANTITIES}
    inside = {name: float(np.mean([held[name] for _, held in trials])) for name in INTERVALS}
    sampled = {seed: comparisons(seed, LONG_STEPS) for seed in LONG_SEEDS}
    DOCS.mkdir(parents=True, exist_ok=True)
    (DOCS / "ranks.svg").write_text(ranks_drawn(ranks))
    (DOCS / "coverage.svg").write_text(coverage_drawn(ranks))
    text, good = told(ranks, inside, sampled)
    (DOCS / "README.md").write_text(text)
    sys.stdout.write(text)
    return 0 if good else 1


def told(ranks: Ranks, inside: Mapping[str, float], sampled: Mapping[int, list[Compared]]) -> tuple[str, bool]:
    """Return the page, and whether every check held."""
    rank_rows, rank_good = _rank_rows(ranks)
    cover_rows, cover_good = _cover_rows(inside)
    sampler_rows, sampler_good = _sampler_rows(sampled)
    text = PAGE.format(
        jobs=LONG_JOBS,
        last=LONG_JOBS - 1,
        bins=BINS,
        errors=ERRORS,
        quantities=len(ranks),
        least=LEVEL / len(ranks),
        emcee=version("emcee"),
        walkers=WALKERS,
        steps=LONG_STEPS,
        ranks="\n".join(rank_rows),
        coverage="\n".join(cover_rows),
        sampler="\n".join(sampler_rows),
    )
    return text, rank_good and cover_good and sampler_good


def _rank_rows(ranks: Ranks) -> tuple[list[str], bool]:
    rows, good = [], True
    for name, values in ranks.items():
        found = stats.chisquare(np.histogram(values, bins=np.linspace(0, 1, BINS + 1))[0])
        holds = found.pvalue > LEVEL / len(ranks)
        rows.append(f"| {name} | {found.statistic:.1f} | {found.pvalue:.3f} | {_word(holds)} |")
        good &= bool(holds)
    return rows, good


def _cover_rows(inside: Mapping[str, float]) -> tuple[list[str], bool]:
    rows, good = [], True
    for name, promised in INTERVALS.items():
        off = (inside[name] - promised) / math.sqrt(promised * (1 - promised) / LONG_JOBS)
        holds = abs(off) <= ERRORS
        label = "characteristic value, from below" if name == "characteristic" else name
        rows.append(f"| {label} | {promised:.2f} | {inside[name]:.4f} | {off:+.1f} | {_word(holds)} |")
        good &= holds
    return rows, good


def _sampler_rows(sampled: Mapping[int, list[Compared]]) -> tuple[list[str], bool]:
    rows, good = [], True
    for seed, figures in sampled.items():
        worst = max(figures, key=lambda one: one.off / one.tolerance)
        holds = all(one.agrees for one in figures)
        rows.append(
            f"| {seed} | {len(figures)} | {worst.off / worst.tolerance:.2f} | {worst.noise / worst.tolerance:.2f} "
            f"| {_word(holds)} |"
        )
        good &= holds
    return rows, good


def _word(holds: bool) -> str:
    return "holds" if holds else "**does not hold**"


def ranks_drawn(ranks: Ranks) -> str:
    """Return a histogram for each quantity, with the band in which chance alone would leave 99 bins in 100."""
    panels = []
    for number, (name, values) in enumerate(ranks.items()):
        left, top = GAP + (number % 2) * (PANEL + GAP), GAP + (number // 2) * (HIGH + 2 * GAP)
        counts, _ = np.histogram(values, bins=np.linspace(0, 1, BINS + 1))
        low, high = stats.binom.ppf([0.005, 0.995], len(values), 1 / BINS)
        up = HIGH / (1.6 * len(values) / BINS)
        foot, wide = top + HIGH, PANEL / BINS
        panels += [_band(left, foot - high * up, PANEL, (high - low) * up)]
        panels += [_bar(left + wide * i, foot, wide, count * up) for i, count in enumerate(counts)]
        panels += [_line(left, foot, left + PANEL, foot), _words(left, top - 10, name)]
        panels += [_words(left, foot + 18, "rank 0"), _words(left + PANEL, foot + 18, "1", anchor="end")]
    height = GAP + 2 * (HIGH + 2 * GAP)
    return _drawing("Ranks of the true values in the engine's answers", 2 * (PANEL + GAP) + GAP, height, panels)


def coverage_drawn(ranks: Ranks) -> str:
    """Return, for each quantity, how much oftener than promised the middle intervals of every level hold the truth."""
    levels, wide, high = np.linspace(0.02, 0.98, 49), 2 * PANEL, 2 * HIGH
    left, middle, most = 70, GAP + high / 2, 0.05
    band = ERRORS * np.sqrt(levels * (1 - levels) / len(next(iter(ranks.values()))))

    def at(level: float, off: float) -> str:
        return f"{left + wide * level:.1f},{middle - off / most * high / 2:.1f}"

    edge = [at(x, y) for x, y in zip(levels, band, strict=True)] + [
        at(x, -y) for x, y in zip(levels[::-1], band[::-1], strict=True)
    ]
    drawn = [f'<polygon points="{" ".join(edge)}" fill="#e9dfd0"/>', _line(left, middle, left + wide, middle)]
    for number, (name, values) in enumerate(ranks.items()):
        off = [float(np.mean(np.abs(values - 0.5) <= level / 2)) - level for level in levels]
        path = " ".join(at(x, y) for x, y in zip(levels, off, strict=True))
        dash, colour = ("", "7 3", "2 3", "9 3 2 3")[number], (INK, CLAY)[number % 2]
        drawn.append(
            f'<polyline points="{path}" fill="none" stroke="{colour}" stroke-width="1.8" stroke-dasharray="{dash}"/>'
        )
        key = GAP + high + 44 + 18 * number
        drawn += [
            f'<line x1="{left}" y1="{key - 4}" x2="{left + 50}" y2="{key - 4}" stroke="{colour}" stroke-width="1.8" '
            f'stroke-dasharray="{dash}"/>',
            _words(left + 60, key, name),
        ]
    for off in (-0.04, -0.02, 0.0, 0.02, 0.04):
        drawn.append(_words(left - 8, middle - off / most * high / 2 + 4, f"{100 * off:+.0f} %", anchor="end"))
    for level in (0.0, 0.5, 0.9):
        drawn.append(_words(left + wide * level, GAP + high + 18, f"{100 * level:.0f} % interval", anchor="middle"))
    title = "How much oftener than promised the intervals hold the true value"
    return _drawing(title, left + wide + GAP, GAP + high + 130, [*drawn, _words(left, 24, title)])


def _drawing(title: str, width: float, height: float, parts: list[str]) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" role="img" '
        f'font-family="sans-serif"><title>{title}</title><rect width="100%" height="100%" fill="{CARD}"/>'
        f"{''.join(parts)}</svg>\n"
    )


def _band(x: float, y: float, width: float, height: float) -> str:
    return f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" fill="#e9dfd0"/>'


def _bar(x: float, foot: float, width: float, height: float) -> str:
    return (
        f'<rect x="{x + 1:.1f}" y="{foot - height:.1f}" width="{width - 2:.1f}" height="{height:.1f}" '
        f'fill="{CLAY}" fill-opacity="0.55"/>'
    )


def _line(x1: float, y1: float, x2: float, y2: float) -> str:
    return f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="{QUIET}"/>'


def _words(x: float, y: float, words: str, *, anchor: str = "start") -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" font-size="13" fill="{INK}" text-anchor="{anchor}">{words}</text>'


if __name__ == "__main__":
    raise SystemExit(main())
