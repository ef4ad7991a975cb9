"""What each calculation answers, key by key, against the hand calculation beside it."""

import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.errors import Invalid
from service.trade.sources import SOURCES
from service.work import registry
from service.work.answering import answer_text


def answer(name: str, given: dict[str, Any]) -> dict[str, Any]:
    """Return an answer that went through JSON, as every user of the contract sees it."""
    answered: dict[str, Any] = json.loads(json.dumps(answer_text(name, json.dumps(given)), allow_nan=False))
    return answered


def test_moisture_of_one_can() -> None:
    # Hand: (0.512 - 0.478) / (0.478 - 0.051) = 0.034 / 0.427.
    found = answer("moisture", {"wet_kg": 0.512, "dry_kg": 0.478, "can_kg": 0.051})
    assert found == {
        "moisture": pytest.approx(0.034 / 0.427, rel=1e-12),
        "moistures": [pytest.approx(0.034 / 0.427, rel=1e-12)],
        "range": 0.0,
    }


def test_moisture_of_several_cans() -> None:
    # Hand: 0.10 / 1.00 = 0.10 and (0.60 - 0.53) / (0.53 - 0.03) = 0.14; mean 0.12, range 0.04.
    cans = [{"wet_kg": 1.1, "dry_kg": 1.0}, {"wet_kg": 0.60, "dry_kg": 0.53, "can_kg": 0.03}]
    found = answer("moisture", {"cans": cans})
    assert found == {
        "moisture": pytest.approx(0.12, rel=1e-12),
        "moistures": [pytest.approx(0.10, rel=1e-12), pytest.approx(0.14, rel=1e-12)],
        "range": pytest.approx(0.04, rel=1e-12),
    }


def test_batch_from_blocks_to_the_graduation() -> None:
    # Hand: M = 5 x 1.40 x 1.05 = 7.35; D = 7.35 / 1.06 = 6.933962; native 5.200472 x 1.031 = 5.361686 -> 5.360;
    # sand 1.733491 x 1.004 = 1.740425 -> 1.740; cement 0.416038 -> 0.415; water 0.06 x 7.35 = 0.441 less
    # 0.161215 + 0.006934 = 0.272851 -> 0.275.
    given = {
        "blocks": 5,
        "dry_mass_per_block_kg": 1.40,
        "waste": 0.05,
        "components": [
            {"name": "native", "share": 0.75, "moisture": 0.031},
            {"name": "sand", "share": 0.25, "moisture": 0.004},
        ],
        "stabilisers": [{"name": "cement", "share": 0.06, "basis": "dry soil"}],
        "moisture": 0.06,
        "moisture_basis": "dry mix",
        "scale_graduation_kg": 0.005,
    }
    found = answer("batch", given)
    assert found["dry_kg"] == {
        "native": pytest.approx(5.200472, abs=1e-6),
        "sand": pytest.approx(1.733491, abs=1e-6),
        "cement": pytest.approx(0.416038, abs=1e-6),
    }
    assert (found["total_dry_kg"], found["total_wet_kg"]) == (7.35, 7.791)
    assert found["weigh_kg"] == {"native": 5.36, "sand": 1.74, "cement": 0.415}
    assert found["water_kg"] == 0.275
    assert found["stabiliser_shares"] == {
        "cement": {"dry soil": pytest.approx(0.06, rel=1e-15), "dry mix": pytest.approx(0.06 / 1.06, rel=1e-15)}
    }
    # Achieved: native 5.36 / 1.031 = 5.198836 dry, sand 1.74 / 1.004 = 1.733068, D 6.931904, M 7.346904;
    # water 0.275 + 0.161164 + 0.006932 = 0.443096.
    assert found["achieved"] == {
        "components": {"native": pytest.approx(0.749987, abs=1e-6), "sand": pytest.approx(0.250013, abs=1e-6)},
        "stabilisers": {
            "cement": {"dry soil": pytest.approx(0.059868, abs=1e-6), "dry mix": pytest.approx(0.056486, abs=1e-6)}
        },
        "moisture": pytest.approx(0.060311, abs=1e-6),
    }
    assert set(found) == {
        "dry_kg", "total_dry_kg", "total_wet_kg", "weigh_kg", "water_kg", "stabiliser_shares", "achieved",
    }  # fmt: skip


