"""Small rules of the bench that weaken a reading: a zero that moved, a can dried too hot, fines that lose a limit."""

import pytest

from service.errors import Invalid
from service.trade.press.gauge_to_stress import zero_moved
from service.trade.soil.fines import organic_by_drying
from service.trade.soil.moisture import dried_too_hot


# A dial with marks of half an MPa is read to one of them: what lies within one may be reading alone (own rule).
@pytest.mark.parametrize(
    ("before", "after", "moved"),
    [(0.0, 0.5, False), (0.0, 0.51, True), (0.5, 0.0, False), (0.6, 0.0, True), (-0.3, 0.3, True), (0.2, 0.2, False)],
)
def test_a_zero_has_moved_when_it_is_more_than_a_mark_away_on_either_side(before, after, moved):
    assert zero_moved(before_mpa=before, after_mpa=after, graduation_mpa=0.5) is moved


def test_a_dial_without_marks_is_refused():
    with pytest.raises(Invalid) as refused:
        zero_moved(before_mpa=0.0, after_mpa=0.0, graduation_mpa=0.0)
    assert set(refused.value.fields) == {"graduation_mpa"}


# ASTM D2216, recalled: 110 degrees as a rule, 60 for soil with gypsum or much organic matter.
@pytest.mark.parametrize(
    ("temperature", "signs", "hot"),
    [
        (110.0, ["sulfates"], True),
        (60.1, ["organics"], True),
        (60.0, ["organics", "sulfates"], False),
        (None, ["sulfates"], True),
        (110.0, ["black cotton", "pollution"], False),
        (110.0, [], False),
    ],
)
def test_gypsum_and_organics_bear_sixty_degrees(temperature, signs, hot):
    assert dried_too_hot(temperature_c=temperature, signs=signs) is hot


# ASTM D2487, recalled: organic when the limit after the oven is below 75 % of the limit before, in whole percent.
@pytest.mark.parametrize(
    ("before", "after", "organic"),
    [(0.40, 0.29, True), (0.40, 0.30, False), (0.40, 0.2949, True), (0.40, 0.295, False), (0.52, 0.38, True)],
)
def test_fines_that_lose_a_quarter_of_their_limit_are_organic(before, after, organic):
    assert organic_by_drying(liquid_limit=before, liquid_limit_oven_dried=after) is organic
