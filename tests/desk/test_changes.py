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
        "La resistencia de B, después de 4 h bajo agua, a los 28 días, era "
        "1330 psi (9.14 MPa) y es 1380 psi (9.50 MPa)."
    ]


def corrected(*labels: str, because: str = "read from the photo of the dial") -> tuple[dict[str, Any], dict[str, Any]]:
    """Return a result, and the same after blocks were corrected."""
    was, now = result(), result()
    for each, gauge, earlier in ((was, "19.0 MPa", []), (now, "19.5 MPa", [{"because": because}])):
        (one,) = each["readings"]
        crushed = CRUSHED | {"gauge": gauge, "gauge_mpa": float(gauge[:4])}
        each["readings"] = [one | {"block": label, "crushed": crushed, "earlier": earlier} for label in labels]
    return was, now


def test_a_corrected_block_is_told_with_both_readings_and_the_reason() -> None:
    was, now = corrected("1-B1")
    found = changed({"result": was, "remark": ""}, now, "")
    assert [say(one) for one in found] == [
        "1-B1: 19.0 MPa was corrected to 19.5 MPa. Reason: read from the photo of the dial."
    ]
    assert [say(one, language="es") for one in found] == [
        "1-B1: 19.0 MPa se corrigió a 19.5 MPa. Motivo: read from the photo of the dial."
    ]


def test_many_corrected_blocks_are_named_together() -> None:
    was, now = corrected(*(f"1-B{number}" for number in range(1, 7)))
    (found,) = changed({"result": was, "remark": ""}, now, "")
    assert say(found).startswith("Readings that were corrected: 1-B1, ")


def test_a_block_that_no_longer_counts_has_its_reason_in_the_language_of_the_paper() -> None:
    now = result()
    now["readings"][0] |= {"fate": "left out", "because": "crushed at 9 days, outside 28 days ± 6 h"}
    found = changed({"result": result(), "remark": ""}, now, "")
    assert say(found[0]) == "1-B1 no longer counts. Reason: crushed at 9 days, outside 28 days ± 6 h."
    assert say(found[0], language="es") == "1-B1 ya no cuenta. Motivo: probado a los 9 días, fuera de 28 días ± 6 h."


@pytest.mark.parametrize(
    ("key", "value", "says"),
    [
        ("margin", 0.2, "The difference up to which two recipes count as equally strong has changed."),
        ("assurance", 0.9, "The expected strength, or the chance of passing asked for, has changed."),
    ],
)
def test_a_changed_setting_is_told_as_what_it_is(key: str, value: float, says: str) -> None:
    now = result()
    now["model"] = now["model"] | {key: value}
    assert [say(one) for one in changed({"result": result(), "remark": ""}, now, "")] == [says]
