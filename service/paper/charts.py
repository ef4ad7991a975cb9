"""Charts as SVG: drawn once for the same input, in shapes and words that hold without colour."""

import io
import textwrap
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from typing import Any

from service.paper.soil_points import Curve, Envelope, LimitsPoint
from service.paper.strips import ABOVE, LimitLine, Placed, Readings, Strip, described, placed
from service.paper.svg import embeddable

INK, QUIET, CARD, RULE = "#2a231c", "#6a5d50", "#ffffff", "#d9cdbd"
DRY, SOAKED, REFUSED, CLAY, MOSS = "#7a5a12", "#1f5a73", "#a02c1c", "#8f4320", "#3f6133"
# One unit of the drawing is one pixel on the narrowest telephone the page is made for.
WIDTH, MARGIN = 360.0, 16.0
USABLE = WIDTH - 2 * MARGIN
TEXT, SMALL, LETTER = 12.0, 11.0, 0.6
LANE, LABEL, BAR, AXIS = 15.0, 17.0, 16.0, 38.0
PSI_PER_MPA = 1e6 * 0.0254**2 / (0.45359237 * 9.80665)
# The library keeps fonts and settings for the whole process, so that two threads must not draw at once.
_DRAWING = threading.Lock()


@lru_cache(maxsize=256)
def readings_chart(readings: Readings, *, prefix: str) -> str:
    """Return every reading by condition and recipe, with intervals and limits, stronger to the right."""
    bands = _bands(readings)
    depth = sum(height for _, height in bands) + 4.0
    foot = AXIS + 3 * LABEL
    with _drawing(width=WIDTH, height=AXIS + depth + foot) as sheet:
        scale = USABLE / right_edge_mpa(readings)
        sheet.stress_axes(readings, span=USABLE / scale, top=AXIS, depth=depth)
        y = AXIS
        for part, height in bands:
            if isinstance(part, str):
                _section(sheet, readings, part, y=y, scale=scale)
            else:
                _strip(sheet, readings, part, y=y, scale=scale)
            y += height
        _key(sheet, readings, y=AXIS + depth + AXIS + 8.0)
        # A PDF keeps the title of a drawing alone, so that it says what the drawing shows.
        return sheet.svg(prefix, f"{readings.say('Every reading')}. {described(readings)}", "")


@lru_cache(maxsize=256)
def grading_chart(curves: tuple[Curve, ...], envelope: Envelope | None = None, *, prefix: str) -> str:
    """Return the share passing against size on a log axis, with the envelope if one is given."""
    with _drawing(width=WIDTH, height=292.0 + LABEL * (len(curves) + bool(envelope))) as sheet:
        axes = sheet.axes(left=44.0, top=26.0, width=WIDTH - 44.0 - MARGIN, height=220.0)
        sizes = [size for curve in curves for size, _ in curve.passing]
        sizes += [size for size, _, _ in envelope.edges] if envelope else []
        axes.set_xscale("log")
        axes.set_xlim(min([0.05, *sizes]) / 1.3, max([6.0, *sizes]) * 1.3)
        axes.set_ylim(0.0, 100.0)
        _grading_axes(axes)
        if envelope:
            _envelope(axes, envelope)
        for curve, (colour, shape, dash) in zip(curves, _kinds(), strict=False):
            look = {"color": colour, "marker": shape, "linestyle": dash, "markersize": 5, "markerfacecolor": CARD}
            size, share = (list(column) for column in zip(*sorted(curve.passing), strict=True))
            axes.plot(size, [100 * v for v in share], linewidth=1.6, label=curve.name, **look)
        sheet.legend(axes)
        return sheet.svg(prefix, "Grading: share passing by size", _curves_in_words(curves))


