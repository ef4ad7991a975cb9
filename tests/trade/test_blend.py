"""Blends against a worked exercise, exact answers by hand and exhaustive search."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.errors import Invalid
from service.trade.soil.blend import Soil, best_blend
from service.trade.soil.grading import Passing, curve_of
from service.trade.soil.grading_envelopes import Bound

SIZES = [19.0, 12.5, 9.5, 2.36, 0.075]


def soil(name, *shares, sizes=SIZES):
    return Soil(name, curve_of([Passing(size, share) for size, share in zip(sizes, shares, strict=True)]))


# cases.json BL-01: worked two-aggregate exercise, recomputed [derived].
FINE = soil("fine", 1, 1, 1, 1, 0.12)
COARSE = soil("coarse", 1, 0.98, 0.77, 0.09, 0)
SPEC = [Bound(size, low, high) for size, low, high in zip(SIZES, (1, 0.95, 0, 0.34, 0.02), (1, 1, 0.9, 0.5, 0.1),
                                                          strict=True)]  # fmt: skip


def outside(shares, soils, envelope):
    worst = []
    for bound in envelope:
        passing = sum(shares[place] * one.curve.share_at(bound.size_mm) for place, one in enumerate(soils))
        worst.append(max(0.0, bound.low - passing, passing - bound.high))
    return max(worst), sum(worst)


def test_the_feasible_range_of_the_exercise_is_found():
    blend = best_blend(soils=[FINE, COARSE], envelope=SPEC)
    assert blend.feasible and blend.worst_excess <= 1e-9
    assert blend.range["fine"] == pytest.approx((0.27473, 0.45055), abs=0.00001)
    assert blend.range["coarse"] == pytest.approx((1 - 0.45055, 1 - 0.27473), abs=0.00001)


def test_of_equally_good_blends_the_one_with_most_of_the_first_soil_is_taken():
    # At the top of the range: 0.09 + 0.91 w = 0.50 at 2.36 mm, w = 0.41 / 0.91.
    blend = best_blend(soils=[FINE, COARSE], envelope=SPEC)
    assert blend.shares["fine"] == pytest.approx(0.41 / 0.91, abs=1e-8)
    turned = best_blend(soils=[COARSE, FINE], envelope=SPEC)
    # Most of the coarse one: 0.09 + 0.91 w = 0.34, w = 0.25 / 0.91.
    assert turned.shares["fine"] == pytest.approx(0.25 / 0.91, abs=1e-8)


def test_the_curve_of_the_blend_is_the_weighted_curve():
    blend = best_blend(soils=[FINE, COARSE], envelope=[Bound(2.36, 0.4995, 0.4995)])
    # The exercise's 45 : 55 blend.
    assert [point.share for point in blend.passing] == pytest.approx([1, 0.989, 0.8735, 0.4995, 0.054], abs=1e-8)


def test_an_envelope_out_of_reach_is_missed_by_as_little_as_can_be():
    # A passes 0.2 and 0.0, B passes 1.0 and 0.6 at 2 and 0.1 mm; wanted 0.5 and 0.5 exactly. With w of B:
    # 0.2 + 0.8 w - 0.5 = 0.5 - 0.6 w gives w = 4/7 and 11/70 outside at both sizes.
    a, b = soil("a", 0.2, 0.0, sizes=[2, 0.1]), soil("b", 1.0, 0.6, sizes=[2, 0.1])
    blend = best_blend(soils=[a, b], envelope=[Bound(2, 0.5, 0.5), Bound(0.1, 0.5, 0.5)])
    assert not blend.feasible
    assert blend.worst_excess == pytest.approx(11 / 70, abs=1e-9)
    assert blend.shares["b"] == pytest.approx(4 / 7, abs=1e-9)
    assert blend.range["b"] == pytest.approx((4 / 7, 4 / 7), abs=1e-7)


def test_among_blends_with_the_same_worst_the_least_sum_is_taken():
    # At 2 mm both miss by 0.1 whatever the shares; at 0.1 mm only a third of "b" or more is inside.
    a, b = soil("a", 0.6, 0.2, sizes=[2, 0.1]), soil("b", 0.6, 0.5, sizes=[2, 0.1])
    blend = best_blend(soils=[a, b], envelope=[Bound(2, 0.7, 1.0), Bound(0.1, 0.3, 0.6)])
    assert blend.worst_excess == pytest.approx(0.1, abs=1e-9)
    assert blend.shares["b"] == pytest.approx(1 / 3, abs=1e-8)
    assert blend.range["b"] == pytest.approx((0.0, 1.0), abs=1e-6)


def test_one_soil_alone_is_all_of_its_blend():
    blend = best_blend(soils=[FINE], envelope=[Bound(0.075, 0.0, 0.1)])
    assert blend.shares == {"fine": 1.0}
    assert blend.worst_excess == pytest.approx(0.02, abs=1e-12)


shares = st.integers(0, 20).map(lambda twentieths: twentieths / 20)


@settings(max_examples=25, deadline=None)
@given(st.data())
def test_no_blend_of_three_soils_on_a_grid_lies_less_outside(data):
    soils = []
    for name in ("a", "b", "c"):
        coarse, middle, fine = sorted(data.draw(st.tuples(shares, shares, shares)), reverse=True)
        soils.append(soil(name, coarse, middle, fine, sizes=[4, 1, 0.1]))
    bounds = [sorted(data.draw(st.tuples(shares, shares))) for _ in range(3)]
    envelope = [Bound(size, *pair) for size, pair in zip((4, 1, 0.1), bounds, strict=True)]
    blend = best_blend(soils=soils, envelope=envelope)
    found = [blend.shares[one.name] for one in soils]
    assert sum(found) == pytest.approx(1, abs=1e-12) and min(found) >= 0
    assert outside(found, soils, envelope)[0] == pytest.approx(blend.worst_excess, abs=1e-12)
    assert blend.feasible == (blend.worst_excess <= 1e-9)
    for i in range(13):
        for j in range(13 - i):
            tried = (i / 12, j / 12, (12 - i - j) / 12)
            assert outside(tried, soils, envelope)[0] >= blend.worst_excess - 1e-9
    for one in soils:
        least, most = blend.range[one.name]
        assert least - 1e-6 <= blend.shares[one.name] <= most + 1e-6


@settings(max_examples=25, deadline=None)
@given(st.data())
def test_a_blend_lies_inside_its_parents(data):
    soils = []
    for name in ("a", "b"):
        coarse, fine = sorted(data.draw(st.tuples(shares, shares)), reverse=True)
        soils.append(soil(name, coarse, fine, sizes=[4, 0.1]))
    low, high = sorted(data.draw(st.tuples(shares, shares)))
    for point in best_blend(soils=soils, envelope=[Bound(1, low, high)]).passing:
        parents = [one.curve.share_at(point.size_mm) for one in soils]
        assert min(parents) - 1e-12 <= point.share <= max(parents) + 1e-12


@pytest.mark.parametrize(
    ("soils", "envelope", "field"),
    [
        ([], SPEC, "soils"),
        ([FINE], [], "envelope"),
        ([FINE, FINE], SPEC, "soils.1.name"),
        ([FINE, COARSE], [Bound(0.01, 0, 1)], "soils.0.passing"),
        ([FINE, COARSE], [Bound(0.01, 0, 1)], "envelope.0.size_mm"),
        ([FINE], [Bound(1, 0.5, 0.4)], "envelope.0.high"),
        ([FINE], [Bound(1, 0.5, 1.1)], "envelope.0.high"),
        ([FINE], [Bound(1, 0, 1), Bound(1, 0, 1)], "envelope.1.size_mm"),
        ([FINE], [Bound(0, 0, 1)], "envelope.0.size_mm"),
    ],
)
def test_what_cannot_be_blended_is_refused_by_its_field(soils, envelope, field):
    with pytest.raises(Invalid) as refused:
        best_blend(soils=soils, envelope=envelope)
    assert field in refused.value.fields