def test_batch_from_soil_without_a_stabiliser_or_a_graduation() -> None:
    # Hand: 4.2 kg at 3 % are 4.326 kg; water 0.06 x 4.2 - 0.126 = 0.126.
    found = answer(
        "batch", {"dry_soil_kg": 4.2, "components": [{"name": "soil", "share": 1, "moisture": 0.03}], "moisture": 0.06}
    )
    assert (found["weigh_kg"], found["water_kg"], found["total_dry_kg"]) == ({"soil": 4.326}, 0.126, 4.2)
    assert (found["stabiliser_shares"], found["achieved"]["stabilisers"]) == ({}, {})


def test_batch_takes_thirds_that_miss_one_in_their_last_digit() -> None:
    parts = [{"name": name, "share": 0.3333333333, "moisture": 0.0} for name in "abc"]
    found = answer("batch", {"dry_soil_kg": 3, "components": parts, "moisture": 0.1})
    assert sum(found["dry_kg"].values()) == pytest.approx(3.0, rel=1e-15)


def test_batch_may_need_no_water_at_all() -> None:
    # Hand: target 0.0604 of 10 kg = 0.604 kg, the soil at 6 % brings 0.600; 0.004 rounds to 0 on a 10 g scale.
    given = {
        "dry_soil_kg": 10,
        "components": [{"name": "soil", "share": 1, "moisture": 0.06}],
        "moisture": 0.0604,
        "scale_graduation_kg": 0.01,
    }
    assert answer("batch", given)["water_kg"] == 0.0


def test_batch_by_volume_parts_weighs_what_the_bulk_densities_say() -> None:
    # Hand: 9 l x 1.26 kg/l at 5 % are 10.8 kg dry, 3 l x 1.5 kg/l 4.5 kg: 15.3 kg; cement 1.53 kg is 10 %, lime 2 %.
    # 15.3 kg of dry soil: 11.34 kg of damp soil, 4.5 kg of sand, 1.53 kg and 0.306 kg.
    given = {
        "dry_soil_kg": 15.3,
        "components": [
            {"name": "soil", "parts": 9, "bulk_density_kg_l": 1.26, "moisture": 0.05},
            {"name": "sand", "parts": 3, "bulk_density_kg_l": 1.5, "moisture": 0},
        ],
        "stabilisers": [
            {"name": "cement", "parts": 1, "bulk_density_kg_l": 1.53},
            {"name": "lime", "parts": 0.5, "bulk_density_kg_l": 0.612},
        ],
        "moisture": 0.1,
        "moisture_basis": "dry soil",
    }
    found = answer("batch", given)
    assert found["weigh_kg"] == pytest.approx({"soil": 11.34, "sand": 4.5, "cement": 1.53, "lime": 0.306})
    assert found["water_kg"] == pytest.approx(1.53 - 0.54)
    assert found["stabiliser_shares"]["lime"]["dry soil"] == pytest.approx(0.02)


def test_grading_from_sieves() -> None:
    # Hand: washed out 81; accounted 12 + 380 + 31 + 81 = 504; passing 492 / 504 and 112 / 504; loss (431 - 423) / 431.
    # D30: 0.075 x (4.75 / 0.075)^((0.3 - 0.222222) / (0.976190 - 0.222222)) = 0.075 x 63.3333^0.103158 = 0.11506.
    given = {
        "sieves": [{"size_mm": 0.075, "retained_g": 380.0}, {"size_mm": 4.75, "retained_g": 12.0}],
        "pan_g": 31.0,
        "dry_mass_g": 512.0,
        "washed_dry_mass_g": 431.0,
    }
    found = answer("grading", given)
    assert found["passing"] == [
        {"size_mm": 4.75, "share": pytest.approx(492 / 504, rel=1e-15)},
        {"size_mm": 0.075, "share": pytest.approx(112 / 504, rel=1e-15)},
    ]
    assert found["loss_share"] == pytest.approx(8 / 431, rel=1e-15)
    assert found["d30_mm"] == pytest.approx(0.11506, abs=1e-5)
    assert (found["d10_mm"], found["cu"], found["cc"]) == (None, None, None)
    shares = (found["gravel_share"], found["sand_share"], found["fines_share"])
    assert shares == (
        pytest.approx(12 / 504, rel=1e-12),
        pytest.approx(380 / 504, rel=1e-12),
        pytest.approx(112 / 504, rel=1e-12),
    )


