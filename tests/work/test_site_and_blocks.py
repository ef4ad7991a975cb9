"""The mixer's card and what is measured on a block."""

import json
from typing import Any

import pytest

from service.errors import Invalid
from service.work.answering import answer_text

SITE: dict[str, Any] = {
    "components": [
        {"name": "native", "share": 0.75, "moisture": 0.08},
        {"name": "sand", "share": 0.25, "moisture": 0.04},
    ],
    "stabilisers": [{"name": "cement", "share": 0.05, "basis": "dry soil"}],
    "moisture": 0.10,
    "moisture_basis": "dry soil",
    "bag_kg": 40,
    "bucket_l": 15,
    "bulk_density_kg_l": {"native": 1.2, "sand": 1.5},
    "dry_mass_per_block_kg": 8,
    "waste": 0.05,
    "blocks": 1000,
}


def answer(name: str, given: dict[str, Any]) -> dict[str, Any]:
    return answer_text(name, json.dumps(given))


def test_the_card_of_one_bag() -> None:
    # Hand: soil 40 / 0.05 = 800 kg; native 600 x 1.08 = 648 kg in buckets of 18 kg: 36; sand 200 x 1.04 = 208 kg in
    # buckets of 22.5 kg: 9.2444, to the quarter 9.25; water 80 - 48 - 8 = 24 l; mix 840 kg over 8.4 kg: 100 blocks.
    found = answer("site", SITE)
    assert found["per_bag"] == {
        "dry_soil_kg": pytest.approx(800.0, rel=1e-12),
        "components": {
            "native": {
                "kg": pytest.approx(648.0, rel=1e-12),
                "buckets": pytest.approx(36.0, rel=1e-12),
                "buckets_quarter": 36.0,
            },
            "sand": {
                "kg": pytest.approx(208.0, rel=1e-12),
                "buckets": pytest.approx(208 / 22.5, rel=1e-12),
                "buckets_quarter": 9.25,
            },
        },
        "stabilisers": {"cement": pytest.approx(40.0, rel=1e-12)},
        "water_l": pytest.approx(24.0, rel=1e-9),
        "blocks": 100,
    }
    assert found["bags"] == 10
    # Achieved: sand 9.25 x 22.5 = 208.125 kg, dry 200.1202; soil 800.1202; water 24 + 48 + 8.0048 = 80.0048.
    assert found["achieved"] == {
        "components": {"native": pytest.approx(0.749887, abs=1e-6), "sand": pytest.approx(0.250113, abs=1e-6)},
        "stabilisers": {
            "cement": {"dry soil": pytest.approx(0.0499925, abs=1e-7), "dry mix": pytest.approx(0.0476122, abs=1e-7)}
        },
        "moisture": pytest.approx(0.0999910, abs=1e-7),
    }


def test_half_a_quarter_bucket_goes_up_and_one_more_block_takes_one_more_bag() -> None:
    # Hand: 208 kg in buckets of 66.56 kg are 3.125, half way between 3 and 3.25; 1001 blocks at 100 a bag take 11.
    dense = SITE | {"bulk_density_kg_l": {"native": 1.2, "sand": 66.56 / 15}, "blocks": 1001}
    found = answer("site", dense)
    assert found["per_bag"]["components"]["sand"]["buckets_quarter"] == 3.25
    assert found["bags"] == 11


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"stabilisers": []}, "stabilisers"),
        ({"stabilisers": [{"name": "cement", "share": 0, "basis": "dry mix"}]}, "stabilisers.0.share"),
        ({"bulk_density_kg_l": {"native": 1.2}}, "bulk_density_kg_l.sand"),
        ({"bulk_density_kg_l": {"native": 0, "sand": 1}}, "bulk_density_kg_l.native"),
        ({"bag_kg": 0}, "bag_kg"),
        ({"bucket_l": -1}, "bucket_l"),
        ({"bucket_l": 100000}, "bucket_l"),
        ({"blocks": 0}, "blocks"),
        ({"moisture": 0.05}, "moisture"),
        ({"waste": -1}, "waste"),
        ({"scale_graduation_kg": 0.1}, "scale_graduation_kg"),
    ],
)
def test_a_card_that_cannot_be_is_refused_by_its_field(changes: dict[str, Any], field: str) -> None:
    with pytest.raises(Invalid) as refused:
        answer("site", SITE | changes)
    assert set(refused.value.fields) == {field}


BLOCK = {"length_mm": 100, "width_mm": 100, "heights_mm": [99, 101], "wet_mass_kg": 2.1}


def test_the_density_of_a_block() -> None:
    # Hand: 100 x 100 x 100 mm = 0.001 m3; 2.1 kg wet, at 5 % 2.0 kg dry; 2000 over a median of 1900 is 5.26 % above.
    found = answer("density", BLOCK | {"moisture": 0.05, "others_kg_m3": [1900, 1890, 1910]})
    assert found == {
        "volume_m3": pytest.approx(0.001, rel=1e-12),
        "wet_density_kg_m3": pytest.approx(2100, rel=1e-12),
        "dry_density_kg_m3": pytest.approx(2000, rel=1e-12),
        "against_others": pytest.approx(100 / 1900, rel=1e-9),
        "stands_out": True,
    }


def test_without_a_moisture_the_wet_density_is_compared() -> None:
    found = answer("density", BLOCK | {"others_kg_m3": [2080]})
    assert found["dry_density_kg_m3"] is None
    assert found["against_others"] == pytest.approx(20 / 2080, rel=1e-9)
    assert found["stands_out"] is False
    assert answer("density", BLOCK)["stands_out"] is None


def test_only_an_oven_dry_mass_gives_an_absorption() -> None:
    masses = {"mass_before_kg": 2.0, "mass_after_kg": 2.25}
    assert answer("absorption", masses | {"oven_dry": True}) == {"absorption": 0.125, "uptake": None}
    assert answer("absorption", masses | {"oven_dry": False}) == {"absorption": None, "uptake": 0.125}


def test_flexure_and_shrinkage() -> None:
    # Hand: 3 x 2000 x 250 / (2 x 250 x 100^2) = 0.3; 30 / 600 = 0.05.
    bent = {"force_kn": 2.0, "span_mm": 250, "width_mm": 250, "thickness_mm": 100}
    assert answer("flexure", bent) == {"modulus_of_rupture_mpa": pytest.approx(0.3, rel=1e-12)}
    assert answer("shrinkage", {"box_length_mm": 600, "shrinkage_mm": 30}) == {"shrinkage": 0.05}


@pytest.mark.parametrize(
    ("name", "given", "field"),
    [
        ("density", BLOCK | {"heights_mm": []}, "heights_mm"),
        ("density", BLOCK | {"heights_mm": [100, 0]}, "heights_mm.1"),
        ("density", BLOCK | {"others_kg_m3": []}, "others_kg_m3"),
        ("absorption", {"mass_before_kg": 2, "mass_after_kg": 2.2}, "oven_dry"),
        ("absorption", {"mass_before_kg": 0, "mass_after_kg": 2.2, "oven_dry": True}, "mass_before_kg"),
        ("flexure", {"force_kn": 2.0, "span_mm": 250, "width_mm": 250, "thickness_mm": 0}, "thickness_mm"),
        ("shrinkage", {"box_length_mm": 600, "shrinkage_mm": 600}, "shrinkage_mm"),
    ],
)
def test_a_block_or_box_that_cannot_be_is_refused_by_its_field(name: str, given: dict[str, Any], field: str) -> None:
    with pytest.raises(Invalid) as refused:
        answer(name, given)
    assert set(refused.value.fields) == {field}
