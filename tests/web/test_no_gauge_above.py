"""No page and no answer of the demo shop sends a gauge above the working limit of its press.

The limits are worked out here from what the shop says of its presses: by the straight line of numpy through the points
of the calibration, or by the area of the ram.
"""

import json
import re
import shutil
from collections.abc import Iterator
from math import pi
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from bs4 import BeautifulSoup

from tests.demo_pages import Demo, kind_of, told, walk

MPA = {"MPa": 1.0, "psi": 0.006894757, "bar": 0.1, "kPa": 0.001}
ORDER = re.compile(r"(?:Pump to|Stop at|stop at|stops at)\s+([\d.,]+)\s*(MPa|psi|bar|kPa)")
# Keys of an answer that send somebody's hand to a gauge.
ORDERS = ("target_gauge_mpa", "limit_mpa", "stop_mpa")
ROUNDED = 1 + 1e-6


@pytest.fixture(scope="module")
def demo(told_demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Demo]:
    folder = tmp_path_factory.mktemp("demo")
    shutil.copytree(told_demo, folder, dirs_exist_ok=True)
    with told(folder) as opened:
        client = opened.client("owner")
        presses = client.get("/api/v1/presses").json()["presses"]
        (gauge,) = [gauge for press in presses if press["crushes"] for gauge in press["gauges"]]
        zero = {"gauge_id": gauge["id"], "zero_before_mpa": "0", "zero_before_mpa_unit": "MPa", "request_key": "zero-1"}
        sent = client.post("/crushing/sessions", data=zero, headers={"sec-fetch-site": "same-origin"})
        assert sent.status_code == 200
        yield opened


@pytest.fixture(scope="module")
def limits(demo: Demo) -> dict[str, float]:
    """Return the highest gauge in MPa of each "press, gauge"."""
    found = {}
    for press in demo.client("owner").get("/api/v1/presses").json()["presses"]:
        for gauge in press["gauges"]:
            most_kn = press["working_limit_kn"] or press["rating_kn"]
            points = gauge["calibrations"][0]["points"] if gauge["calibrations"] else []
            if points:
                slope, intercept = np.polyfit([one[0] for one in points], [one[1] for one in points], 1)
            else:
                area = press["efficiency"] * press["rams"] * pi * press["ram_diameter_mm"] ** 2 / 4
                slope, intercept = area / 1000, 0.0
            by_force = (most_kn - intercept) / slope if most_kn else gauge["full_scale_mpa"]
            found[f"{press['name']}, {gauge['name']}"] = min(by_force, gauge["full_scale_mpa"])
    return found


@pytest.fixture(scope="module")
def pages(demo: Demo) -> list[tuple[str, BeautifulSoup]]:
    """Return every page; a sheet of the calculator is worked out from what is typed there and knows no press."""
    walked = walk(demo.client("owner"))
    return [(path, BeautifulSoup(text, "html.parser")) for path, text in walked if not path.startswith("/calculator")]


def test_no_page_sends_a_gauge_above_the_limit_of_its_press(
    pages: list[tuple[str, BeautifulSoup]], limits: dict[str, float]
) -> None:
    orders = 0
    for path, page in pages:
        for block in page.select(".big, .stop, .refusal, .press_session, .hint"):
            said = " ".join(block.get_text(" ").split())
            mine = [most for name, most in limits.items() if name in said] or [max(limits.values())]
            for number, unit in ORDER.findall(said):
                orders += 1
                assert float(number.replace(",", "")) * MPA[unit] <= max(mine) * ROUNDED, f"{path}: {said}"
    assert orders > 10


def gauges_in(answer: Any) -> Iterator[float]:
    """Yield what an answer sends a gauge to."""
    if isinstance(answer, dict):
        yield from (value for key, value in answer.items() if key in ORDERS and isinstance(value, int | float))
        answer = list(answer.values())
    if isinstance(answer, list):
        for one in answer:
            yield from gauges_in(one)


def test_no_answer_to_a_program_sends_a_gauge_above_the_limit(demo: Demo, limits: dict[str, float]) -> None:
    client = demo.client("owner")
    queue = client.get("/api/v1/crushings/queue").json()
    paths = ["/api/v1/crushings/queue", *(f"/api/v1/blocks/{one['id']}" for one in queue["blocks"])]
    found = [gauge for path in paths for gauge in gauges_in(json.loads(client.get(path).text))]
    crushing = [most for name, most in limits.items() if "crush" in name.lower()]
    assert found and max(found) <= max(crushing) * ROUNDED


# On these pages each section has its own act, and its caution stands in that section.
OF_SECTIONS = re.compile(r"/(soils|sacks|materials)/|/intake")


def test_a_caution_stands_above_the_button_of_its_act(pages: list[tuple[str, BeautifulSoup]]) -> None:
    seen = set()
    for path, page in pages:
        order = page.select(".caution, button[type=submit]")
        for place, one in enumerate(order):
            if one.name == "button" or OF_SECTIONS.search(path):
                continue
            # A caution inside a form is of that form's act, any other of the page's great one.
            own = one.find_parent("form")
            acts = own.select("button[type=submit]") if own else page.select("button.go")
            if acts:
                assert all(any(button is act for button in order[place:]) for act in acts), (
                    f"{path}: {one.text.strip()}"
                )
                seen.add(kind_of(path))
    assert {"/blocks/*", "/batches/*", "/batches/*/press", "/batches/*/test-charge"} <= seen