def test_grading_from_shares_has_no_loss() -> None:
    found = answer("grading", {"passing": [{"size_mm": 0.075, "share": 0.1}, {"size_mm": 2, "share": 1}]})
    assert found["loss_share"] is None
    assert (found["d10_mm"], found["gravel_share"]) == (0.075, 0.0)


def test_limits_from_a_flow_line() -> None:
    # Hand: water 0.50, 0.40, 0.30 at 10, 25 and 62.5 would be a line; within 5 to 60 blows take 10, 20 and 40, equally
    # spaced in log10 by 0.30103: 0.50, 0.44, 0.38: index 0.06 / 0.30103 = 0.199316, at 25: 0.44 - 0.199316 x
    # log10(1.25) = 0.44 - 0.019316 = 0.420684.
    given = {
        "flow": [{"blows": 10, "water": 0.50}, {"blows": 20, "water": 0.44}, {"blows": 40, "water": 0.38}],
        "plastic": [0.187, 0.191],
    }
    found = answer("limits", given)
    assert found == {
        "liquid_limit": pytest.approx(0.420684, abs=1e-6),
        "plastic_limit": pytest.approx(0.189, rel=1e-12),
        "plasticity_index": pytest.approx(0.231684, abs=1e-6),
        "flow_index": pytest.approx(0.199316, abs=1e-6),
        "flow_r2": pytest.approx(1.0, rel=1e-12),
        "plastic_range": pytest.approx(0.004, rel=1e-9),
        "a_line_index": pytest.approx(0.161099, abs=1e-6),
        "u_line_index": pytest.approx(0.306616, abs=1e-6),
        "above_a_line": True,
        "above_u_line": False,
        "non_plastic": False,
        "reported": {"liquid_limit": 42, "plastic_limit": 19, "plasticity_index": 23},
    }


def test_limits_of_a_soil_that_gives_no_thread() -> None:
    found = answer("limits", {"flow": [{"blows": 25, "water": 0.2}], "non_plastic": True})
    assert (found["plastic_limit"], found["plasticity_index"], found["non_plastic"]) == (None, 0.0, True)
    assert found["reported"] == {"liquid_limit": 20, "plastic_limit": None, "plasticity_index": 0}


def test_wall() -> None:
    # Hand: 1900 x 9.80665 x 2.4 / 10^6 + 6 / 140 = 0.044718 + 0.042857; 2.07 / 0.087575 = 23.637.
    given = {"density_kg_m3": 1900, "height_m": 2.4, "thickness_mm": 140, "line_load_kn_m": 6, "strength_mpa": 2.07}
    assert answer("wall", given) == {
        "foot_stress_mpa": pytest.approx(0.087575, abs=1e-6),
        "slenderness": pytest.approx(17.142857, abs=1e-6),
        "unit_strength_ratio": pytest.approx(23.637, abs=1e-3),
    }


def test_cost() -> None:
    # Hand: 0.1 x 0.18 = 0.018, x 37 = 0.666; carbon 0.1 x 0.86 + 1.3 x 0 = 0.086, x 37 = 3.182.
    given = {
        "dry_kg": {"native": 1.3, "cement": 0.1},
        "prices_per_kg": {"native": "0", "cement": "0.18", "lime": "0.30"},
        "carbon_per_kg": {"cement": 0.86, "native": 0},
        "blocks_per_m2": 37,
    }
    assert answer("cost", given) == {
        "cost_per_block": "0.018000",
        "cost_per_m2": "0.666000",
        "carbon_kg_per_block": pytest.approx(0.086, rel=1e-12),
        "carbon_kg_per_m2": pytest.approx(3.182, rel=1e-12),
        "carbon_missing": [],
    }


def test_cost_without_factors_or_square_metres() -> None:
    found = answer("cost", {"dry_kg": {"b": 1, "a": 1}, "prices_per_kg": {"a": "0.0000005", "b": "0"}})
    assert found == {
        "cost_per_block": "0.000001",
        "cost_per_m2": None,
        "carbon_kg_per_block": None,
        "carbon_kg_per_m2": None,
        "carbon_missing": ["b", "a"],
    }


