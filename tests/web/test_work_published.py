"""The sources' own numbers once more, this time as a program meets them: JSON in, JSON out."""

import json
from typing import Any

import pytest
from starlette.testclient import TestClient

from tests.cases import REFERENCE, cases, near
from tests.cast import Cast
from tests.trade.strength_jobs import SPECIAL, apart

LBF_N, IN_MM, PSI_PER_MPA = 4.4482216152605, 25.4, 145.03773773


@pytest.fixture(scope="module")
def program(still_cast: Cast) -> TestClient:
    """Return a program that speaks for the technician."""
    return still_cast.program("tess")


def post(client: TestClient, name: str, given: dict[str, Any]) -> Any:
    """Return the answer to an input that is taken."""
    answer = client.post(f"/api/v1/work/{name}", json=given)
    assert answer.status_code == 200, answer.text
    return answer.json()


def only(subject: str, *, having: str) -> list[Any]:
    """Return the cases of a file whose expected numbers include ``having``."""
    return [case for case in cases(subject) if having in case.values[0]["expected"]]


@pytest.mark.parametrize("case", cases("moisture"))
def test_moisture(program: TestClient, case: dict[str, Any]) -> None:
    given, wanted = case["inputs"], case["expected"]
    if "can" in given:
        columns = zip(given["wet"], given["dry"], given["can"], strict=True)
        cans = [{"wet_kg": wet, "dry_kg": dry, "can_kg": can} for wet, dry, can in columns]
        found, percent = post(program, "moisture", {"cans": cans}), wanted["mean"]
    else:
        masses = {"wet_kg": given["wet_plus_tin_g"], "dry_kg": given["dry_plus_tin_g"], "can_kg": given["tin_g"]}
        found, percent = post(program, "moisture", masses), wanted["w_percent"]
    assert 100 * found["moisture"] == near(percent, tolerance=case["tolerance"])


@pytest.mark.parametrize("case", only("batch", having="water_to_add_kg"))
def test_batch(program: TestClient, case: dict[str, Any]) -> None:
    given, wanted = case["inputs"], case["expected"]
    share = given["stabiliser_fraction_of_dry_soil"]
    found = post(
        program,
        "batch",
        {
            "blocks": given["blocks"],
            "dry_mass_per_block_kg": given["block_volume_m3"] * given["dry_density_kg_m3"],
            "components": [{"name": "soil", "share": 1, "moisture": given["soil_moisture"]}],
            "stabilisers": [{"name": "cement", "share": share, "basis": "dry soil"}],
            "moisture": given["target_moisture"],
        },
    )
    near_it = {"tolerance": case["tolerance"]}
    assert found["total_dry_kg"] == near(wanted["dry_total_kg"], **near_it)
    assert found["weigh_kg"]["soil"] == near(wanted["moist_soil_to_weigh_kg"], **near_it)
    assert found["water_kg"] == near(wanted["water_to_add_kg"], **near_it)


@pytest.mark.parametrize("case", cases("stress"))
def test_press(program: TestClient, case: dict[str, Any]) -> None:
    # A gauge that shows the force itself: the line through the points has slope 1 and no intercept.
    points = [{"gauge_mpa": force, "force_kn": force} for force in (0, 100, 400)]
    given = case["inputs"]
    faces = {"face_length_mm": given["length_mm"], "face_width_mm": given["width_mm"]}
    found = post(program, "press", {"points": points, "gauge_mpa": given["force_kN"], **faces})
    assert found["stress_mpa"] == near(case["expected"]["stress_MPa"], tolerance=case["tolerance"])


@pytest.mark.parametrize("case", cases("grading"))
def test_grading(program: TestClient, case: dict[str, Any]) -> None:
    sizes, kept = case["inputs"]["sieve_mm"], case["inputs"]["retained_g"]
    sieves = [{"size_mm": size, "retained_g": mass} for size, mass in zip(sizes, kept[:-1], strict=True)]
    found = post(program, "grading", {"sieves": sieves, "pan_g": kept[-1], "dry_mass_g": sum(kept)})
    wanted, tolerance = case["expected"], case["tolerance"]
    finer = [100 * point["share"] for point in found["passing"]]
    assert finer == pytest.approx(wanted["percent_finer"], abs=tolerance["percent_finer"])
    for key, name in (("d10_mm", "D10"), ("d30_mm", "D30"), ("d60_mm", "D60"), ("cu", "Cu"), ("cc", "Cc")):
        assert found[key] == near(wanted[name], tolerance=tolerance[name])


@pytest.mark.parametrize("case", only("limits", having="PI"))
def test_limits(program: TestClient, case: dict[str, Any]) -> None:
    given, wanted = case["inputs"], case["expected"]
    flow = [{"blows": blows, "water": water / 100} for blows, water in zip(given["N"], given["w"], strict=True)]
    found = post(program, "limits", {"flow": flow, "plastic": [given["PL"] / 100]})
    assert 100 * found["liquid_limit"] == near(wanted["LL"], tolerance=case["tolerance"])
    assert 100 * found["plasticity_index"] == near(wanted["PI"], tolerance=case["tolerance"])


