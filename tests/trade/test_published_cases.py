"""Published cases that belong to no one formula: rules on readings, blends that do not add up, what no block showed."""

import json

import pytest

from service.errors import Invalid
from service.trade.block.durability_tests import Endured
from service.trade.criteria.codes_and_rules import MPA_IN, published
from service.trade.criteria.durability_limits import PSI_MPA, verdict_of
from service.trade.strength.censored_readings import held
from service.trade.strength.estimate import strength
from service.trade.strength.estimate_result import Group
from service.trade.strength.statistics import kn_factor
from service.trade.wall.wall_load import slenderness
from service.work.answering import answer_text


@pytest.mark.parametrize(
    ("psi", "mean_psi", "passes"),
    [
        pytest.param([70, 60, 55, 50, 34], 53.8, False, id="handbook.json AC-07: 780 CMR 2109.3.1.2, seen"),
        pytest.param([50, 50, 50, 50, 50], 50.0, True, id="handbook.json AC-08: 780 CMR 2109.3.1.2, seen"),
    ],
)
def test_bending_of_adobe_is_judged_by_mean_and_by_each(psi: list[float], mean_psi: float, passes: bool) -> None:
    assert sum(psi) / len(psi) == pytest.approx(mean_psi, abs=1e-3)
    blocks = [Endured("bending", one * PSI_MPA) for one in psi]
    found = [verdict_of(demand, blocks) for demand in published()["ibc-adobe"].demands if demand.test == "bending"]
    assert (set(found) == {"met"}) is passes and ("not met" in found) is not passes


def test_many_readings_bring_the_factor_of_en_1990_to_that_of_the_normal() -> None:
    # handbook.json KN-inf: EN 1990 Table D1, both rows, second-hand.
    for v_known in (True, False):
        assert kn_factor(n=10**7, v_known=v_known) == pytest.approx(1.64, abs=5e-3)


def test_a_wall_ten_times_its_thickness_is_as_slender_as_the_adobe_rule_allows() -> None:
    # handbook.json WA-07: a city code of Arizona, unburned adobe at most 10 t, 140 in for 14 in, seen.
    assert slenderness(height_m=140 * 0.0254, thickness_mm=14 * 25.4) == pytest.approx(10, rel=1e-12)


@pytest.mark.parametrize("key", ["20", "40", "60"])
def test_the_french_classes_ask_half_of_wet_blocks(key: str) -> None:
    # handbook.json LI-04: XP P13-901:2001, memory.
    dry, wet = published()[f"xp-p13-901-2001-{key}"].rules
    assert (dry.limit, wet.limit / dry.limit) == (float(key) / 10, pytest.approx(0.5, abs=1e-9))


def test_kilograms_force_on_a_square_centimetre_are_not_a_tenth_of_a_megapascal() -> None:
    # cases.json CE-02: a report prints 6.53 MPa for 66.52 kgf/cm2; 66.52 x 0.0980665 = 6.5234.
    assert MPA_IN["kgf/cm2"] * 66.52 == pytest.approx(6.5234, abs=2e-4)


def test_five_blocks_that_all_outlasted_the_press_give_no_estimate() -> None:
    # cases.json RC-08: held at 5.5 MPa, a maximum-likelihood estimate does not exist.
    (group,) = strength([Group("A", "dry", (held(stress_mpa=5.5),) * 5)]).groups
    assert (group.median_mpa, group.high_mpa, group.characteristic_mpa, group.next_high_mpa) == (None,) * 4
    assert group.low_mpa is not None and group.low_mpa > 5.0


def test_proportions_that_add_to_99_percent_are_refused() -> None:
    # cases.json BL-02: a worked exercise whose three fractions are 0.34, 0.27 and 0.38.
    components = [
        {"name": name, "share": share, "moisture": 0.0} for name, share in (("a", 0.34), ("b", 0.27), ("c", 0.38))
    ]
    with pytest.raises(Invalid) as refused:
        answer_text("batch", json.dumps({"dry_soil_kg": 10, "components": components, "moisture": 0.08}))
    assert refused.value.fields == {"components": "The shares must sum to 1; they sum to 0.99."}