def test_age() -> None:
    # Hand: see tests/trade/test_curing.py; the clocks of the place may change, the offset given does not.
    given = {
        "pressed_at": "2027-03-12T15:20:00-07:00",
        "age_days": 7,
        "tolerance_hours": 6,
        "soak_hours": 4,
        "soak_hours_max": 24,
    }
    assert answer("age", given) == {
        "due_at": "2027-03-19T15:20:00-07:00",
        "window": ["2027-03-19T09:20:00-07:00", "2027-03-19T21:20:00-07:00"],
        "soak_from": "2027-03-18T09:20:00-07:00",
        "soak_until": "2027-03-19T17:20:00-07:00",
    }


def test_age_without_a_soak() -> None:
    found = answer("age", {"pressed_at": "2027-03-12T15:20:00Z", "age_days": 1.5, "tolerance_hours": 0})
    assert (found["due_at"], found["soak_from"], found["soak_until"]) == ("2027-03-14T03:20:00+00:00", None, None)


FEW = ("moisture", "batch", "press", "grading", "limits", "wall", "cost", "age")
extreme = st.sampled_from([0, 1e-9, 1e-6, 1e-4, 0.1, 0.5, 1, 25, 100, 1e4, 1e7, 1e9])


@given(st.data())
@settings(max_examples=200, deadline=None)
def test_numbers_at_the_ends_of_what_is_taken_are_answered_in_finite_numbers_or_refused(data: st.DataObject) -> None:
    def number() -> float:
        return data.draw(extreme)

    inputs = {
        "moisture": lambda: {"cans": [{"wet_kg": number(), "dry_kg": number(), "can_kg": number()}]},
        "batch": lambda: {
            "blocks": data.draw(st.integers(1, 10**9)),
            "dry_mass_per_block_kg": number(),
            "waste": number(),
            "components": [{"name": "a", "share": 1, "moisture": number()}],
            "stabilisers": [
                {"name": "b", "share": number(), "basis": "dry mix"},
                {"name": "c", "share": number(), "basis": "dry soil"},
            ],
            "moisture": number(),
            "scale_graduation_kg": number(),
        },
        "press": lambda: {
            "points": [{"gauge_mpa": number(), "force_kn": number()} for _ in range(3)],
            "face_length_mm": number(),
            "face_width_mm": number(),
            data.draw(st.sampled_from(["gauge_mpa", "stress_mpa"])): number(),
        },
        "grading": lambda: {
            "sieves": [{"size_mm": number(), "retained_g": number()} for _ in range(3)],
            "pan_g": number(),
            "dry_mass_g": number(),
            "washed_dry_mass_g": number(),
        },
        "limits": lambda: {
            "flow": [{"blows": blows, "water": number()} for blows in (15, 20, 40)],
            "plastic": [number()],
        },
        "wall": lambda: {
            "density_kg_m3": number(),
            "height_m": number(),
            "thickness_mm": number(),
            "line_load_kn_m": number(),
            "strength_mpa": number(),
        },
        "cost": lambda: {
            "dry_kg": {"a": number()},
            "prices_per_kg": {"a": "9" * 200},
            "carbon_per_kg": {"a": number()},
            "blocks_per_m2": number(),
        },
        "age": lambda: {
            "pressed_at": "0001-01-01T00:00:00+14:00",
            "age_days": number(),
            "tolerance_hours": number(),
            "soak_hours": number(),
        },
    }
    name = data.draw(st.sampled_from(FEW))
    try:
        answer(name, inputs[name]())
    except Invalid as refused:
        assert refused.fields


def test_every_name_opens_its_file_and_gives_a_schema_that_refuses_other_keys() -> None:
    for name in registry.names():
        schema = registry.find(name).model.model_json_schema()
        assert schema["additionalProperties"] is False
        assert schema["properties"]


def test_every_calculation_states_its_formula_and_sources_that_exist() -> None:
    for name in registry.names():
        calculation = registry.find(name)
        assert calculation.formula
        assert calculation.source_keys
        assert set(calculation.source_keys) <= set(SOURCES)
