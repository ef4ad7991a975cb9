"""What an amended result says has changed: no false sentence, no change that nobody can read, each in Spanish too."""

import copy
from typing import Any

import pytest

from service.desk.results._changes import changed
from service.words.sentences import say

JOB = {"customer": "Ana", "site": "Llano", "question": "Is it strong enough?", "language": "en"}
CRUSHED = {
    "outcome": "broke", "gauge_mpa": 20.0, "length_mm": 140.0, "width_mm": 100.0, "crushed_at": "2026-11-25",
    "water_hours": 4.0, "stress": {"graduation_mpa": 0.09},
}  # fmt: skip
MODEL = {
    "assurance": 0.95, "margin": 0.1, "batch_sd": 0.1, "median_mpa": 3.0, "scatter": 0.1, "spread": 0.1, "engine": "1",
}  # fmt: skip


def result(*, median_mpa: float = 9.14, **job: str) -> dict[str, Any]:
    said = {"recipe": "B", "condition": "soaked 4 h, 28 days"}
    return copy.deepcopy({
        "job": JOB | job,
        "readings": [said | {"block": "1-B1", "id": 1, "fate": "counted", "crushed": CRUSHED}],
        "groups": [{"said": said | {"median_mpa": median_mpa}}],
        "calibrations": [], "order": [], "recommended": None, "criteria": [], "asked": [], "model": MODEL,
        "recipes": [],
    })  # fmt: skip


def told(now: dict[str, Any], language: str = "en") -> list[str]:
    found = changed({"result": result(), "remark": ""}, now, "")
    return [say(one, language=language, units="imperial") for one in found]


@pytest.mark.parametrize(
    ("job", "said"),
    [
        ({"language": "es"}, []),
        ({"site": "El Llano"}, ["The name of the customer or of the site was corrected."]),
        (
            {"question": "Which soil?"},
            ["What was asked, what is to be built, or the customer's own block was corrected."],
        ),
    ],
)
def test_only_a_corrected_question_is_told_as_one(job: dict[str, str], said: list[str]) -> None:
    assert told(result(**job)) == said


def test_less_than_a_step_of_the_gauge_is_no_change() -> None:
    assert told(result(median_mpa=9.16)) == []


def test_a_changed_strength_is_told_to_the_step_of_the_gauge() -> None:
    assert told(result(median_mpa=9.5)) == [
        "The strength of B, after 4 h under water at 28 days of age, was "
        "1330 psi (9.14 MPa) and is 1380 psi (9.50 MPa)."
    ]


def test_a_changed_strength_is_told_in_spanish_throughout() -> None:
    assert told(result(median_mpa=9.5), "es") == [
        "La resistencia de B, después de 4 h bajo agua, a 28 días de edad, era "
        "1330 psi (9.14 MPa) y es 1380 psi (9.50 MPa)."
    ]
