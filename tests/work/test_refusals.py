"""What a calculation does not take: each refusal names its field."""

import json
from typing import Any

import pytest

from service.errors import Invalid, NotFound
from service.work.answering import answer_text

GOOD: dict[str, dict[str, Any]] = {
    "moisture": {"wet_kg": 0.512, "dry_kg": 0.478, "can_kg": 0.051},
    "batch": {
        "blocks": 5,
        "dry_mass_per_block_kg": 1.40,
        "waste": 0.05,
        "components": [
            {"name": "native", "share": 0.75, "moisture": 0.031},
            {"name": "sand", "share": 0.25, "moisture": 0.004},
        ],
        "stabilisers": [{"name": "cement", "share": 0.06, "basis": "dry soil"}],
        "moisture": 0.06,
    },
    "press": {
        "ram_diameter_mm": 76.2,
        "efficiency": 0.95,
        "face_length_mm": 140,
        "face_width_mm": 90,
        "gauge_mpa": 30,
    },
    "grading": {
        "sieves": [{"size_mm": 4.75, "retained_g": 12.0}, {"size_mm": 0.075, "retained_g": 380.0}],
        "pan_g": 31.0,
        "dry_mass_g": 512.0,
        "washed_dry_mass_g": 431.0,
    },
    "limits": {"flow": [{"blows": 25, "water": 0.40}], "plastic": [0.187, 0.191]},
    "wall": {"density_kg_m3": 1900, "height_m": 2.4, "thickness_mm": 140, "strength_mpa": 2.07},
    "cost": {"dry_kg": {"native": 1.3, "cement": 0.1}, "prices_per_kg": {"native": "0", "cement": "0.18"}},
    "age": {"pressed_at": "2027-03-01T15:20:00-07:00", "age_days": 7, "tolerance_hours": 6},
}
POINTS = [{"gauge_mpa": gauge, "force_kn": 4.3 * gauge} for gauge in (5, 15, 25)]
CALIBRATED = {"points": POINTS, "face_length_mm": 140, "face_width_mm": 90, "gauge_mpa": 20}
ABSENT = object()


def component(**changes: Any) -> dict[str, Any]:
    return {"components": [{"name": "native", "share": 1, "moisture": 0.03} | changes]}


def stabiliser(**changes: Any) -> dict[str, Any]:
    return {"stabilisers": [{"name": "cement", "share": 0.06, "basis": "dry soil"} | changes]}


def sieve(**changes: Any) -> dict[str, Any]:
    return {"sieves": [{"size_mm": 4.75, "retained_g": 12} | changes]}


def refused(name: str, text: str) -> Invalid:
    """Return the refusal of ``text``, after looking at its shape."""
    with pytest.raises(Invalid) as caught:
        answer_text(name, text)
    refusal = caught.value
    for sentence in (refusal.sentence, *refusal.fields.values()):
        assert sentence.endswith(".") and "\n" not in sentence
    return refusal


def changed(name: str, changes: dict[str, Any]) -> str:
    given = {key: value for key, value in (GOOD[name] | changes).items() if value is not ABSENT}
    return json.dumps(given)


@pytest.mark.parametrize("name", GOOD)
def test_the_untouched_input_is_answered(name: str) -> None:
    assert answer_text(name, json.dumps(GOOD[name]))


