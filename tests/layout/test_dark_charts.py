"""Charts in the dark: every colour that one is drawn in has its place in the dark theme, and is seen on its ground.

Contrast by the formula of WCAG 2.2 (relative luminance and contrast ratio): 3 to 1 for what is drawn (1.4.11), 4.5 to 1
for what is written (1.4.3).
"""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
STATIC = ROOT / "service" / "web" / "static"
DRAWN_BY = (*(ROOT / "service/paper").glob("*chart*.py"), ROOT / "service/paper/calibration_line.py",
            ROOT / "templates/paper/glance.html")  # fmt: skip
RULE = re.compile(r"([^{}]+)\{\s*(fill|stroke): var\((--[a-z]+)\)")
# What lies behind the rest, and lines that only help the eye along.
GROUNDS = ("--card", "--well", "--line")


def colours() -> set[str]:
    """Return every colour that a chart of the screens is drawn in."""
    return {found for path in DRAWN_BY for found in re.findall(r"#[0-9a-f]{6}\b", path.read_text("utf-8"))}


def places() -> dict[tuple[str, str], str]:
    """Return the name of the bench's colour for each (fill or stroke, colour) of a chart in the dark."""
    css = (STATIC / "charts.css").read_text("utf-8")
    dark = css[css.index("prefers-color-scheme: dark") :]
    return {
        (kind, colour): name
        for selectors, kind, name in RULE.findall(dark)
        for of, colour in re.findall(r'\[(fill|stroke)="(#[0-9a-f]+)"\]', selectors)
        if of == kind
    }


def dark_theme() -> dict[str, str]:
    """Return the colours of the bench in the dark, by name."""
    css = (STATIC / "bench.css").read_text("utf-8")
    block = css[css.index("prefers-color-scheme: dark") :].partition("\n}")[0]
    return dict(re.findall(r"(--[a-z-]+): (#[0-9a-f]{6})", block))


def luminance(colour: str) -> float:
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_formula_is_that_of_the_guidelines() -> None:
    # WCAG 2.2: white on black is 21 to 1; #767676 on white is the grey that just reaches 4.5 to 1.
    assert contrast("#ffffff", "#000000") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


def test_every_colour_of_a_chart_has_its_place_in_the_dark() -> None:
    drawn, placed = colours(), places()
    assert len(drawn) >= 9
    assert {(kind, colour) for colour in drawn for kind in ("fill", "stroke")} <= set(placed)


def test_what_is_drawn_and_written_is_seen_in_the_dark() -> None:
    theme, placed = dark_theme(), places()
    assert luminance(theme[placed["fill", "#ffffff"]]) < 0.05, "the ground of a chart is dark"
    least = {name: 4.5 if name in ("--ink", "--quiet", "--late") else 3.0 for name in placed.values()}
    faint = {
        name: round(contrast(theme[name], theme["--card"]), 2)
        for name, asked in least.items()
        if name not in GROUNDS and contrast(theme[name], theme["--card"]) < asked
    }
    assert faint == {}