CLASSIFIED = json.loads((REFERENCE / "classify.json").read_text())


@pytest.mark.parametrize("case", CLASSIFIED, ids=[f"{row['id']}: {row['source']}" for row in CLASSIFIED])
def test_classify(program: TestClient, case: dict[str, Any]) -> None:
    keys = ("passing", "liquid_limit", "plastic_limit", "liquid_limit_oven_dried", "non_plastic")
    found = post(program, "classify", {key: case[key] for key in keys if key in case})
    assert found["symbol"] == case["symbol"]


@pytest.mark.parametrize("case", only("wall", having="stress_MPa"))
def test_wall(program: TestClient, case: dict[str, Any]) -> None:
    given, wanted = case["inputs"], case["expected"]
    found = post(
        program,
        "wall",
        {
            "density_kg_m3": given["density_kg_m3"],
            "height_m": given["height_m"],
            "thickness_mm": 1000 * given.get("thickness_m", 0.2),
            "line_load_kn_m": given.get("roof_kN_per_m", 0),
            "strength_mpa": 2,
        },
    )
    assert found["foot_stress_mpa"] == near(wanted["stress_MPa"], tolerance=case["tolerance"])


@pytest.mark.parametrize("case", only("carbon", having="kgCO2e_per_block_cement_only"))
def test_cost_in_carbon(program: TestClient, case: dict[str, Any]) -> None:
    given = case["inputs"]
    found = post(
        program,
        "cost",
        {
            "dry_kg": {"cement": given["cement_per_block_kg"]},
            "prices_per_kg": {"cement": "0"},
            "carbon_per_kg": {"cement": given["factor_kgCO2e_per_kg"]},
        },
    )
    wanted = case["expected"]["kgCO2e_per_block_cement_only"]
    assert found["carbon_kg_per_block"] == near(wanted, tolerance=case["tolerance"])


@pytest.mark.parametrize("case", only("shrinkage", having="percent"))
def test_shrinkage(program: TestClient, case: dict[str, Any]) -> None:
    given = {"box_length_mm": case["inputs"]["mould_mm"], "shrinkage_mm": case["inputs"]["shrinkage_mm"]}
    found = post(program, "shrinkage", given)
    assert 100 * found["shrinkage"] == near(case["expected"]["percent"], tolerance=case["tolerance"])


@pytest.mark.parametrize("case", only("density", having="dry_kg_m3"))
def test_density(program: TestClient, case: dict[str, Any]) -> None:
    given = case["inputs"]
    # 943.3 cm3 as a prism of 100 x 100 mm.
    prism = {"length_mm": 100, "width_mm": 100, "heights_mm": [given["volume_cm3"] / 10]}
    found = [
        post(program, "density", {**prism, "wet_mass_kg": mass, "moisture": percent / 100})["dry_density_kg_m3"]
        for mass, percent in zip(given["wet_kg"], given["w_pct"], strict=True)
    ]
    assert found == pytest.approx(case["expected"]["dry_kg_m3"], abs=case["tolerance"]["dry_kg_m3"])


@pytest.mark.parametrize("case", only("absorption", having="gain_percent"))
def test_absorption(program: TestClient, case: dict[str, Any]) -> None:
    before, after = case["inputs"]["dry_mass_g"] / 1000, case["inputs"]["mass_after_7d_g"] / 1000
    found = post(program, "absorption", {"mass_before_kg": before, "mass_after_kg": after, "oven_dry": True})
    assert 100 * found["absorption"] == near(case["expected"]["gain_percent"], tolerance=case["tolerance"])


@pytest.mark.parametrize("case", cases("flexure"))
def test_flexure(program: TestClient, case: dict[str, Any]) -> None:
    given = case["inputs"]
    found = post(
        program,
        "flexure",
        {
            "force_kn": given["P_lbf"] * LBF_N / 1000,
            "span_mm": given["L_in"] * IN_MM,
            "width_mm": given["b_in"] * IN_MM,
            "thickness_mm": given["t_in"] * IN_MM,
        },
    )
    psi = found["modulus_of_rupture_mpa"] * PSI_PER_MPA
    assert psi == near(case["expected"]["fr_psi"], tolerance=case["tolerance"])


@pytest.mark.parametrize("case", only("shape", having="delta"))
def test_shape(program: TestClient, case: dict[str, Any]) -> None:
    height, width = case["inputs"]["height_mm"], case["inputs"]["width_mm"]
    found = post(program, "shape", {"strength_mpa": 1, "height_mm": height, "thickness_mm": width})
    assert found["en_772_1"]["factor"] == near(case["expected"]["delta"], tolerance=case["tolerance"] or 1e-12)


