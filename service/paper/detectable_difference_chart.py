"""What a number of blocks can tell apart, as a small drawing: the least difference against blocks a recipe."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape

from service.paper.calibration_line import CARD, CLAY, INK, QUIET, RULE

WIDTH, HEIGHT, LEFT, TOP, ACROSS, UP = 360, 300, 44, 16, 250, 222
TICKS = 6
Place = Callable[[float, float], tuple[float, float]]


@dataclass(frozen=True)
class Told:
    """One line: so many mixes, and the least share by which recipes must differ at each number of blocks."""

    mixes: int
    shares: tuple[tuple[int, float], ...]


def apart_chart(lines: Sequence[Told], *, planned: Sequence[int], prefix: str) -> str:
    """Return the least difference that is probably shown, in percent over blocks of each recipe, as SVG."""
    counts = [count for line in lines for count, _ in line.shares]
    first, last = min(counts), max(counts)
    highest = max(share for line in lines for _, share in line.shares) * 1.1

    def at(count: float, share: float) -> tuple[float, float]:
        return LEFT + ACROSS * (count - first) / (last - first), TOP + UP * (1 - share / highest)

    drawn = [_words(LEFT + ACROSS / 2, TOP + UP + 38, "blocks of each recipe in one condition", "middle")]
    for count in sorted(set(counts)):
        x, foot = at(count, 0)
        drawn.append(_words(x, foot + 17, str(count), "middle") if count % 2 == 0 else "")
    for tick in _ticks(highest):
        x, y = at(first, tick)
        drawn += [_stroke((x, y), (LEFT + ACROSS, y), RULE), _words(x - 6, y + 4, f"{100 * tick:.0f} %", "end")]
    for count in sorted({count for count in planned if first <= count <= last}):
        drawn.append(_stroke(at(count, 0), at(count, highest), QUIET, dash="2 3"))
    for number, line in enumerate(lines):
        drawn += _line(line, at, colour=(INK, CLAY)[number % 2], dash=("", "6 3")[number % 2], above=number == 0)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" '
        f'aria-labelledby="{prefix}-title {prefix}-desc"><title id="{prefix}-title">What blocks can show</title>'
        f'<desc id="{prefix}-desc">{escape(_described(lines))}</desc>'
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="{CARD}"/>{"".join(drawn)}</svg>'
    )


def _ticks(highest: float) -> list[float]:
    step = next(step for step in (0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0) if highest / step <= TICKS)
    return [step * number for number in range(int(highest / step) + 1)]


def _line(line: Told, at: Place, *, colour: str, dash: str, above: bool) -> list[str]:
    places = [at(*one) for one in line.shares]
    path = " ".join(f"{x:.2f},{y:.2f}" for x, y in places)
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    x, y = places[-1]
    word = f"{line.mixes} batch" if line.mixes == 1 else f"{line.mixes} batches"
    return [
        f'<polyline points="{path}" fill="none" stroke="{colour}" stroke-width="1.8"{dashed}/>',
        _words(x + 5, y + (-2 if above else 12), word, "start", colour),
    ]


def _described(lines: Sequence[Told]) -> str:
    return " ".join(
        f"With {line.mixes} batch{'es' if line.mixes > 1 else ''} of each: "
        + ", ".join(f"{count} blocks {100 * share:.0f} %" for count, share in line.shares)
        + "."
        for line in lines
    )


def _stroke(start: tuple[float, float], end: tuple[float, float], colour: str, *, dash: str = "") -> str:
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    ends = f'x1="{start[0]:.2f}" y1="{start[1]:.2f}" x2="{end[0]:.2f}" y2="{end[1]:.2f}"'
    return f'<line {ends} stroke="{colour}" stroke-width="1"{dashed}/>'


def _words(x: float, y: float, words: str, anchor: str, colour: str = INK) -> str:
    look = f'font-size="12" fill="{colour}" text-anchor="{anchor}"'
    return f'<text x="{x:.2f}" y="{y:.2f}" {look}>{escape(words)}</text>'
