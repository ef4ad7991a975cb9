"""Strength against the share of a stabiliser as a drawing: the band, what was read, the limits, the least share."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape
from itertools import pairwise
from math import floor, log10
from typing import Literal

from markupsafe import Markup

from service.desk.doorway import ShopFacts
from service.desk.results.least_share import SeriesView
from service.paper.charts import PSI_PER_MPA
from service.paper.templates import worded
from service.words.numbers_to_text import significant, thousands_parted
from service.words.sentences import page_words

INK, QUIET, CARD, RULE, CLAY = "#2a231c", "#6a5d50", "#ffffff", "#d9cdbd", "#8f4320"
DRY, SOAKED, REFUSED = "#7a5a12", "#1f5a73", "#a02c1c"
WIDTH, LEFT, TOP, ACROSS, UP = 360, 46, 30, 300, 210
KEY, LINE = TOP + UP + 50, 15


@dataclass(frozen=True)
class BandPoint:
    """Strength at one share: 90 % band and median; ``tested``: within the tested shares."""

    share: float
    low_mpa: float
    median_mpa: float | None
    high_mpa: float | None
    tested: bool


@dataclass(frozen=True)
class ReadAt:
    """One block: at which share, what it did and at which stress."""

    share: float
    outcome: Literal["broke", "held", "fell apart"]
    stress_mpa: float


@dataclass(frozen=True)
class ContentPicture:
    """What a drawing shows of one condition; ``unit`` and ``factor`` say how a stress is written."""

    condition: str
    material: str
    soaked: bool
    band: tuple[BandPoint, ...]
    read: tuple[ReadAt, ...]
    limits: tuple[tuple[str, float], ...]
    least_share: float | None = None
    unit: str = "MPa"
    factor: float = 1.0
    of: str = "dry soil"
    # Two tested shares show no curve: each then has its own bar.
    curve: bool = True
    # Shares tested in any condition: what is known of one there narrows the band here too.
    tested: tuple[float, ...] = ()


def content_chart(picture: ContentPicture, *, prefix: str) -> str:
    """Return the drawing as SVG; the band ends at the highest stress that was measured."""
    frame = _Frame(picture)
    title = f"Strength at each percentage of {picture.material}, {picture.condition}"
    height = KEY + LINE * len(_key_lines(frame))
    drawn = [*_axes(frame), *_band(frame), *_limits(frame), *_least(frame), *_marks(frame), *_key(frame)]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" role="img" '
        f'font-family="DejaVu Sans, sans-serif" font-size="11" fill="{INK}" '
        f'aria-labelledby="{prefix}-title {prefix}-desc"><title id="{prefix}-title">{escape(title)}</title>'
        f'<desc id="{prefix}-desc">{escape(_described(picture))}</desc>'
        f'<defs><pattern id="{prefix}-hatch" width="6" height="6" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate(45)"><rect width="6" height="6" fill="{CARD}"/>'
        f'<path d="M0 0V6" stroke="{SOAKED}" stroke-width="2.4" stroke-opacity="0.45"/></pattern></defs>'
        f'<rect width="{WIDTH}" height="{height}" fill="{CARD}"/>'
        f"{''.join(drawn).replace('#hatch', f'#{prefix}-hatch')}</svg>"
    )


class _Frame:
    """The scales of one drawing: shares to the right from nothing, stress upwards from nothing."""

    def __init__(self, picture: ContentPicture) -> None:
        self.picture = picture
        measured = [one.stress_mpa for one in picture.read]
        self.measured_mpa = max(measured, default=0.0)
        shares = [one.share for one in picture.band] + [one.share for one in picture.read]
        self.widest = 1.04 * max(shares)
        # No recipe is without water, so that its scale begins a little below the driest.
        self.start = 0.0 if picture.of == "dry soil" else 0.9 * min(shares)
        self.highest = 1.16 * max([self.measured_mpa, *(limit for _, limit in picture.limits)]) * picture.factor
        self.colour = SOAKED if picture.soaked else DRY

    def x(self, share: float) -> float:
        return LEFT + ACROSS * (share - self.start) / (self.widest - self.start)

    def y(self, stress_mpa: float) -> float:
        return TOP + UP * (1 - stress_mpa * self.picture.factor / self.highest)


def _axes(frame: _Frame) -> Iterator[str]:
    foot, picture = TOP + UP, frame.picture
    for percent in (one for one in _ticks(100 * frame.widest) if one >= 100 * frame.start):
        yield _line(frame.x(percent / 100), TOP, frame.x(percent / 100), foot, RULE)
        yield _words(frame.x(percent / 100), foot + 15, f"{percent:g}", "middle")
    for value in _ticks(frame.highest):
        y = frame.y(value / picture.factor)
        yield _line(LEFT, y, LEFT + ACROSS, y, RULE)
        yield _words(LEFT - 5, y + 4, f"{value:g}", "end")
    yield _words(
        LEFT + ACROSS / 2,
        foot + 32,
        f"{picture.material}, %{' of the dry soil' if picture.of == 'dry soil' else ''}",
        "middle",
    )
    yield _words(4, 13, f"{picture.unit}, {picture.condition}", "start")


def _ticks(most: float) -> list[float]:
    tenth = 10.0 ** floor(log10(most))
    step = next(part * tenth for part in (0.1, 0.2, 0.5, 1.0, 2.0) if most / (part * tenth) <= 7)
    return [round(count * step, 9) for count in range(int(most / step) + 1)]


def _band(frame: _Frame) -> Iterator[str]:
    points = frame.picture.band
    if len(points) < 2:
        return
    fill = 'fill="url(#hatch)"' if frame.picture.soaked else f'fill="{DRY}" fill-opacity="0.22"'
    # A tested share is known better than those on either side: drawn into the band, it would be a notch.
    own = {one.share for one in frame.picture.read}
    if not frame.picture.curve:
        yield from _bars(frame, points, fill, width=18)
        return
    yield from _curve(frame, [one for one in points if one.share not in own.union(frame.picture.tested)], fill)
    yield from _bars(frame, [one for one in points if one.share in own], fill, width=10)


def _curve(frame: _Frame, points: Sequence[BandPoint], fill: str) -> Iterator[str]:
    # Above what any block was taken to nothing was measured, and nothing is drawn.
    top = frame.measured_mpa
    if len(points) < 2:
        return
    upper = [(one.share, min(one.high_mpa if one.high_mpa is not None else top, top)) for one in points]
    lower = [(one.share, min(one.low_mpa, top)) for one in points]
    outline = " ".join(f"{frame.x(s):.1f},{frame.y(v):.1f}" for s, v in (*upper, *reversed(lower)))
    yield f'<polygon points="{outline}" {fill} stroke="{frame.colour}" stroke-width="0.8" stroke-opacity="0.6"/>'
    for before, after in pairwise(points):
        if before.median_mpa is None or after.median_mpa is None or max(before.median_mpa, after.median_mpa) > top:
            continue
        dash = "" if before.tested and after.tested else "5 4"
        start, end = (
            (frame.x(before.share), frame.y(before.median_mpa)),
            (frame.x(after.share), frame.y(after.median_mpa)),
        )
        yield _line(*start, *end, frame.colour, width=2.0, dash=dash)


def _bars(frame: _Frame, points: Sequence[BandPoint], fill: str, *, width: int) -> Iterator[str]:
    for one in points:
        top = min(frame.measured_mpa if one.high_mpa is None else one.high_mpa, frame.measured_mpa)
        high, low = frame.y(top), frame.y(min(one.low_mpa, top))
        yield (
            f'<rect x="{frame.x(one.share) - width / 2:.1f}" y="{high:.1f}" width="{width}" '
            f'height="{max(low - high, 1):.1f}" {fill} stroke="{frame.colour}" stroke-width="0.8"/>'
        )


def _limits(frame: _Frame) -> Iterator[str]:
    for limit in sorted({limit for _, limit in frame.picture.limits}):
        y = frame.y(limit)
        yield _line(LEFT, y, LEFT + ACROSS, y, REFUSED, width=1.6, dash="7 3")
        told = f"limit {limit * frame.picture.factor:.3g}"
        yield _words(LEFT + 4, y - 4, told, "start", colour=REFUSED)


def _least(frame: _Frame) -> Iterator[str]:
    share = frame.picture.least_share
    if share is None:
        return
    x = frame.x(share)
    yield _line(x, TOP - 4, x, TOP + UP, CLAY, width=2.0)
    side, anchor = (-5, "end") if x > LEFT + 0.6 * ACROSS else (5, "start")
    tested = any(one.share == share for one in frame.picture.read)
    told = f"least: {100 * share:.2g} %" if tested else f"{100 * share:.2g} %, not tested"
    yield _words(x + side, TOP + 6, told, anchor, colour=CLAY)


def _marks(frame: _Frame) -> Iterator[str]:
    placed: dict[tuple[float, str], int] = {}
    for one in frame.picture.read:
        beside = placed[one.share, one.outcome] = placed.get((one.share, one.outcome), -1) + 1
        # Blocks of one share stand a little beside each other, so that all are seen.
        x = frame.x(one.share) + (beside % 5 - 2) * 2.6
        y = frame.y(one.stress_mpa)
        if one.outcome == "fell apart":
            cross = f"M{x - 4:.1f} {TOP + UP - 9}l8 8m0 -8l-8 8"
            yield f'<path d="{cross}" stroke="{REFUSED}" stroke-width="2" fill="none"/>'
        elif one.outcome == "held":
            yield f'<path d="M{x:.1f} {y:.1f}v-13m-4 5l4 -5l4 5" stroke="{INK}" stroke-width="1.8" fill="none"/>'
            yield _ring(x, y, frame)
        else:
            yield _ring(x, y, frame)


def _ring(x: float, y: float, frame: _Frame) -> str:
    look = f'fill="{CARD}" stroke="{INK}" stroke-width="1.5"'
    if frame.picture.soaked:
        return f'<path d="M{x:.1f} {y - 5:.1f}q5 7 0 10q-5 -3 0 -10z" {look}/>'
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3.6" {look}/>'


def _key(frame: _Frame) -> Iterator[str]:
    for number, words in enumerate(_key_lines(frame)):
        yield _words(LEFT, KEY + LINE * number, words, "start", colour=QUIET)


def _key_lines(frame: _Frame) -> list[str]:
    outcomes = {one.outcome for one in frame.picture.read}
    curve = ["line: median; band: 90 %, not tested", "bar: 90 % of a tested share"]
    said = curve if frame.picture.curve else ["bars: 90 % of each; nothing known between"]
    said += ["dashed: outside the tested shares"] * any(not one.tested for one in frame.picture.band)
    said += ["arrow: did not break, at least this much"] * ("held" in outcomes)
    return said + ["cross: fell apart in the water"] * ("fell apart" in outcomes)


def _described(picture: ContentPicture) -> str:
    read = "; ".join(f"{100 * one.share:.3g} %: {_told(one, picture)}" for one in picture.read)
    limits = "; ".join(f"{name} {limit * picture.factor:.3g} {picture.unit}" for name, limit in picture.limits)
    tested = any(one.share == picture.least_share for one in picture.read)
    named = "Least share" if tested else "Not tested"
    least = f" {named}: {100 * picture.least_share:.2g} %." if picture.least_share is not None else ""
    return f"Blocks: {read}. Limits: {limits or 'none'}.{least}"


def _told(one: ReadAt, picture: ContentPicture) -> str:
    if one.outcome == "fell apart":
        return "fell apart"
    if one.outcome == "held":
        return f"at least {significant(one.stress_mpa * picture.factor, floor=True)} {picture.unit}"
    return f"{significant(one.stress_mpa * picture.factor)} {picture.unit}"


def _line(x: float, y: float, to_x: float, to_y: float, colour: str, *, width: float = 1.0, dash: str = "") -> str:
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    ends = f'x1="{x:.1f}" y1="{y:.1f}" x2="{to_x:.1f}" y2="{to_y:.1f}"'
    return f'<line {ends} stroke="{colour}" stroke-width="{width}"{dashed}/>'


def _words(x: float, y: float, words: str, anchor: str, *, colour: str = INK) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" fill="{colour}" text-anchor="{anchor}">{escape(words)}</text>'


def share_charts(found: Sequence[SeriesView], shop: ShopFacts) -> list[list[Markup]]:
    """Return the drawings of each series, one for each condition, in the shop's units."""
    with thousands_parted(shop.comma_thousands):
        return _drawn(found, shop)