STATISTICS = json.loads((REFERENCE / "statistics.json").read_text())


@pytest.mark.parametrize(
    "case", STATISTICS["characteristic"], ids=[f"{row['id']}: {row['source']}" for row in STATISTICS["characteristic"]]
)
def test_rule(program: TestClient, case: dict[str, Any]) -> None:
    ways = {
        "Xk_normal": {"rule": "EN 1990", "distribution": "normal"},
        "Xk_lognormal": {"rule": "EN 1990", "distribution": "lognormal"},
        "f_char": {"rule": "NZS 4298"},
    }
    wanted = {name: case["expected"][name] for name in ways if name in case["expected"]}
    assert wanted
    for name, value in wanted.items():
        found = post(program, "rule", {**ways[name], "values_mpa": case["values_mpa"]})
        assert found["value_mpa"] == near(value, tolerance=1e-4)


@pytest.mark.parametrize(
    "case",
    STATISTICS["tolerance"][:30],
    ids=[f"{row['id']}: {row['source']} n={row['n']}" for row in STATISTICS["tolerance"][:30]],
)
def test_tolerance(program: TestClient, case: dict[str, Any]) -> None:
    given = {key: case[key] for key in ("n", "coverage", "confidence")}
    assert post(program, "tolerance", given)["factor"] == near(case["factor"], tolerance=case["tolerance"])


def test_age_by_hand(program: TestClient) -> None:
    # 28 days after 6 April 10:45 is 4 May 10:45; window 12 h each side; soak 24 to 30 h before its ends.
    given = {
        "pressed_at": "2027-04-06T10:45:00+02:00",
        "age_days": 28,
        "tolerance_hours": 12,
        "soak_hours": 24,
        "soak_hours_max": 30,
    }
    assert post(program, "age", given) == {
        "due_at": "2027-05-04T10:45:00+02:00",
        "window": ["2027-05-03T22:45:00+02:00", "2027-05-04T22:45:00+02:00"],
        "soak_from": "2027-05-02T16:45:00+02:00",
        "soak_until": "2027-05-03T22:45:00+02:00",
    }


def test_jar_by_hand(program: TestClient) -> None:
    # 4 + 61 + 33 + 22 = 120 mm.
    found = post(program, "jar", {"gravel_mm": 4, "sand_mm": 61, "silt_mm": 33, "clay_mm": 22})
    assert [found[f"{layer}_share"] for layer in ("gravel", "sand", "silt", "clay")] == pytest.approx(
        [4 / 120, 61 / 120, 33 / 120, 22 / 120], rel=1e-12
    )


def test_blend_by_hand(program: TestClient) -> None:
    # At 1 mm one soil passes 0.8 and the other 0.2; half of each is 0.5, and the envelope is 0.5 alone.
    soils = [
        {"name": name, "passing": [{"size_mm": 4, "share": 1}, {"size_mm": 1, "share": share}]}
        for name, share in (("fine", 0.8), ("coarse", 0.2))
    ]
    found = post(program, "blend", {"soils": soils, "envelope": [{"size_mm": 1, "low": 0.5, "high": 0.5}]})
    assert found["shares"] == {"fine": pytest.approx(0.5, abs=1e-6), "coarse": pytest.approx(0.5, abs=1e-6)}


def test_site_by_hand(program: TestClient) -> None:
    # A 25 kg bag at 5 % of the dry soil goes with 500 kg of it; at 1.25 kg/L a 20 L bucket of it is 25 kg: 20 buckets.
    # Water is 0.1 x 525 = 52.5 L; 525 kg make 52.5 blocks of 10 kg.
    given = {
        "components": [{"name": "soil", "share": 1, "moisture": 0}],
        "stabilisers": [{"name": "lime", "share": 0.05, "basis": "dry soil"}],
        "moisture": 0.1,
        "bag_kg": 25,
        "bucket_l": 20,
        "bulk_density_kg_l": {"soil": 1.25},
        "dry_mass_per_block_kg": 10,
        "blocks": 105,
    }
    found = post(program, "site", given)
    assert found["per_bag"]["components"]["soil"]["buckets"] == pytest.approx(20, rel=1e-12)
    assert (found["per_bag"]["blocks"], found["bags"]) == (52, 2)
    assert found["per_bag"]["water_l"] == pytest.approx(52.5, rel=1e-12)


STRENGTH = [one for one in json.loads((REFERENCE / "strength.json").read_text())["cases"] if SPECIAL[one["id"]]]


@pytest.mark.parametrize(
    "case", STRENGTH, ids=[f"strength.json {case['id']}: brute quadrature, {case['what']}" for case in STRENGTH]
)
def test_strength(program: TestClient, case: dict[str, Any]) -> None:
    found = post(program, "strength", case["inputs"])
    for part, wanted in case["expected"].items():
        assert all(off <= 1 for _, off in apart(found[part], wanted)), part
