"""Calculations through HTTP: who may ask, what is refused and how, and that the answers are those of the sources."""

import json
from typing import Any

import pytest
from starlette.testclient import TestClient

from service.web.api.work import MOST_BODY_BYTES
from service.work import registry
from service.work.answering import answer_text
from service.work.examples import EXAMPLES
from tests.cast import Cast

WALL = {"density_kg_m3": 1870, "height_m": 2.7, "thickness_mm": 190, "strength_mpa": 2.3}


@pytest.fixture(scope="module")
def program(still_cast: Cast) -> TestClient:
    """Return a program that speaks for the technician."""
    return still_cast.program("tess")


def post(client: TestClient, name: str, given: dict[str, Any]) -> Any:
    """Return the answer to an input that is taken."""
    answer = client.post(f"/api/v1/work/{name}", json=given)
    assert answer.status_code == 200, answer.text
    return answer.json()


class TestWhoMayAsk:
    def test_nobody_without_a_token_or_a_session(self, still_cast: Cast) -> None:
        for ask in (
            lambda client: client.post("/api/v1/work/wall", json=WALL),
            lambda client: client.get("/api/v1/work"),
            lambda client: client.get("/api/v1/work/wall"),
        ):
            answer = ask(still_cast.browser(None).client)
            assert answer.status_code == 401
            assert answer.json() == {"error": "A valid password for a program is needed.", "fields": {}}

    def test_a_token_that_nobody_made_is_refused(self, still_cast: Cast) -> None:
        made_up = {"authorization": "Bearer made-up"}
        assert still_cast.browser(None).client.post("/api/v1/work/wall", json=WALL, headers=made_up).status_code == 401

    @pytest.mark.parametrize("name", ["olu", "tess", "cy"])
    def test_everybody_with_a_token(self, still_cast: Cast, name: str) -> None:
        assert post(still_cast.program(name), "wall", WALL)["slenderness"] == pytest.approx(2700 / 190, rel=1e-12)

    @pytest.mark.parametrize("name", ["olu", "tess", "cy"])
    def test_everybody_who_is_signed_in(self, still_cast: Cast, name: str) -> None:
        assert post(still_cast.browser(name).client, "wall", WALL)["slenderness"] == pytest.approx(
            2700 / 190, rel=1e-12
        )

    def test_not_another_site_with_the_session_of_a_person(self, still_cast: Cast) -> None:
        client = still_cast.browser("olu").client
        answer = client.post("/api/v1/work/wall", json=WALL, headers={"sec-fetch-site": "cross-site"})
        assert answer.status_code == 403


class TestRefusals:
    def test_a_name_that_no_calculation_has_is_not_found(self, program: TestClient) -> None:
        for answer in (program.post("/api/v1/work/nothing", json={}), program.get("/api/v1/work/nothing")):
            assert answer.status_code == 404
            assert set(answer.json()) == {"error", "fields"}

    @pytest.mark.parametrize(
        ("body", "fields"),
        [
            ('{"wet_kg": 0.5, "wet_kg": 0.6, "dry_kg": 0.4}', {"wet_kg": "This key is given twice."}),
            ('{"wet_kg": NaN, "dry_kg": 0.4}', {"wet_kg": "This must be a finite number."}),
            ('{"wet_kg": 1e999, "dry_kg": 0.4}', {"wet_kg": "This must be a finite number."}),
            ('{"wet_kg": "0.5", "dry_kg": 0.4}', {"wet_kg": "This must be a number."}),
            ('{"wet_kg": 0.5, "dry_kg": 0.4, "can": 0}', {"can": "This key is not known here."}),
            ('{"cans": [{"wet_kg": -1, "dry_kg": 0.4}]}', {"cans.0.wet_kg": "This must be above 0."}),
        ],
    )
    def test_each_names_its_field_in_one_sentence(self, program: TestClient, body: str, fields: dict[str, str]) -> None:
        answer = program.post("/api/v1/work/moisture", content=body)
        assert answer.status_code == 422
        assert answer.json() == {"error": next(iter(fields.values())), "fields": fields}

    @pytest.mark.parametrize("body", ["", "moisture", "[]", "1", '{"wet_kg": ', "\xff"])
    def test_what_is_no_json_object_is_refused(self, program: TestClient, body: str) -> None:
        answer = program.post("/api/v1/work/moisture", content=body.encode("latin-1"))
        assert answer.status_code == 422
        assert (answer.json()["error"][:9], answer.json()["fields"]) == ("The input", {})

    def test_a_body_beyond_the_limit_is_not_read(self, program: TestClient) -> None:
        answer = program.post("/api/v1/work/moisture", content=b" " * (MOST_BODY_BYTES + 1))
        assert answer.status_code == 413
        assert set(answer.json()) == {"error", "fields"}


class TestAnswers:
    @pytest.mark.parametrize("name", registry.names())
    def test_the_example_of_each_calculation_is_answered_as_by_the_command(
        self, program: TestClient, name: str
    ) -> None:
        assert post(program, name, EXAMPLES[name]) == answer_text(name, json.dumps(EXAMPLES[name]))

    def test_numbers_come_back_unrounded(self, program: TestClient) -> None:
        # Hand: 0.034 / 0.427, to the last digit of a double.
        given = {"wet_kg": 0.512, "dry_kg": 0.478, "can_kg": 0.051}
        found = json.loads(program.post("/api/v1/work/moisture", json=given).content)["moisture"]
        assert found == (0.512 - 0.478) / (0.478 - 0.051)

    def test_no_idempotency_key_is_asked_for(self, program: TestClient) -> None:
        assert "idempotency-key" not in program.headers
        assert post(program, "wall", WALL) == post(program, "wall", WALL)


class TestNames:
    def test_the_list_is_that_of_the_command_with_formula_and_sources(self, program: TestClient) -> None:
        listed = program.get("/api/v1/work").json()
        assert [one["name"] for one in listed] == registry.names()
        assert all(one["formula"] and one["sources"] for one in listed)
        wall = next(one for one in listed if one["name"] == "wall")
        assert wall["sources"][0]["standing"] == "definition"

    @pytest.mark.parametrize("name", registry.names())
    def test_each_gives_the_schema_of_its_input(self, program: TestClient, name: str) -> None:
        schema = program.get(f"/api/v1/work/{name}").json()
        assert schema == registry.find(name).model.model_json_schema()
        assert set(EXAMPLES[name]) <= set(schema["properties"])

    def test_the_description_for_programs_has_an_example_of_each(self, program: TestClient) -> None:
        described = program.get("/api/v1/openapi.json").json()["paths"]["/api/v1/work/{name}"]["post"]
        shown = described["requestBody"]["content"]["application/json"]["examples"]
        assert list(shown) == registry.names()
