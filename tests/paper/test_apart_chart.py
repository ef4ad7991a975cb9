"""What blocks can tell apart, drawn: every number is in its words, every line has its own."""

import re
from xml.etree import ElementTree

from service.paper.detectable_difference_chart import Told, apart_chart

LINES = (Told(1, ((2, 0.6), (3, 0.5), (5, 0.4))), Told(2, ((2, 0.5), (3, 0.4), (5, 0.3))))
SVG = "{http://www.w3.org/2000/svg}"


def test_the_drawing_is_well_formed_and_says_its_numbers_in_words():
    drawn = ElementTree.fromstring(apart_chart(LINES, planned=(5,), prefix="x"))
    told = drawn.find(f"{SVG}desc").text
    assert "With 1 batch of each: 2 blocks 60 %, 3 blocks 50 %, 5 blocks 40 %." in told
    assert "With 2 batches of each: 2 blocks 50 %" in told


def test_fewer_percent_stand_lower_and_more_blocks_farther_right():
    drawn = apart_chart(LINES, planned=(), prefix="x")
    first, second = (
        [tuple(map(float, point.split(","))) for point in points.split()]
        for points in re.findall(r'polyline points="([^"]+)"', drawn)
    )
    # On the screen y grows downwards.
    assert [x for x, _ in first] == sorted(x for x, _ in first)
    assert [y for _, y in first] == sorted(y for _, y in first)
    assert all(lower > upper for (_, upper), (_, lower) in zip(first, second, strict=True))


def test_what_is_planned_is_marked_if_it_is_on_the_drawing():
    assert apart_chart(LINES, planned=(5, 60), prefix="x").count("2 3") == 1
    assert apart_chart(LINES, planned=(), prefix="x").count("2 3") == 0
