"""Which chart goes with which answer."""

from collections.abc import Callable

from markupsafe import Markup

from service.paper.calibration_line import calibration_line
from service.paper.charts import grading_chart, plasticity_chart, readings_chart
from service.paper.content_chart import BandPoint, ContentPicture, ReadAt, content_chart, shares_drawn
from service.paper.soil_points import Curve, Envelope, LimitsPoint
from service.paper.strips import LimitLine, Mark, Readings, Strip
from service.web.pages.calculator.parts import Tree
from service.work import answering, registry

MOST_SOILS = 4


def charts(kinds: tuple[str, ...], given: Tree, answer: Tree) -> list[Markup]:
    """Return the charts of an answer, those left out for which nothing was measured."""
    drawn = [DRAWN[kind](given, answer) for kind in kinds]
    # Drawn by this service from numbers; the names in it were escaped when it was drawn.
    return [Markup(svg) for svg in drawn if svg]


def _points(passing: list[Tree]) -> tuple[tuple[float, float], ...]:
    return tuple((point["size_mm"], point["share"]) for point in passing)


def _curve(given: Tree, answer: Tree) -> str:
    curves = [Curve(soil["name"], _points(soil["passing"])) for soil in given.get("soils", [])[:MOST_SOILS]]
    passing = answer.get("passing") or given.get("passing")
    if passing:
        curves.append(Curve("the blend" if curves else "this soil", _points(passing)))
    bounds = given.get("envelope")
    edges = tuple((bound["size_mm"], bound["low"], bound["high"]) for bound in bounds or ())
    return (
        grading_chart(tuple(curves), Envelope("envelope", edges) if edges else None, prefix="curve") if curves else ""
    )


def _plasticity(given: Tree, answer: Tree) -> str:
    liquid = answer.get("liquid_limit") or given.get("liquid_limit")
    plastic = answer.get("plastic_limit") or given.get("plastic_limit")
    if liquid is None or plastic is None:
        return ""
    return plasticity_chart((LimitsPoint("this soil", liquid, max(liquid - plastic, 0.0)),), prefix="plasticity")


def _line(given: Tree, answer: Tree) -> str:
    if "points" not in given:
        return ""
    return calibration_line(
        [(point["gauge_mpa"], point["force_kn"]) for point in given["points"]],
        slope=answer["slope_kn_per_mpa"],
        intercept=answer["intercept_kn"],
        gauge_mpa=answer["gauge_mpa"],
        prefix="line",
    )


def _readings(given: Tree, answer: Tree) -> str:
    strips = tuple(_strip(group, found) for group, found in zip(given["groups"], answer["groups"], strict=True))
    limits = tuple(LimitLine(one["name"], one["condition"], one["limit_mpa"]) for one in given.get("limits", []))
    return readings_chart(Readings(strips, limits), prefix="readings")


def _strip(group: Tree, found: Tree) -> Strip:
    """Return a bar that begins and ends where something was measured, whatever the model makes of what lies above."""
    low, middle, high = found["low_mpa"], found["median_mpa"], found["high_mpa"]
    top = max((one["held_mpa"] for one in group["readings"] if "held_mpa" in one), default=None)
    stopped = top is not None and (high is None or high > top)
    measured = middle is not None and not (stopped and middle > top)
    return Strip(
        recipe=group["recipe"],
        condition=group["condition"],
        soaked="soak" in group["condition"].casefold(),
        marks=tuple(_mark(reading) for reading in group["readings"]),
        low_mpa=low if measured or top is None or low is None else min(low, top),
        median_mpa=middle if measured else None,
        high_mpa=None if stopped else high,
        measured_to_mpa=top,
    )


def _mark(reading: Tree) -> Mark:
    if reading.get("fell_apart"):
        return Mark("fell apart", 0.0)
    held = "held_mpa" in reading
    return Mark("held" if held else "broke", reading["held_mpa"] if held else reading["broke_mpa"])


def _content(given: Tree, answer: Tree) -> str:
    """Draw each condition; what was asked for is asked again at many shares, the curve being kept."""
    tested = [row["share"] for row in given["rows"]]
    dense = answering.answer(registry.find("content"), given | {"at": list(shares_drawn(tested)), "limits": []})
    least = answer["least"]
    drawn = [
        content_chart(
            ContentPicture(
                condition=condition,
                material="stabiliser",
                soaked="soak" in condition.casefold(),
                band=tuple(
                    BandPoint(
                        share=one["share"],
                        low_mpa=one["low_mpa"],
                        median_mpa=one["strength_mpa"],
                        high_mpa=one["high_mpa"],
                        tested=one["kind"] != "outside",
                    )
                    for one in dense["at"]
                    if one["condition"] == condition and one["low_mpa"] is not None
                ),
                read=tuple(
                    ReadAt(row["share"], mark.outcome, mark.stress_mpa)
                    for row in given["rows"]
                    if row["condition"] == condition
                    for mark in map(_mark, row["readings"])
                ),
                limits=tuple(
                    (one["name"], one["limit_mpa"]) for one in given.get("limits", []) if one["condition"] == condition
                ),
                least_share=least["share"] if least else None,
            ),
            prefix=f"content-{number}",
        )
        for number, condition in enumerate(dict.fromkeys(row["condition"] for row in given["rows"]))
    ]
    return "".join(drawn)


DRAWN: dict[str, Callable[[Tree, Tree], str]] = {
    "curve": _curve,
    "plasticity": _plasticity,
    "line": _line,
    "readings": _readings,
    "content": _content,
}