@pytest.mark.parametrize(
    ("name", "changes", "fields"),
    [
        # moisture
        ("moisture", {"dry_kg": 0.051, "wet_kg": 0.06}, {"dry_kg"}),
        ("moisture", {"dry_kg": 0.04}, {"dry_kg"}),
        ("moisture", {"wet_kg": 0.477}, {"wet_kg"}),
        ("moisture", {"can_kg": -0.001}, {"can_kg"}),
        ("moisture", {"wet_kg": ABSENT}, {"wet_kg"}),
        ("moisture", {"cans": [{"wet_kg": 2, "dry_kg": 1}]}, {"wet_kg", "dry_kg", "can_kg"}),
        ("moisture", dict.fromkeys(GOOD["moisture"], ABSENT) | {"cans": []}, {"cans"}),
        (
            "moisture",
            dict.fromkeys(GOOD["moisture"], ABSENT)
            | {"cans": [{"wet_kg": 2, "dry_kg": 1}, {"wet_kg": 2, "dry_kg": 1, "can_kg": 1}]},
            {"cans.1.dry_kg"},
        ),
        # batch
        ("batch", {"components": []}, {"components"}),
        ("batch", {"components": [{"name": "a", "share": 0.99, "moisture": 0}]}, {"components"}),
        ("batch", {"components": [{"name": "a", "share": 1.00000001, "moisture": 0}]}, {"components"}),
        ("batch", component(share=-1), {"components.0.share"}),
        ("batch", component(moisture=-0.01), {"components.0.moisture"}),
        ("batch", component(name=""), {"components.0.name"}),
        ("batch", component(name="n" * 201), {"components.0.name"}),
        ("batch", component(colour="red"), {"components.0.colour"}),
        ("batch", component(name="cement"), {"stabilisers.0.name"}),
        ("batch", {"components": GOOD["batch"]["components"][:1] * 2}, {"components.1.name"}),
        ("batch", {"stabilisers": GOOD["batch"]["stabilisers"] * 2}, {"stabilisers.1.name"}),
        ("batch", stabiliser(share=-0.06), {"stabilisers.0.share"}),
        ("batch", stabiliser(basis="soil"), {"stabilisers.0.basis"}),
        ("batch", stabiliser(basis=ABSENT), {"stabilisers.0.basis"}),
        ("batch", stabiliser(share=1, basis="dry mix"), {"stabilisers"}),
        ("batch", {"moisture": 0.01}, {"moisture"}),
        ("batch", {"moisture": -0.01}, {"moisture"}),
        ("batch", {"moisture": ABSENT}, {"moisture"}),
        ("batch", {"moisture_basis": "wet mix"}, {"moisture_basis"}),
        ("batch", {"scale_graduation_kg": 0}, {"scale_graduation_kg"}),
        ("batch", {"scale_graduation_kg": 5}, {"scale_graduation_kg"}),
        ("batch", {"blocks": 0}, {"blocks"}),
        ("batch", {"blocks": 2.5}, {"blocks"}),
        ("batch", {"blocks": ABSENT}, {"blocks"}),
        ("batch", {"dry_mass_per_block_kg": 0}, {"dry_mass_per_block_kg"}),
        ("batch", {"dry_mass_per_block_kg": ABSENT}, {"dry_mass_per_block_kg"}),
        ("batch", {"waste": -0.05}, {"waste"}),
        ("batch", {"dry_soil_kg": 4.2}, {"blocks", "dry_mass_per_block_kg"}),
        ("batch", {"dry_soil_kg": 4.2, "blocks": ABSENT, "dry_mass_per_block_kg": ABSENT}, {"waste"}),
        ("batch", {"dry_soil_kg": 0, "blocks": ABSENT, "dry_mass_per_block_kg": ABSENT}, {"dry_soil_kg"}),
        ("batch", {"stabilisers": [{"name": "cement", "share": 0.06}]}, {"stabilisers.0.basis"}),
        (
            "batch",
            {"stabilisers": [{"name": "cement", "parts": 1, "bulk_density_kg_l": 1.4}]},
            {f"components.{n}.{key}" for n in (0, 1) for key in ("share", "parts", "bulk_density_kg_l")},
        ),
        (
            "batch",
            {
                "components": [{"name": "native", "share": 1, "bulk_density_kg_l": 1.4, "moisture": 0}],
                "stabilisers": [],
            },
            {"components.0.bulk_density_kg_l"},
        ),
        (
            "batch",
            {"components": [{"name": "native", "parts": 1, "moisture": 0}], "stabilisers": []},
            {"components.0.bulk_density_kg_l"},
        ),
        # press
        ("press", {"efficiency": 0}, {"efficiency"}),
        ("press", {"efficiency": 1.01}, {"efficiency"}),
        ("press", {"efficiency": ABSENT}, {"efficiency"}),
        ("press", {"rams": 0}, {"rams"}),
        ("press", {"ram_diameter_mm": 0}, {"ram_diameter_mm"}),
        ("press", {"face_width_mm": 0}, {"face_width_mm"}),
        ("press", {"face_length_mm": ABSENT}, {"face_length_mm"}),
        ("press", {"gauge_mpa": 0}, {"gauge_mpa"}),
        ("press", {"gauge_mpa": -1}, {"gauge_mpa"}),
        ("press", {"gauge_mpa": 0.5, "zero_mpa": 0.5}, {"gauge_mpa"}),
        ("press", {"gauge_mpa": ABSENT}, {"gauge_mpa"}),
        ("press", {"gauge_mpa": ABSENT, "stress_mpa": 0}, {"stress_mpa"}),
        ("press", {"gauge_mpa": ABSENT, "stress_mpa": -2}, {"stress_mpa"}),
        ("press", {"stress_mpa": 2}, {"gauge_mpa"}),
        ("press", {"points": POINTS}, {"ram_diameter_mm", "efficiency"}),
        ("press", {"stress_rate_mpa_s": 0}, {"stress_rate_mpa_s"}),
        ("press", {"working_limit_kn": 0}, {"working_limit_kn"}),
        ("press", {"working_limit_kn": 129}, {"gauge_mpa"}),
        ("press", {"gauge_mpa": ABSENT, "stress_mpa": 10.4, "working_limit_kn": 131}, {"stress_mpa"}),
        ("press", {"stress_rate_mpa_s": 0.05, "load_rate_kn_s": 0.5}, {"load_rate_kn_s"}),
        # grading
        (
            "grading",
            {"passing": [{"size_mm": 1, "share": 0.5}]},
            {"sieves", "pan_g", "dry_mass_g", "washed_dry_mass_g"},
        ),
        ("grading", {"sieves": []}, {"sieves"}),
        ("grading", {"sieves": ABSENT}, {"sieves"}),
        ("grading", {"pan_g": ABSENT}, {"pan_g"}),
        ("grading", {"pan_g": -1}, {"pan_g"}),
        ("grading", {"dry_mass_g": ABSENT}, {"dry_mass_g"}),
        ("grading", {"dry_mass_g": 430}, {"washed_dry_mass_g"}),
        ("grading", sieve(size_mm=0), {"sieves.0.size_mm"}),
        ("grading", sieve(retained_g=-1), {"sieves.0.retained_g"}),
        ("grading", {"sieves": [{"size_mm": 1, "retained_g": 1}] * 2}, {"sieves.1.size_mm"}),
        # limits
        ("limits", {"flow": []}, {"flow"}),
        ("limits", {"flow": [{"blows": 20, "water": 0.4}, {"blows": 30, "water": 0.38}]}, {"flow"}),
        ("limits", {"flow": [{"blows": 19, "water": 0.4}]}, {"flow.0.blows"}),
        ("limits", {"flow": [{"blows": 31, "water": 0.4}]}, {"flow.0.blows"}),
        ("limits", {"flow": [{"blows": b, "water": 0.4} for b in (4, 25, 61)]}, {"flow.0.blows", "flow.2.blows"}),
        ("limits", {"flow": [{"blows": 25, "water": -0.4}]}, {"flow.0.water"}),
        ("limits", {"plastic": ABSENT}, {"plastic"}),
        ("limits", {"plastic": ABSENT, "non_plastic": False}, {"plastic"}),
        ("limits", {"plastic": []}, {"plastic"}),
        ("limits", {"plastic": [0.2, -0.1]}, {"plastic.1"}),
        ("limits", {"non_plastic": True}, {"plastic"}),
        ("limits", {"non_plastic": 1}, {"non_plastic"}),
        # wall
        *[("wall", {key: 0}, {key}) for key in GOOD["wall"]],
        *[("wall", {key: ABSENT}, {key}) for key in GOOD["wall"]],
        ("wall", {"line_load_kn_m": -1}, {"line_load_kn_m"}),
        # cost
        ("cost", {"dry_kg": {}}, {"dry_kg"}),
        ("cost", {"dry_kg": {"native": -1.3}}, {"dry_kg.native"}),
        ("cost", {"prices_per_kg": {"native": "0"}}, {"prices_per_kg.cement"}),
        ("cost", {"prices_per_kg": {"native": "0", "cement": 0.18}}, {"prices_per_kg.cement"}),
        ("cost", {"prices_per_kg": {"native": "0", "cement": "-0.18"}}, {"prices_per_kg.cement"}),
        ("cost", {"prices_per_kg": {"native": "0", "cement": "0,18"}}, {"prices_per_kg.cement"}),
        ("cost", {"prices_per_kg": {"native": "0", "cement": "٣"}}, {"prices_per_kg.cement"}),
        ("cost", {"carbon_per_kg": {"cement": -0.86}}, {"carbon_per_kg.cement"}),
        ("cost", {"blocks_per_m2": 0}, {"blocks_per_m2"}),
        # age
        ("age", {"pressed_at": "2027-03-01T15:20:00"}, {"pressed_at"}),
        ("age", {"pressed_at": "2027-02-30T15:20:00-07:00"}, {"pressed_at"}),
        ("age", {"pressed_at": 5}, {"pressed_at"}),
        ("age", {"age_days": 0}, {"age_days"}),
        ("age", {"age_days": 1e12}, {"age_days"}),
        ("age", {"tolerance_hours": -1}, {"tolerance_hours"}),
        ("age", {"tolerance_hours": ABSENT}, {"tolerance_hours"}),
        ("age", {"soak_hours_max": 24}, {"soak_hours"}),
        ("age", {"soak_hours": 25, "soak_hours_max": 24}, {"soak_hours_max"}),
    ],
)
def test_what_does_not_go_is_refused_by_its_fields(name: str, changes: dict[str, Any], fields: set[str]) -> None:
    changes = {
        key: [
            {k: v for k, v in entry.items() if v is not ABSENT} if isinstance(entry, dict) else entry for entry in value
        ]
        if isinstance(value, list)
        else value
        for key, value in changes.items()
    }
    assert set(refused(name, changed(name, changes)).fields) == fields


