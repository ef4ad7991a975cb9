"""The published numbers that tests compare with, one file a subject in tests/reference."""

import json
from pathlib import Path
from typing import Any

import pytest

REFERENCE = Path(__file__).parent / "reference"


def cases(subject: str) -> list[Any]:
    """Return one test parameter a case, named by the file and the source that its numbers come from."""
    rows = json.loads((REFERENCE / f"{subject}.json").read_text())
    return [pytest.param(row, id=f"{row['file']} {row['id']}: {row['source']}, {row['standing']}") for row in rows]


def near(value: float, *, tolerance: float) -> Any:
    """Return what a number within an absolute tolerance equals."""
    return pytest.approx(value, abs=tolerance, rel=1e-12)
