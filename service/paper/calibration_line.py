"""The line of a calibration as a small drawing: its points, the line through them, and the reading on it."""

from collections.abc import Iterator, Sequence
from html import escape
from math import floor, log10

INK, QUIET, CARD, RULE, CLAY = "#2a231c", "#6a5d50", "#ffffff", "#d9cdbd", "#8f4320"
WIDTH, HEIGHT, LEFT, TOP, ACROSS, UP = 360, 300, 52, 14, 288, 228


def calibration_line(
    points: Sequence[tuple[float, float]], *, slope: float, intercept: float, gauge_mpa: float, prefix: str
) -> str:
    """Return force in kN over gauge in MPa as SVG, its words beside it."""
    widest = 1.08 * max([gauge_mpa, *(gauge for gauge, _ in points)])
    highest = 1.08 * max([intercept + slope * widest, *(force for _, force in points)])

    def at(gauge: float, force: float) -> tuple[float, float]:
        return LEFT + ACROSS * gauge / widest, TOP + UP * (1 - force / highest)

    words = (
        f"{len(points)} points; force = {intercept:.4g} kN + {slope:.4g} kN for each MPa; gauge {gauge_mpa:.4g} MPa."
    )
    drawn = [*_axes(widest, highest), *_line(at(0, intercept), at(widest, intercept + slope * widest))]
    drawn += [_ring(at(gauge, force)) for gauge, force in points]
    drawn += _reading(at(gauge_mpa, intercept + slope * gauge_mpa))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" '
        f'aria-labelledby="{prefix}-title {prefix}-desc"><title id="{prefix}-title">Line of the calibration</title>'
        f'<desc id="{prefix}-desc">{escape(words)}</desc>'
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="{CARD}"/>{"".join(drawn)}</svg>'
    )


def _axes(widest: float, highest: float) -> Iterator[str]:
    foot = TOP + UP
    for value in _ticks(widest):
        x = LEFT + ACROSS * value / widest
        yield _stroke((x, TOP), (x, foot), RULE)
        yield _words(x, foot + 16, f"{value:g}", "middle")
    for value in _ticks(highest):
        y = TOP + UP * (1 - value / highest)
        yield _stroke((LEFT, y), (LEFT + ACROSS, y), RULE)
        yield _words(LEFT - 6, y + 4, f"{value:g}", "end")
    yield _words(LEFT + ACROSS / 2, foot + 36, "gauge, MPa", "middle")
    yield _words(LEFT + 4, TOP + 11, "force, kN", "start")


def _ticks(most: float) -> list[float]:
    """Return four to eight round numbers from nothing up to ``most``."""
    tenth = 10.0 ** floor(log10(most))
    step = next(part * tenth for part in (0.1, 0.2, 0.5, 1.0, 2.0) if most / (part * tenth) <= 8)
    return [count * step for count in range(int(most / step) + 1)]


def _line(start: tuple[float, float], end: tuple[float, float]) -> list[str]:
    return [_stroke(start, end, INK, width=1.6)]


def _reading(place: tuple[float, float]) -> list[str]:
    x, y = place
    down, left = _stroke(place, (x, TOP + UP), CLAY, dash="5 3"), _stroke(place, (LEFT, y), CLAY, dash="5 3")
    mark = f'<rect x="{x - 4:.2f}" y="{y - 4:.2f}" width="8" height="8" fill="{CLAY}"/>'
    return [down, left, mark]


def _ring(place: tuple[float, float]) -> str:
    return f'<circle cx="{place[0]:.2f}" cy="{place[1]:.2f}" r="5" fill="{CARD}" stroke="{INK}" stroke-width="1.6"/>'


def _stroke(
    start: tuple[float, float], end: tuple[float, float], colour: str, *, width: float = 1.0, dash: str = ""
) -> str:
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    ends = f'x1="{start[0]:.2f}" y1="{start[1]:.2f}" x2="{end[0]:.2f}" y2="{end[1]:.2f}"'
    return f'<line {ends} stroke="{colour}" stroke-width="{width}"{dashed}/>'


def _words(x: float, y: float, words: str, anchor: str) -> str:
    look = f'font-size="12" fill="{INK}" text-anchor="{anchor}"'
    return f'<text x="{x:.2f}" y="{y:.2f}" {look}>{escape(words)}</text>'
