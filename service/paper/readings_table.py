"""The readings of an issued result as a table for a spreadsheet."""

import json
from typing import Any

from service.paper.tables import as_csv

HEAD = (
    "block",
    "recipe",
    "mix",
    "condition",
    "counted",
    "outcome",
    "because",
    "gauge_as_read",
    "gauge_mpa",
    "force_kn",
    "face_length_mm",
    "face_width_mm",
    "stress_mpa",
    "half_graduation_mpa",
    "shape_factor",
    "corrected_mpa",
    "line",
    "age_days",
    "water_hours",
    "crushed_at",
    "crushed_by",
    "failure",
)


def as_table(data: str) -> str:
    """Return one row a block, in the order of the result."""
    return as_csv(HEAD, (_row(one) for one in json.loads(data)["result"]["readings"]))


def _row(one: dict[str, Any]) -> tuple[Any, ...]:
    crushed = one["crushed"] or {}
    stress = crushed.get("stress") or {}
    half = stress["graduation_mpa"] / 2 if stress else None
    # A result issued before there were shape factors has none; a rule that calls for one names its table.
    shaped = [row for row in crushed.get("shaped", ()) if row["factor"] is not None]
    return (
        one["block"],
        one["recipe"],
        one["batch"],
        one["condition"],
        one["fate"],
        crushed.get("outcome"),
        one["because"],
        crushed.get("gauge"),
        crushed.get("gauge_mpa"),
        stress.get("force_kn"),
        crushed.get("length_mm"),
        crushed.get("width_mm"),
        stress.get("stress_mpa"),
        half,
        "; ".join(f"{row['table']} {row['factor']!r}" for row in shaped) or None,
        "; ".join(repr(row["stress_mpa"]) for row in shaped) or None,
        stress.get("calibration"),
        crushed.get("age_days"),
        crushed.get("water_hours"),
        crushed.get("crushed_at"),
        crushed.get("crushed_by"),
        crushed.get("failure"),
    )
