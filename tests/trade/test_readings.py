"""A crushing as an interval of stress."""

import math

import pytest

from service.errors import Invalid
from service.trade.strength.censored_readings import broke, fell_apart, held


def test_a_broken_block_lies_half_a_graduation_each_side():
    reading = broke(stress_mpa=9.9, graduation_mpa=0.25)
    assert (reading.low_mpa, reading.high_mpa) == (9.775, 10.025)


def test_no_strength_lies_below_nothing():
    assert broke(stress_mpa=0.1, graduation_mpa=0.5).low_mpa == 0.0
    assert broke(stress_mpa=0.0, graduation_mpa=0.5).high_mpa == 0.25


def test_a_held_block_has_no_upper_edge():
    assert (held(stress_mpa=6.0).low_mpa, held(stress_mpa=6.0).high_mpa) == (6.0, math.inf)


def test_a_fallen_block_reads_as_nothing():
    assert (fell_apart().outcome, fell_apart().stress_mpa) == ("fell apart", 0.0)


@pytest.mark.parametrize(
    ("read", "field"),
    [
        (lambda: broke(stress_mpa=0.0), "broke_mpa"),
        (lambda: broke(stress_mpa=math.nan), "broke_mpa"),
        (lambda: broke(stress_mpa=-1.0, graduation_mpa=0.5), "broke_mpa"),
        (lambda: broke(stress_mpa=1.0, graduation_mpa=0.0), "graduation_mpa"),
        (lambda: held(stress_mpa=0.0), "held_mpa"),
        (lambda: held(stress_mpa=math.inf), "held_mpa"),
    ],
)
def test_what_no_block_can_have_done_is_refused(read, field):
    with pytest.raises(Invalid) as refused:
        read()
    assert set(refused.value.fields) == {field}
