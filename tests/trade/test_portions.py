"""What scale and pot do to a batch, and which moisture presses densest; expected values by hand."""

import pytest

from service.errors import Invalid
from service.trade.mix.best_moisture import best_moisture
from service.trade.mix.mixer_loads import mixer_loads, scale_error


def test_half_a_step_over_the_mass_by_hand():
    # 5 g steps miss by at most 2.5 g: 2 % of 125 g, 1 % of 250 g.
    assert scale_error(scale_graduation_kg=0.005, mass_kg=0.125) == pytest.approx(0.02)
    assert scale_error(scale_graduation_kg=0.005, mass_kg=0.250) == pytest.approx(0.01)


@pytest.mark.parametrize(("mixer_kg", "count"), [(20.0, 1), (19.9, 2), (10.0, 2), (9.99, 3), (6.7, 3)])
def test_a_pot_is_filled_as_often_as_it_must_by_hand(mixer_kg, count):
    assert (
        mixer_loads({"soil": 18.0, "cement": 1.0, "water": 1.0}, mixer_kg=mixer_kg, scale_graduation_kg=0.005).count
        == count
    )


def test_each_filling_is_an_equal_part_to_the_graduation_by_hand():
    # 1.0 kg over three mixer_loads is 0.3333 kg: 0.335 on a scale of 5 g, half up.
    split = mixer_loads({"soil": 18.0, "cement": 1.0, "water": 1.0}, mixer_kg=7.0, scale_graduation_kg=0.005)
    assert split.each_kg == {"soil": 6.0, "cement": pytest.approx(0.335), "water": pytest.approx(0.335)}


def test_three_full_pots_are_three_fillings():
    # 2.1 / 0.7 is 3 on paper and a hair more in binary.
    assert mixer_loads({"soil": 2.1}, mixer_kg=0.7, scale_graduation_kg=0.001).count == 3


@pytest.mark.parametrize("given", [{"mixer_kg": 0.0}, {"mixer_kg": 0.01}, {"scale_graduation_kg": 0.0}])
def test_a_pot_that_makes_no_sense_is_refused(given):
    with pytest.raises(Invalid) as refused:
        mixer_loads({"soil": 18.0}, **{"mixer_kg": 5.0, "scale_graduation_kg": 0.005, **given})
    assert set(refused.value.fields) == set(given)


def test_the_densest_of_three_moistures_is_the_target():
    # Two blocks at 10 % are averaged: (1920 + 1900) / 2 = 1910.
    best = best_moisture([(0.12, 1880.0), (0.10, 1920.0), (0.08, 1850.0), (0.10, 1900.0)])
    assert best.target is not None
    assert (best.target.moisture, best.target.dry_density_kg_m3, best.target.blocks) == (0.10, 1910.0, 2)
    assert [one.moisture for one in best.tried] == [0.08, 0.10, 0.12] and best.remark == ""


@pytest.mark.parametrize(("densities", "word"), [((1900, 1880, 1850), "drier"), ((1850, 1880, 1900), "wetter")])
def test_a_densest_at_the_end_asks_for_one_more(densities, word):
    assert word in best_moisture(list(zip((0.08, 0.10, 0.12), densities, strict=True))).remark


def test_two_moistures_are_too_few():
    best = best_moisture([(0.08, 1850.0), (0.10, 1920.0), (0.10, 1930.0)])
    assert best.target is None and best.remark == "1 more moisture to try."
