"""One input for each calculation that is answered as it stands: shown to programs and filled into empty forms."""

from typing import Any

CURVE = [
    {"size_mm": 9.5, "share": 1.0},
    {"size_mm": 4.75, "share": 0.96},
    {"size_mm": 2.0, "share": 0.88},
    {"size_mm": 0.425, "share": 0.71},
    {"size_mm": 0.15, "share": 0.52},
    {"size_mm": 0.075, "share": 0.41},
]
SAND = [
    {"size_mm": 4.75, "share": 1.0},
    {"size_mm": 2.0, "share": 0.86},
    {"size_mm": 0.425, "share": 0.33},
    {"size_mm": 0.15, "share": 0.09},
    {"size_mm": 0.075, "share": 0.03},
]
COMPONENTS = [
    {"name": "pit soil", "share": 0.7, "moisture": 0.045},
    {"name": "river sand", "share": 0.3, "moisture": 0.012},
]
LIME = [{"name": "lime", "share": 0.07, "basis": "dry soil"}]

EXAMPLES: dict[str, dict[str, Any]] = {
    "moisture": {
        "cans": [
            {"wet_kg": 0.1524, "dry_kg": 0.1391, "can_kg": 0.02},
            {"wet_kg": 0.1478, "dry_kg": 0.135, "can_kg": 0.0196},
        ]
    },
    "batch": {
        "blocks": 6,
        "dry_mass_per_block_kg": 2.35,
        "waste": 0.08,
        "components": COMPONENTS,
        "stabilisers": LIME,
        "moisture": 0.095,
        "moisture_basis": "dry mix",
        "scale_graduation_kg": 0.005,
    },
    "press": {
        "points": [
            {"gauge_mpa": 4, "force_kn": 17.1},
            {"gauge_mpa": 10, "force_kn": 43.4},
            {"gauge_mpa": 16, "force_kn": 69.2},
            {"gauge_mpa": 22, "force_kn": 95.6},
        ],
        "face_length_mm": 140,
        "face_width_mm": 90,
        "gauge_mpa": 14.5,
        "stress_rate_mpa_s": 0.05,
    },
    "grading": {
        "sieves": [
            {"size_mm": 4.75, "retained_g": 21.4},
            {"size_mm": 2.0, "retained_g": 40.2},
            {"size_mm": 0.425, "retained_g": 88.7},
            {"size_mm": 0.15, "retained_g": 97.5},
            {"size_mm": 0.075, "retained_g": 52.3},
        ],
        "pan_g": 6.1,
        "dry_mass_g": 480.0,
        "washed_dry_mass_g": 307.0,
    },
    "hydrometer": {
        "readings": [
            {"minutes": 1, "reading": 38.0, "temperature_c": 21.0},
            {"minutes": 4, "reading": 33.5, "temperature_c": 21.0},
            {"minutes": 30, "reading": 26.0, "temperature_c": 21.2},
            {"minutes": 240, "reading": 19.0, "temperature_c": 21.8},
            {"minutes": 1440, "reading": 15.0, "temperature_c": 20.6},
        ],
        "blanks": [{"reading": 5.0, "temperature_c": 20.0}, {"reading": 4.5, "temperature_c": 23.0}],
        "dry_mass_g": 50.0,
        "specific_gravity": 2.68,
        "meniscus": 1.0,
    },
    "jar": {"gravel_mm": 4, "sand_mm": 61, "silt_mm": 33, "clay_mm": 22},
    "limits": {
        "flow": [
            {"blows": 17, "water": 0.393},
            {"blows": 24, "water": 0.371},
            {"blows": 33, "water": 0.352},
        ],
        "plastic": [0.204, 0.198],
    },
    "classify": {"passing": CURVE, "liquid_limit": 0.34, "plastic_limit": 0.19},
    "blend": {
        "soils": [{"name": "pit soil", "passing": CURVE}, {"name": "river sand", "passing": SAND}],
        "envelope": [
            {"size_mm": 2.0, "low": 0.8, "high": 0.95},
            {"size_mm": 0.425, "low": 0.45, "high": 0.65},
            {"size_mm": 0.075, "low": 0.15, "high": 0.3},
        ],
    },
    "suitability": {
        "box": {"length_mm": 600, "width_mm": 40, "depth_mm": 40, "shrinkage_mm": 26},
        "passing": CURVE,
        "plasticity_index": 0.15,
    },
    "strength": {
        "groups": [
            {
                "recipe": "lime 7",
                "condition": "oven-dry, 28 days",
                "batches": 2,
                "readings": [
                    {"broke_mpa": 4.1, "graduation_mpa": 0.2},
                    {"broke_mpa": 4.6, "graduation_mpa": 0.2},
                    {"held_mpa": 5.0},
                    {"broke_mpa": 4.4, "graduation_mpa": 0.2},
                ],
            },
            {
                "recipe": "lime 7",
                "condition": "soaked 24 h, 28 days",
                "readings": [
                    {"broke_mpa": 2.0, "graduation_mpa": 0.2},
                    {"broke_mpa": 2.4, "graduation_mpa": 0.2},
                    {"broke_mpa": 1.8, "graduation_mpa": 0.2},
                    {"fell_apart": True},
                ],
            },
            {
                "recipe": "lime 9",
                "condition": "soaked 24 h, 28 days",
                "batches": 2,
                "readings": [
                    {"broke_mpa": 2.8, "graduation_mpa": 0.2},
                    {"broke_mpa": 3.2, "graduation_mpa": 0.2},
                    {"broke_mpa": 2.6, "graduation_mpa": 0.2},
                    {"broke_mpa": 3.0, "graduation_mpa": 0.2},
                ],
            },
        ],
        "limits": [
            {
                "name": "wet mean",
                "condition": "soaked 24 h, 28 days",
                "statistic": "mean",
                "limit_mpa": 2.2,
                "blocks": 4,
            }
        ],
        "costs": {"lime 7": "0.31", "lime 9": "0.38"},
    },
    "wall": {
        "density_kg_m3": 1870,
        "height_m": 2.7,
        "thickness_mm": 190,
        "line_load_kn_m": 5.5,
        "strength_mpa": 2.3,
    },
    "cost": {
        "dry_kg": {"pit soil": 5.1, "river sand": 2.2, "lime": 0.51},
        "prices_per_kg": {"pit soil": "0", "river sand": "0.012", "lime": "0.24"},
        "carbon_per_kg": {"pit soil": 0.002, "river sand": 0.005, "lime": 0.76},
        "blocks_per_m2": 29,
    },
    "site": {
        "components": COMPONENTS,
        "stabilisers": LIME,
        "moisture": 0.095,
        "bag_kg": 25,
        "bucket_l": 12,
        "bulk_density_kg_l": {"pit soil": 1.19, "river sand": 1.46},
        "dry_mass_per_block_kg": 7.6,
        "waste": 0.06,
        "blocks": 850,
    },
    "age": {
        "pressed_at": "2027-04-06T10:45:00+02:00",
        "age_days": 28,
        "tolerance_hours": 12,
        "soak_hours": 24,
        "soak_hours_max": 30,
    },
    "shrinkage": {"box_length_mm": 600, "shrinkage_mm": 26},
    "density": {
        "length_mm": 140.5,
        "width_mm": 90.2,
        "heights_mm": [88.4, 88.9, 88.1, 88.6],
        "wet_mass_kg": 2.236,
        "moisture": 0.092,
        "others_kg_m3": [1806, 1822, 1795, 1811],
    },
    "absorption": {"mass_before_kg": 2.047, "mass_after_kg": 2.291, "oven_dry": True},
    "flexure": {"force_kn": 2.9, "span_mm": 250, "width_mm": 140, "thickness_mm": 90},
    "shape": {"strength_mpa": 3.4, "height_mm": 88, "thickness_mm": 90},
    "rule": {"rule": "NZS 4298", "values_mpa": [2.6, 2.9, 3.1, 2.7, 3.3]},
    "tolerance": {"coverage": 0.95, "confidence": 0.75, "values_mpa": [2.6, 2.9, 3.1, 2.7, 3.3, 3.0]},
    "content": {
        "rows": [
            {
                "share": share,
                "condition": "soaked 24 h, 28 days",
                "mix": mix,
                "readings": [{"broke_mpa": stress, "graduation_mpa": 0.1} for stress in stresses],
            }
            for share, mix, stresses in (
                (0.04, "A1", (1.4, 1.6, 1.3)),
                (0.04, "A2", (1.7, 1.5)),
                (0.06, "B1", (2.5, 2.2, 2.4)),
                (0.06, "B2", (2.1, 2.3)),
                (0.09, "C1", (3.4, 3.9, 3.6)),
            )
        ],
        "at": [0.05, 0.07],
        "limits": [
            {
                "name": "wet mean",
                "condition": "soaked 24 h, 28 days",
                "statistic": "mean",
                "limit_mpa": 1.8,
                "blocks": 5,
            }
        ],
    },
    "shares": {
        "shares": [0.03, 0.05, 0.07, 0.09],
        "limits": [
            {
                "name": "wet, each",
                "condition": "soaked 24 h, 28 days",
                "statistic": "each",
                "limit_mpa": 2.0,
                "blocks": 5,
            }
        ],
        "blocks": [3, 5],
        "aim": "least",
        "soil": {"fines": 0.58, "liquid_limit": 0.33},
    },
    "survival": {
        "recipes": [
            {"recipe": "A", "share": 0.03, "survived": 2, "fell_apart": 3},
            {"recipe": "B", "share": 0.06, "survived": 5, "fell_apart": 0},
        ]
    },
}