@pytest.mark.parametrize(
    ("changes", "fields"),
    [
        ({"points": POINTS[:2]}, {"points"}),
        ({"points": [POINTS[0], POINTS[0], POINTS[0]]}, {"points"}),
        ({"points": []}, {"points"}),
        ({"points": [*POINTS, {"gauge_mpa": -1, "force_kn": 1}]}, {"points.3.gauge_mpa"}),
        ({"points": [*POINTS, {"gauge_mpa": 1, "force_kn": -1}]}, {"points.3.force_kn"}),
        *[({key: 1}, {key}) for key in ("ram_diameter_mm", "rams", "efficiency", "zero_mpa")],
        (
            {"points": [{"gauge_mpa": gauge, "force_kn": 4 * gauge - 10} for gauge in (5, 15, 25)], "gauge_mpa": 2},
            {"gauge_mpa"},
        ),
    ],
)
def test_a_calibration_that_does_not_go_is_refused_by_its_fields(changes: dict[str, Any], fields: set[str]) -> None:
    assert set(refused("press", json.dumps(CALIBRATED | changes)).fields) == fields


@pytest.mark.parametrize(
    ("passing", "fields"),
    [
        ([{"size_mm": 1, "share": 0.5}, {"size_mm": 0.1, "share": 0.6}], {"passing.1.share"}),
        ([{"size_mm": 0.1, "share": 0.6}, {"size_mm": 1, "share": 0.5}], {"passing.0.share"}),
        ([{"size_mm": 1, "share": 0.5}, {"size_mm": 1, "share": 0.5}], {"passing.1.size_mm"}),
        ([{"size_mm": 1, "share": 1.5}], {"passing.0.share"}),
        ([{"size_mm": 1, "share": -0.5}], {"passing.0.share"}),
        ([], {"passing"}),
    ],
)
def test_a_curve_that_does_not_go_is_refused_by_its_fields(passing: list[Any], fields: set[str]) -> None:
    assert set(refused("grading", json.dumps({"passing": passing})).fields) == fields