@lru_cache(maxsize=256)
def plasticity_chart(points: tuple[LimitsPoint, ...], *, prefix: str) -> str:
    """Return the plasticity chart of ASTM D2487 with A-line, U-line and the soils on it."""
    with _drawing(width=WIDTH, height=292.0 + LABEL * len(points)) as sheet:
        axes = sheet.axes(left=44.0, top=12.0, width=WIDTH - 44.0 - MARGIN, height=234.0)
        widest = max([80.0, *(110 * point.liquid_limit for point in points)])
        axes.set_xlim(0.0, widest)
        axes.set_ylim(0.0, max([0.9 * (widest - 8), *(110 * point.plasticity_index for point in points)]))
        sheet.plain_axes(axes, across="liquid limit, % of dry mass", up="plasticity index, %")
        _plasticity_lines(axes, widest=widest)
        for point, (colour, shape, _) in zip(points, _kinds(), strict=False):
            look = {"color": colour, "marker": shape, "linestyle": "", "markerfacecolor": CARD}
            place = ([100 * point.liquid_limit], [100 * point.plasticity_index])
            axes.plot(*place, markersize=9, markeredgewidth=2, label=point.name, **look)
        sheet.legend(axes)
        words = " ".join(
            f"{point.name}: liquid limit {100 * point.liquid_limit:.0f} %, index {100 * point.plasticity_index:.0f} %."
            for point in points
        )
        return sheet.svg(prefix, "Plasticity chart with A-line and U-line", words)


class _Sheet:
    """One drawing: a page measured in points from its upper left corner, with axes laid on it."""

    def __init__(self, *, width: float, height: float) -> None:
        from matplotlib.figure import Figure

        self.width, self.height = width, height
        self.figure = Figure(figsize=(width / 72, height / 72), dpi=72, facecolor=CARD)
        self.page = self.figure.add_axes((0.0, 0.0, 1.0, 1.0), zorder=2, facecolor="none")
        self.page.set_axis_off()
        self.page.set_xlim(0.0, width)
        self.page.set_ylim(height, 0.0)

    def axes(self, *, left: float, top: float, width: float, height: float) -> Any:
        """Return axes at a place given in points from the upper left corner."""
        place = (left / self.width, 1 - (top + height) / self.height, width / self.width, height / self.height)
        return self.figure.add_axes(place, zorder=1, facecolor=CARD)

    def plain_axes(self, axes: Any, *, across: str, up: str) -> None:
        """Give axes quiet lines and say what stands on them."""
        axes.set_xlabel(across, color=INK, fontsize=TEXT)
        axes.set_ylabel(up, color=INK, fontsize=TEXT)
        axes.grid(visible=True, color=RULE, linewidth=0.6)
        _quiet(axes)

    def stress_axes(self, readings: Readings, *, span: float, top: float, depth: float) -> None:
        """Lay a stress axis along the foot in the shop's own unit, and one along the top in the other."""
        own, other = ("psi", "MPa") if readings.units == "imperial" else ("MPa", "psi")
        times = PSI_PER_MPA if own == "MPa" else 1 / PSI_PER_MPA
        axes = self.axes(left=MARGIN, top=top, width=USABLE, height=depth)
        axes.set_xlim(0.0, span if own == "MPa" else span * PSI_PER_MPA)
        axes.set_yticks([])
        axes.set_xlabel(f"{readings.say('stress on the face')}, {own}", color=INK, fontsize=SMALL, labelpad=2)
        above = axes.secondary_xaxis("top", functions=(lambda x: x * times, lambda x: x / times))
        above.set_xlabel(other, color=INK, fontsize=SMALL, labelpad=5)
        axes.grid(visible=True, color=RULE, linewidth=0.6)
        _quiet(axes)
        _quiet(above)
        # Each unit has its own lines: whole ones from the foot, dotted ones from the top.
        for value in above.get_xticks():
            if 0.0 < value <= above.get_xlim()[1]:
                axes.axvline(value / times, color=RULE, linewidth=0.8, linestyle=(0, (1, 3)), zorder=0.5)
        axes.spines["left"].set_color(INK)

    def text(
        self, x: float, y: float, words: str, *, size: float = SMALL, colour: str = INK, bold: bool = False
    ) -> None:
        """Write words whose left end stands on the line at ``y``, kept inside the right edge."""
        x = max(2.0, min(x, self.width - 4.0 - _long(words, size)))
        ground = {"facecolor": CARD, "edgecolor": "none", "pad": 1.0}
        weight = "bold" if bold else "normal"
        self.page.text(x, y, words, fontsize=size, color=colour, fontweight=weight, bbox=ground, zorder=3)

    def line(self, *points: tuple[float, float], colour: str = INK, width: float = 1.2, dash: Any = "-") -> None:
        """Draw a line through points."""
        across, down = zip(*points, strict=True)
        self.page.plot(across, down, color=colour, linewidth=width, linestyle=dash, solid_capstyle="butt")

    def sign(self, x: float, y: float, shape: Any, *, colour: str, size: float = 10.0, fill: str = CARD) -> None:
        """Draw one mark."""
        look = {"marker": shape, "markerfacecolor": fill, "markeredgecolor": colour, "markeredgewidth": 1.4}
        self.page.plot([x], [y], markersize=size, linestyle="", zorder=4, **look)

    def block(self, x: float, y: float, *, soaked: bool, colour: str) -> None:
        """Draw the mark of a block: a hatched drop if it was soaked, else a plain circle."""
        self.sign(x, y, _drop() if soaked else "o", colour=colour, size=13.0 if soaked else 10.0)

    def legend(self, axes: Any) -> None:
        """Put the names of what was drawn below the axes, one a line."""
        look = {"frameon": False, "fontsize": SMALL, "labelcolor": INK, "borderaxespad": 0.2, "handlelength": 3}
        self.figure.legend(*axes.get_legend_handles_labels(), loc="lower left", **look)

    def svg(self, prefix: str, title: str, description: str) -> str:
        """Return the drawing, ready to stand in a page."""
        out = io.StringIO()
        self.figure.savefig(out, format="svg", metadata={"Date": None}, facecolor=CARD)
        return embeddable(out.getvalue(), prefix=prefix, title=title, description=description)


