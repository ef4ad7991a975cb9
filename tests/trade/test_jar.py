"""Layers in a jar: shares of the whole height, and a curve that falls."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import Invalid
from service.trade.soil.settling_jar import layers_in_jar


def test_the_layers_of_the_simple_mix_give_its_shares() -> None:
    # An extension note's target, sand 65, silt 15, clay 20 % [seen], as layers of 65, 15 and 20 mm.
    found = layers_in_jar(sand_mm=65, silt_mm=15, clay_mm=20)
    assert (found.sand_share, found.silt_share, found.clay_share) == (0.65, 0.15, 0.20)
    assert [point.share for point in found.curve.points] == [1.0, 0.35, 0.2]


layer = st.floats(0, 300)


@given(gravel=layer, sand=layer, silt=layer, clay=st.floats(0.1, 300))
def test_shares_sum_to_one_and_the_curve_falls(gravel: float, sand: float, silt: float, clay: float) -> None:
    found = layers_in_jar(gravel_mm=gravel, sand_mm=sand, silt_mm=silt, clay_mm=clay)
    total = found.gravel_share + found.sand_share + found.silt_share + found.clay_share
    assert total == pytest.approx(1, abs=1e-12)
    shares = [point.share for point in found.curve.points]
    assert shares == sorted(shares, reverse=True)


def test_an_empty_jar_and_a_negative_layer_are_refused() -> None:
    for layers, field in (((0, 0, 0), "sand_mm"), ((1, -1, 0), "silt_mm")):
        with pytest.raises(Invalid) as refused:
            layers_in_jar(sand_mm=layers[0], silt_mm=layers[1], clay_mm=layers[2])
        assert field in refused.value.fields