@pytest.mark.parametrize("name", GOOD)
def test_an_unknown_key_is_refused_by_its_name(name: str) -> None:
    assert set(refused(name, changed(name, {"colour": "red"})).fields) == {"colour"}


@pytest.mark.parametrize("name", GOOD)
def test_a_key_given_twice_is_refused_even_with_the_same_value(name: str) -> None:
    key = next(iter(GOOD[name]))
    text = json.dumps(GOOD[name])
    assert set(refused(name, text[:-1] + f', "{key}": {json.dumps(GOOD[name][key])}}}').fields) == {key}


def test_a_key_given_twice_deep_inside_is_refused_where_it_stands() -> None:
    text = changed("batch", {}).replace('"share": 0.25', '"share": 0.25, "share": 0.25')
    assert set(refused("batch", text).fields) == {"components.1.share"}


@pytest.mark.parametrize(
    "number", ["NaN", "Infinity", "-Infinity", "1e999", "-1e999", "1" * 400, "1" * 5000, "1e-400x"]
)
def test_a_number_that_is_none_is_refused(number: str) -> None:
    text = json.dumps(GOOD["wall"]).replace("1900", number)
    refusal = refused("wall", text)
    assert set(refusal.fields) == (set() if number.endswith("x") else {"density_kg_m3"})


