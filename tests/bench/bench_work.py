"""Print how fast each worked calculation answers: run it as a script; nothing here is collected as a test."""

import json
import statistics
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

from service.work import registry
from service.work.answering import answer_text

ROUNDS = 25
MOST_MS = 2.0
PROCESS_MOST_S = 0.5
UNBOUND = {"strength", "blend"}

CURVE = [{"size_mm": 4.75, "share": 0.9}, {"size_mm": 0.075, "share": 0.3}, {"size_mm": 0.002, "share": 0.12}]
SAND = [{"size_mm": 4.75, "share": 1.0}, {"size_mm": 0.002, "share": 0.0}]
FIVE = [2.1, 2.4, 2.5, 2.7, 3.0]
PARTS = {
    "components": [
        {"name": "native", "share": 0.75, "moisture": 0.031}, {"name": "sand", "share": 0.25, "moisture": 0.004},
    ],
    "stabilisers": [{"name": "cement", "share": 0.06, "basis": "dry soil"}],
    "moisture": 0.07,
}  # fmt: skip
BATCH = PARTS | {"blocks": 5, "dry_mass_per_block_kg": 1.40, "waste": 0.05, "scale_graduation_kg": 0.005}
READINGS = [{"minutes": m, "reading": 40 - m**0.4, "temperature_c": 20} for m in (1, 2, 4, 8, 15, 30, 60, 240, 1440)]
INPUTS: dict[str, dict[str, Any]] = {
    "moisture": {"wet_kg": 0.512, "dry_kg": 0.478, "can_kg": 0.051},
    "batch": BATCH,
    "press": {
        "points": [{"gauge_mpa": g, "force_kn": 4.4 * g} for g in (5, 10, 20, 30)],
        "face_length_mm": 140, "face_width_mm": 90, "gauge_mpa": 25,
    },
    "grading": {"passing": CURVE},
    "hydrometer": {
        "readings": READINGS, "blanks": [{"reading": 5, "temperature_c": 20}],
        "dry_mass_g": 50, "specific_gravity": 2.65,
    },
    "jar": {"sand_mm": 65, "silt_mm": 15, "clay_mm": 20},
    "limits": {"flow": [{"blows": b, "water": 0.45 - b / 500} for b in (15, 22, 31)], "plastic": [0.187, 0.191]},
    "classify": {"passing": CURVE, "liquid_limit": 0.3, "plastic_limit": 0.2},
    "blend": {
        "soils": [{"name": "native", "passing": CURVE}, {"name": "sand", "passing": SAND}],
        "envelope": [{"size_mm": 0.075, "low": 0.15, "high": 0.2}],
    },
    "suitability": {"passing": CURVE, "box": {"length_mm": 600, "width_mm": 40, "depth_mm": 40, "shrinkage_mm": 24}},
    "strength": {"groups": [{"recipe": "A", "condition": "dry", "readings": [{"broke_mpa": v} for v in FIVE]}]},
    "wall": {"density_kg_m3": 1900, "height_m": 2.4, "thickness_mm": 140, "line_load_kn_m": 0.0, "strength_mpa": 2.07},
    "cost": {"dry_kg": {"native": 1.3, "cement": 0.1}, "prices_per_kg": {"native": "0", "cement": "0.18"}},
    "site": PARTS | {
        "bag_kg": 42.5, "bucket_l": 15, "bulk_density_kg_l": {"native": 1.25, "sand": 1.5},
        "dry_mass_per_block_kg": 7.9, "waste": 0.05, "blocks": 1000,
    },
    "age": {"pressed_at": "2027-03-01T15:20:00-07:00", "age_days": 7, "tolerance_hours": 6, "soak_hours": 4},
    "shrinkage": {"box_length_mm": 600, "shrinkage_mm": 24},
    "density": {
        "length_mm": 140, "width_mm": 90, "heights_mm": [90, 91, 90, 89], "wet_mass_kg": 2.2, "moisture": 0.06,
        "others_kg_m3": [1850, 1840, 1860],
    },
    "absorption": {"mass_before_kg": 2.0, "mass_after_kg": 2.25, "oven_dry": True},
    "flexure": {"force_kn": 2.0, "span_mm": 100, "width_mm": 90, "thickness_mm": 90},
    "shape": {"strength_mpa": 4.2, "height_mm": 90, "thickness_mm": 140},
    "rule": {"rule": "EN 1990", "values_mpa": FIVE},
    "tolerance": {"coverage": 0.95, "confidence": 0.75, "values_mpa": FIVE},
}  # fmt: skip


def main() -> int:
    """Print the median time of every calculation and of one process; return how many took too long."""
    slow = 0
    for name in registry.names():
        text = json.dumps(INPUTS[name])
        answer_text(name, text)
        took_ms = 1000 * statistics.median(timed(name, text) for _ in range(ROUNDS))
        bound = "" if name in UNBOUND else f" (at most {MOST_MS:g} ms)"
        slow += bool(bound) and took_ms > MOST_MS
        sys.stdout.write(f"{name}: {took_ms:.2f} ms{bound}\n")
    process_s = statistics.median(batch_process_s() for _ in range(5))
    sys.stdout.write(f"loambook work batch: {process_s:.2f} s (at most {PROCESS_MOST_S:g} s)\n")
    return slow + (process_s > PROCESS_MOST_S)


def timed(name: str, text: str) -> float:
    """Return the seconds one answer takes."""
    begun = time.perf_counter()
    answer_text(name, text)
    return time.perf_counter() - begun


def batch_process_s() -> float:
    """Return the seconds a batch sheet takes as a process of its own."""
    command = [str(Path(sys.executable).parent / "loambook"), "work", "batch"]
    begun = time.perf_counter()
    subprocess.run(command, input=json.dumps(BATCH), capture_output=True, text=True, check=True)
    return time.perf_counter() - begun


if __name__ == "__main__":
    raise SystemExit(1 if main() else 0)