def _drawn(found: Sequence[SeriesView], shop: ShopFacts) -> list[list[Markup]]:
    unit, factor = ("psi", PSI_PER_MPA) if shop.units_first == "imperial" else ("MPa", 1.0)
    return [
        [
            # Drawn by this service from numbers; the names in it were escaped when it was drawn.
            Markup(
                content_chart(
                    ContentPicture(
                        condition=worded(along.condition, page_words("en")),
                        material=series.material,
                        of="dry soil" if series.varied != "water" else "recipe",
                        curve=series.varied == "stabiliser" or len({share for _, share in series.recipes}) > 2,
                        soaked=along.soaked,
                        band=tuple(
                            BandPoint(one.share, one.low_mpa, one.strength_mpa, one.high_mpa, one.kind != "outside")
                            for one in along.at
                            if one.low_mpa is not None
                        ),
                        read=tuple(ReadAt(one.share, one.outcome, one.stress_mpa) for one in along.blocks),
                        limits=along.limits,
                        least_share=series.untested_share,
                        tested=tuple(share for _, share in series.recipes),
                        unit=unit,
                        factor=factor,
                    ),
                    prefix=f"share-{number}-{place}",
                )
            )
            for place, along in enumerate(series.pictures)
        ]
        for number, series in enumerate(found)
    ]


def shares_drawn(tested: Sequence[float], *, points: int = 41) -> tuple[float, ...]:
    """Return the shares at which a band is worked out for its drawing: the tested range and a fifth beyond."""
    low, high = 0.8 * min(tested), 1.2 * max(tested)
    even = [low + (high - low) * number / (points - 1) for number in range(points)]
    return tuple(sorted({*even, *tested}))
