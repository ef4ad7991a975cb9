"""Tolerance factors, characteristic values and Grubbs against published tables and worked numbers."""

import json
from pathlib import Path

import pytest
from scipy import stats

from service.errors import Invalid
from service.trade.strength.odd_readings import outlier_of
from service.trade.strength.statistics import (
    characteristic_en_1990,
    characteristic_nzs_4298,
    kn_factor,
    kn_printed,
    spread_of,
    tolerance_factor,
)

ROWS = json.loads((Path(__file__).parent.parent / "reference" / "statistics.json").read_text("utf-8"))
FIVE = [2.1, 2.4, 2.5, 2.7, 3.0]


def named(row):
    return f"{row['id']} [{row['standing']}]"


@pytest.mark.parametrize("row", ROWS["tolerance"], ids=named)
def test_the_tolerance_factor_agrees_with_the_source(row):
    found = tolerance_factor(n=row["n"], coverage=row["coverage"], confidence=row["confidence"])
    assert found == pytest.approx(row["factor"], abs=row["tolerance"])


def test_the_tolerance_factor_undoes_the_non_central_t():
    # By definition the non-central t at k sqrt n has the confidence below it.
    for n, coverage, confidence in ((2, 0.5, 0.5), (7, 0.9, 0.25), (200, 0.999, 0.99)):
        k = tolerance_factor(n=n, coverage=coverage, confidence=confidence)
        below = stats.nct.cdf(k * n**0.5, n - 1, stats.norm.ppf(coverage) * n**0.5)
        assert below == pytest.approx(confidence, abs=1e-8)


@pytest.mark.parametrize("row", ROWS["kn"], ids=named)
def test_the_factor_of_en_1990_agrees_with_table_and_formula(row):
    printed = kn_printed(n=row["n"], v_known=row["v_known"])
    formula = kn_factor(n=row["n"], v_known=row["v_known"])
    assert printed == row["printed"]
    assert formula == pytest.approx(row["formula"], abs=0.0001)
    assert formula == pytest.approx(row["printed"], abs=0.017)


@pytest.mark.parametrize("row", ROWS["characteristic"], ids=named)
def test_the_characteristic_value_agrees_with_the_source(row):
    values, expected = row["values_mpa"], row["expected"]
    if "f_char" in expected:
        assert characteristic_nzs_4298(values) == pytest.approx(expected["f_char"], abs=0.0001)
        return
    spread = spread_of(values)
    assert (spread.mean, spread.sd) == pytest.approx((expected["mean"], expected["s"]), abs=0.00001)
    assert characteristic_en_1990(values).value_mpa == pytest.approx(expected["Xk_normal"], abs=0.00005)
    lognormal = characteristic_en_1990(values, distribution="lognormal").value_mpa
    assert lognormal == pytest.approx(expected["Xk_lognormal"], abs=0.00005)


def test_a_known_variation_takes_the_factor_for_it():
    # By hand: 2.54 (1 - 1.80 x 0.15) = 1.8542; on logarithms s_y = sqrt(ln 1.0225) = 0.149166 and
    # m_y = ln 102.06 / 5 = 0.925112: exp(0.925112 - 1.80 x 0.149166) = 1.92825.
    assert characteristic_en_1990(FIVE, variation=0.15).value_mpa == pytest.approx(1.8542, abs=1e-9)
    lognormal = characteristic_en_1990(FIVE, distribution="lognormal", variation=0.15)
    assert lognormal.value_mpa == pytest.approx(1.92825, abs=0.00001)
    assert (lognormal.factor, lognormal.factor_from) == (1.80, "table")


def test_a_number_of_readings_without_a_column_takes_the_formula():
    found = characteristic_en_1990([*FIVE, 2.6, 2.2])
    assert found.factor_from == "formula"
    # t(6, 0.95) = 1.9432 from any table of Student's t, times sqrt(8 / 7).
    assert found.factor == pytest.approx(1.9432 * (8 / 7) ** 0.5, abs=0.0001)


def test_no_characteristic_value_is_below_zero():
    scattered = [0.1, 0.1, 0.1, 0.1, 5.0]
    assert characteristic_nzs_4298(scattered) == 0.0
    assert characteristic_en_1990(scattered).value_mpa == 0.0


def test_grubbs_agrees_with_the_handbook():
    # cases.json WT-03: CMH-17-1G, table 8.3.11.1.1(a), maximum normed residual, batch 2 [seen].
    values = [99.3207107, 115.86177, 82.6133082, 85.3690411, 115.801622, 44.3217741, 117.328077, 88.6782903]
    found = outlier_of(values)
    assert (found.distance, found.critical) == pytest.approx((2.008, 2.127), abs=0.002)
    assert (found.place, found.strays) == (5, False)


@pytest.mark.parametrize(("n", "critical"), [(3, 1.1543), (5, 1.7150), (10, 2.2900)])
def test_the_critical_distance_agrees_with_the_printed_table(n, critical):
    # Grubbs' table at two-sided 5 % (upper 2.5 %), as printed in ASTM E178 [memory]: 1.155, 1.715, 2.290.
    assert outlier_of([1.0] * (n - 1) + [2.0]).critical == pytest.approx(critical, abs=0.001)


def test_nothing_strays_among_equals_or_pairs():
    assert outlier_of([2.0, 2.0, 2.0]) is None
    assert outlier_of([2.0, 9.0]) is None


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: tolerance_factor(n=1, coverage=0.9, confidence=0.9), "n"),
        (lambda: tolerance_factor(n=5, coverage=1.0, confidence=0.9), "coverage"),
        (lambda: tolerance_factor(n=5, coverage=0.9, confidence=0.0), "confidence"),
        (lambda: kn_factor(n=1, v_known=False), "n"),
        (lambda: characteristic_en_1990([2.0, 2.1]), "values_mpa"),
        (lambda: characteristic_en_1990(FIVE, variation=0.0), "variation"),
        (lambda: characteristic_nzs_4298(FIVE[:4]), "values_mpa"),
        (lambda: spread_of([2.0, 0.0]), "values_mpa.1"),
    ],
)
def test_what_cannot_be_used_is_refused_by_its_field(call, field):
    with pytest.raises(Invalid) as refused:
        call()
    assert field in refused.value.fields