@pytest.mark.parametrize("value", ["1900", True, False, None, [], {}, [1900]])
def test_what_is_no_number_is_refused_as_one(value: Any) -> None:
    assert set(refused("wall", changed("wall", {"density_kg_m3": value})).fields) == {"density_kg_m3"}


@pytest.mark.parametrize(
    ("name", "text", "field"),
    [
        ("limits", json.dumps({"flow": [{"blows": 25, "water": 0.4}], "plastic": [0.2] * 501}), "plastic"),
        ("grading", json.dumps({"passing": [{"size_mm": 501 - i, "share": 0.5} for i in range(501)]}), "passing"),
        ("press", json.dumps(CALIBRATED | {"points": POINTS * 167}), "points"),
        ("moisture", json.dumps({"cans": [{"wet_kg": 2, "dry_kg": 1}] * 501}), "cans"),
    ],
)
def test_a_list_of_more_than_500_is_refused_and_one_of_500_is_not(name: str, text: str, field: str) -> None:
    assert set(refused(name, text).fields) == {field}
    shorter = json.loads(text)
    shorter[field] = shorter[field][:500]
    assert answer_text(name, json.dumps(shorter))


def test_text_of_200_characters_is_taken_and_one_more_is_not() -> None:
    assert answer_text("batch", changed("batch", component(name="n" * 200)))
    assert set(refused("batch", changed("batch", component(name="n" * 201))).fields) == {"components.0.name"}


@pytest.mark.parametrize(
    "text", ["", "{", "[]", "5", '"batch"', "null", "[" * 100_000, b"\xff\xfe{}", '{"a": 1,}', "{'a': 1}"]
)
def test_what_is_no_json_object_is_refused_without_a_field(text: Any) -> None:
    with pytest.raises(Invalid) as caught:
        answer_text("wall", text)
    assert caught.value.fields == {}


def test_half_a_character_is_refused() -> None:
    assert set(refused("batch", changed("batch", component(name="\ud800"))).fields) == {"components.0.name"}


def test_an_object_too_deep_is_refused() -> None:
    refusal = refused("moisture", '{"cans": ' + "[" * 50 + "]" * 50 + "}")
    assert len(refusal.fields) == 1


def test_a_calculation_that_is_not_there_is_not_found() -> None:
    with pytest.raises(NotFound):
        answer_text("weather", "{}")


def test_every_field_at_fault_is_named_at_once() -> None:
    text = json.dumps({"density_kg_m3": "1900", "height_m": -1, "colour": 1, "strength_mpa": 2})
    refusal = refused("wall", text)
    assert set(refusal.fields) == {"density_kg_m3", "height_m", "thickness_mm", "colour"}
    assert refusal.sentence == "4 entries cannot be used."
