"""A small chart as SVG: dry density against moisture, the densest marked by shape and word."""

import math
from collections.abc import Sequence
from html import escape

WIDTH, HEIGHT, LEFT, FOOT, TOP, RIGHT = 360.0, 230.0, 62.0, 44.0, 22.0, 18.0
INK, QUIET, RULE, CLAY, CARD = "#2a231c", "#6a5d50", "#d9cdbd", "#8f4320", "#ffffff"
TICKS = 4


def moisture_chart(
    points: Sequence[tuple[float, float]], *, densest: tuple[float, float] | None, unit: str, factor: float
) -> str:
    """Return the chart of moistures (of 1) and dry densities (kg/m3), the densities shown times ``factor``."""
    if len(points) < 2:
        return ""
    across = _Scale([100 * moisture for moisture, _ in points], start=LEFT, end=WIDTH - RIGHT)
    up = _Scale([factor * density for _, density in points], start=HEIGHT - FOOT, end=TOP)
    placed = [(across.at(100 * moisture), up.at(factor * density)) for moisture, density in points]
    marks = "".join(
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="5" fill="{CARD}" stroke="{CLAY}" stroke-width="2"/>' for x, y in placed
    )
    line = " ".join(f"{x:.1f},{y:.1f}" for x, y in placed)
    best = _densest(across.at(100 * densest[0]), up.at(factor * densest[1])) if densest else ""
    said = "; ".join(f"{100 * m:.3g} %: {factor * d:.4g} {unit}" for m, d in points)
    return (
        f'<svg viewBox="0 0 {WIDTH:g} {HEIGHT:g}" role="img" aria-labelledby="moisture-title moisture-desc" '
        f'xmlns="http://www.w3.org/2000/svg" font-family="DejaVu Sans, sans-serif" font-size="11" fill="{INK}">'
        f'<title id="moisture-title">Dry density by moisture</title><desc id="moisture-desc">{escape(said)}</desc>'
        f"{_grid(across, up)}"
        f'<polyline points="{line}" fill="none" stroke="{CLAY}" stroke-width="1.4" stroke-dasharray="5 3"/>'
        f"{marks}{best}"
        f'<text x="{(LEFT + WIDTH - RIGHT) / 2:.0f}" y="{HEIGHT - 6:.0f}" text-anchor="middle">'
        f'water, % of the dry mix</text><text x="4" y="12">dry density, {escape(unit)}</text></svg>'
    )


class _Scale:
    """Numbers along one side of the drawing, with a little room at either end."""

    def __init__(self, values: Sequence[float], *, start: float, end: float) -> None:
        low, high = min(values), max(values)
        room = 0.12 * (high - low) or 0.05 * abs(high) or 1.0
        self.values, self.low, self.high = sorted(set(values)), low - room, high + room
        self.start, self.end = start, end

    def at(self, value: float) -> float:
        """Return where a value lies in the drawing."""
        return self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start)

    def round_ones(self) -> list[float]:
        """Return round numbers inside, about as many as there is room for."""
        rough = (self.high - self.low) / TICKS
        tens = 10 ** math.floor(math.log10(rough))
        step = next(tens * part for part in (1, 2, 5, 10) if tens * part >= rough)
        return [step * place for place in range(math.ceil(self.low / step), math.floor(self.high / step) + 1)]


def _grid(across: _Scale, up: _Scale) -> str:
    upright = "".join(
        f'<line x1="{across.at(v):.1f}" x2="{across.at(v):.1f}" y1="{TOP}" y2="{HEIGHT - FOOT}" stroke="{RULE}"/>'
        f'<text x="{across.at(v):.1f}" y="{HEIGHT - FOOT + 15:.0f}" text-anchor="middle">{v:.3g}</text>'
        for v in across.values
    )
    level = "".join(
        f'<line x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{up.at(v):.1f}" y2="{up.at(v):.1f}" stroke="{RULE}"/>'
        f'<text x="{LEFT - 6:.0f}" y="{up.at(v) + 4:.1f}" text-anchor="end">{v:.4g}</text>'
        for v in up.round_ones()
    )
    return upright + level


def _densest(x: float, y: float) -> str:
    diamond = f"M{x:.1f} {y - 9:.1f}l9 9l-9 9l-9 -9z"
    return (
        f'<path d="{diamond}" fill="none" stroke="{INK}" stroke-width="2"/>'
        f'<text x="{x:.1f}" y="{y - 13:.1f}" text-anchor="middle" font-weight="bold">densest</text>'
    )