@contextmanager
def _drawing(*, width: float, height: float) -> Iterator[_Sheet]:
    import matplotlib

    with _DRAWING:
        matplotlib.rcParams.update(
            {
                "svg.fonttype": "none",
                "svg.hashsalt": "chart",
                "font.family": "DejaVu Sans",
                "axes.linewidth": 0.8,
                # What people call things is written as it is, never read as a formula.
                "text.parse_math": False,
            }
        )
        yield _Sheet(width=width, height=height)


def _quiet(axes: Any) -> None:
    axes.tick_params(colors=QUIET, labelcolor=INK, labelsize=SMALL, length=0)
    axes.set_axisbelow(True)
    for side in axes.spines.values():
        side.set_color(RULE)


def _long(words: str, size: float) -> float:
    return len(words) * size * LETTER


def _kinds() -> tuple[tuple[str, str, Any], ...]:
    dashes: tuple[Any, ...] = ("-", (0, (6, 2)), (0, (2, 2)), (0, (6, 2, 1, 2)))
    shapes, colours = ("o", "s", "^", "D"), (CLAY, SOAKED, MOSS, DRY)
    return tuple((colours[n % 4], shapes[n % 4], dashes[(n + n // 4) % 4]) for n in range(16))


def right_edge_mpa(readings: Readings) -> float:
    """Return the stress at the right edge: room for every number, and for the words beside a held mark."""
    if readings.right_edge_mpa is not None:
        return readings.right_edge_mpa
    held = [mark.stress_mpa for strip in readings.strips for mark in strip.marks if mark.outcome == "held"]
    open_ends = [end for strip in readings.strips if (end := strip.measured_end_mpa) is not None]
    wide = [(value, 84.0) for value in held] + [
        (value, 20.0 + _long(readings.say(ABOVE), SMALL)) for value in open_ends
    ]
    return max([readings.highest_mpa() * 1.05, *(value * USABLE / (USABLE - room) for value, room in wide)])


def _marks(readings: Readings, strip: Strip, scale: float) -> tuple[Placed, ...]:
    return placed(strip.stood, points_per_mpa=scale, points_per_letter=SMALL * LETTER, say=readings.say)


def _name_lines(strip: Strip) -> list[str]:
    return textwrap.wrap(strip.recipe, int(USABLE / (TEXT * LETTER))) or [""]


def _bands(readings: Readings) -> list[tuple[str | Strip, float]]:
    """Return the parts of the chart from the top, each with its height."""
    scale = USABLE / right_edge_mpa(readings)
    bands: list[tuple[str | Strip, float]] = []
    for condition in readings.conditions():
        limits = sum(limit.condition == condition for limit in readings.limits)
        bands.append((condition, LABEL * (1 + limits) + 8.0))
        for strip in (strip for strip in readings.strips if strip.condition == condition):
            lanes = 1 + max((mark.lane for mark in _marks(readings, strip, scale)), default=0)
            lines = len(_name_lines(strip)) + bool(strip.fell_apart)
            bands.append((strip, LABEL * lines + LANE * lanes + BAR + 6.0))
    return bands


def _section(sheet: _Sheet, readings: Readings, condition: str, *, y: float, scale: float) -> None:
    """Head the strips of one condition and let its limits run down through them."""
    soaked = any(strip.soaked for strip in readings.strips if strip.condition == condition)
    sheet.line((0.0, y), (WIDTH, y), colour=INK, width=0.8)
    sheet.block(MARGIN + 6.0, y + 12.0, soaked=soaked, colour=_colour(soaked))
    sheet.text(MARGIN + 16.0, y + 16.0, readings.condition_said(condition), size=TEXT, bold=True)
    bands = _bands(readings)
    below = sum(height for part, height in bands if isinstance(part, Strip) and part.condition == condition)
    limits: list[LimitLine] = [limit for limit in readings.limits if limit.condition == condition]
    foot = y + LABEL * (1 + len(limits)) + 8.0 + below
    for position, limit in enumerate(limits):
        x, top = MARGIN + limit.limit_mpa * scale, y + LABEL * (position + 2)
        sheet.line((x, top - 9.0), (x, foot), colour=REFUSED, width=1.3, dash=(0, (5, 3)))
        sheet.text(x + 4.0, top, f"{limit.name}: {readings.stress(limit.limit_mpa)}", colour=REFUSED)


def _strip(sheet: _Sheet, readings: Readings, strip: Strip, *, y: float, scale: float) -> None:
    """Draw one recipe: its name, what fell apart, its readings in lanes and its interval below them."""
    for line in _name_lines(strip):
        y += LABEL
        sheet.text(MARGIN + 4.0, y - 4.0, line, size=TEXT)
    if strip.fell_apart:
        # It has no strength, so it stands beside the scale and not at its zero.
        y += LABEL
        sheet.sign(MARGIN + 8.0, y - 8.0, "X", colour=REFUSED, fill=REFUSED, size=8.0)
        sheet.text(
            MARGIN + 18.0, y - 4.0, readings.say("{count} fell apart").format(count=strip.fell_apart), colour=REFUSED
        )
    y += LANE / 2 + 1.0
    marks = _marks(readings, strip, scale)
    for mark in marks:
        _reading(sheet, mark, soaked=strip.soaked, x=MARGIN + mark.mark.stress_mpa * scale, y=y + LANE * mark.lane)
    y += LANE * (1 + max((mark.lane for mark in marks), default=0)) - 1.0
    if strip.low_mpa is not None:
        _interval(sheet, readings, strip, y=y, scale=scale, low=strip.low_mpa)
    elif not strip.marks:
        sheet.text(MARGIN + 4.0, y, readings.say("no reading"), colour=QUIET)


def _reading(sheet: _Sheet, placed_mark: Placed, *, soaked: bool, x: float, y: float) -> None:
    mark = placed_mark.mark
    colour = _colour(soaked) if mark.counted else QUIET
    arrow = 15.0 if mark.outcome == "held" else 0.0
    if arrow:
        sheet.line((x, y), (x + arrow, y), colour=colour, width=1.6)
        sheet.sign(x + arrow, y, ">", colour=colour, fill=colour, size=5.0)
    sheet.block(x, y, soaked=soaked, colour=colour)
    if placed_mark.word:
        sheet.text(x + 9.0 + arrow, y + 4.0, placed_mark.word, colour=colour)


def _interval(sheet: _Sheet, readings: Readings, strip: Strip, *, y: float, scale: float, low: float) -> None:
    """Draw a bar that stops where measuring stopped."""
    start = MARGIN + low * scale
    end = MARGIN + (strip.high_mpa if strip.high_mpa is not None else strip.measured_end_mpa or low) * scale
    end = max(end, start + 3.0)
    sheet.line((start, y), (end, y), width=2.6)
    sheet.line((start, y - 4.0), (start, y + 4.0), width=1.4)
    if strip.high_mpa is None:
        sheet.sign(end + 3.0, y, ">", colour=INK, fill=INK, size=6.0)
        sheet.text(end + 10.0, y + 4.0, readings.say(ABOVE), colour=QUIET)
        return
    sheet.line((end, y - 4.0), (end, y + 4.0), width=1.4)
    if strip.median_mpa is not None:
        sheet.sign(MARGIN + strip.median_mpa * scale, y, "D", colour=INK, size=5.0)


def _key(sheet: _Sheet, readings: Readings, *, y: float) -> None:
    """Say what the signs mean, with the signs themselves."""
    left, middle = MARGIN + 6.0, 190.0
    for row, (soaked, word) in enumerate(((False, "not soaked"), (True, "soaked"))):
        sheet.block(left, y + LABEL * row - 4.0, soaked=soaked, colour=_colour(soaked))
        sheet.text(left + 12.0, y + LABEL * row, readings.say(word))
    sheet.sign(left, y + 2 * LABEL - 4.0, "X", colour=REFUSED, fill=REFUSED, size=8.0)
    sheet.text(left + 12.0, y + 2 * LABEL, readings.say("fell apart"))
    sheet.line((middle - 6.0, y - 4.0), (middle + 8.0, y - 4.0), colour=INK, width=1.6)
    sheet.sign(middle + 8.0, y - 4.0, ">", colour=INK, fill=INK, size=5.0)
    sheet.text(middle + 18.0, y, readings.say("did not break"))
    sheet.line((middle - 8.0, y + LABEL - 4.0), (middle + 10.0, y + LABEL - 4.0), width=2.6)
    sheet.sign(middle + 1.0, y + LABEL - 4.0, "D", colour=INK, size=5.0)
    sheet.text(middle + 18.0, y + LABEL, readings.say("strength, 90 %"))
    y += 2 * LABEL
    sheet.line((middle, y - 11.0), (middle, y + 2.0), colour=REFUSED, width=1.3, dash=(0, (5, 3)))
    sheet.text(middle + 18.0, y, readings.say("limit"))


def _colour(soaked: bool) -> str:
    return SOAKED if soaked else DRY


@lru_cache(maxsize=1)
def _drop() -> Any:
    """Return a drop with three strokes across it: soaked, in shape and pattern."""
    from matplotlib.path import Path

    outline = [(0.0, 1.2), (0.25, 0.7), (0.8, 0.25), (0.8, -0.3), (0.8, -0.75), (0.42, -1.0), (0.0, -1.0),
               (-0.42, -1.0), (-0.8, -0.75), (-0.8, -0.3), (-0.8, 0.25), (-0.25, 0.7), (0.0, 1.2)]  # fmt: skip
    strokes = [(-0.62, -0.12), (0.14, 0.64), (-0.58, -0.62), (0.52, 0.48), (-0.12, -0.86), (0.7, -0.04)]
    codes = [Path.MOVETO, *[Path.CURVE4] * 12, *[Path.MOVETO, Path.LINETO] * 3]
    return Path(outline + strokes, codes)


def _grading_axes(axes: Any) -> None:
    from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator

    axes.xaxis.set_major_locator(FixedLocator([0.002, 0.01, 0.075, 0.25, 1.0, 4.75, 20.0, 75.0]))
    axes.xaxis.set_minor_locator(NullLocator())
    axes.xaxis.set_major_formatter(FuncFormatter(lambda size, _: f"{size:g}"))
    axes.set_xlabel("size, mm (log scale)", color=INK, fontsize=TEXT)
    axes.set_ylabel("passing, % of dry mass", color=INK, fontsize=TEXT)
    _quiet(axes)
    least, most = axes.get_xlim()
    for name, low, high in (("fines", least, 0.075), ("sand", 0.075, 4.75), ("gravel", 4.75, most)):
        if min(high, most) / max(low, least) > 1.6:
            middle = (max(low, least) * min(high, most)) ** 0.5
            axes.text(middle, 103.0, name, ha="center", fontsize=SMALL, color=QUIET)
    for edge in (0.075, 4.75):
        axes.axvline(edge, color=QUIET, linewidth=0.9)


def _envelope(axes: Any, envelope: Envelope) -> None:
    edge: dict[str, Any] = {"color": QUIET, "linewidth": 1.0, "linestyle": (0, (4, 3))}
    size, low, high = (list(column) for column in zip(*sorted(envelope.edges), strict=True))
    low, high = [100 * v for v in low], [100 * v for v in high]
    axes.fill_between(size, low, high, color="#efe6d8", linewidth=0)
    axes.plot(size, low, marker="_", markersize=9, **edge)
    axes.plot(size, high, marker="_", markersize=9, label=envelope.name, **edge)
    # Bounds at a single size have no band to fill, so each size gets its own upright.
    axes.vlines(size, low, high, color=QUIET, linewidth=2.2)


def _plasticity_lines(axes: Any, *, widest: float) -> None:
    """Draw the lines of ASTM D2487: A-line, U-line, the 4 to 7 zone and the liquid limit of 50."""
    axes.plot([4 / 0.73 + 20, widest], [4, 0.73 * (widest - 20)], color=INK, linewidth=1.4)
    axes.plot([16, 16, widest], [0, 7, 0.9 * (widest - 8)], color=QUIET, linewidth=1.1, linestyle=(0, (5, 3)))
    for index in (4, 7):
        axes.plot([max(16, index / 0.9 + 8), index / 0.73 + 20], [index, index], color=INK, linewidth=0.9)
    axes.axvline(50, color=INK, linewidth=0.9)
    for name, across, up in (("A-line", 78, 34.0), ("U-line", 47, 39.0)):
        axes.text(across, up, name, ha="right", fontsize=SMALL, color=QUIET)
    for name, across, up in (("CL", 41, 20), ("CH", 56, 33), ("ML", 41, 6), ("MH", 62, 14)):
        axes.text(across, up, name, fontsize=TEXT, color=QUIET, ha="center")
    axes.text(17, 4.4, "CL-ML", fontsize=8.5, color=QUIET)


def _curves_in_words(curves: tuple[Curve, ...]) -> str:
    return " ".join(
        f"{curve.name}: " + ", ".join(f"{100 * share:.0f} % pass {size:g} mm" for size, share in curve.passing) + "."
        for curve in curves
    )
