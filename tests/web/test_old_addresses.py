"""Addresses that pages had before: a bookmark, a printed link and a form that was open all reach the new page."""

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from service.web import old_addresses


@pytest.fixture(scope="module")
def client() -> TestClient:
    app = FastAPI()
    old_addresses.include(app)
    return TestClient(app, follow_redirects=False)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("/reckoner", "/calculator"),
        ("/reckoner/wall?example=yes", "/calculator/wall?example=yes"),
        ("/keeping", "/backups"),
        ("/bands", "/soil-limits"),
        ("/criteria", "/codes"),
        ("/prior", "/expected-strength"),
        ("/starting-values", "/expected-strength"),
        ("/closed-days", "/opening-hours"),
        ("/api/v1/bands", "/api/v1/soil-limits"),
        ("/batches/17/trial?again=yes", "/batches/17/test-charge?again=yes"),
        ("/api/v1/batches/17/trial-blocks", "/api/v1/batches/17/test-charges"),
        ("/api/v1/sacks/cans/17/aside", "/api/v1/sacks/cans/17/exclude"),
        ("/api/v1/batches/cans/17/aside", "/api/v1/batches/cans/17/exclude"),
        ("/api/v1/soils/tests/17/aside", "/api/v1/soils/tests/17/exclude"),
        ("/api/v1/moisture-trial/17/aside", "/api/v1/moisture-trial/17/exclude"),
    ],
)
def test_an_old_address_leads_to_the_new_one(client, old, new):
    answer = client.get(old)
    assert answer.status_code == 308
    assert answer.headers["location"] == new


def test_a_form_that_was_open_is_still_sent(client):
    assert client.post("/bands", data={"key": "x"}).headers["location"] == "/soil-limits"


def test_an_address_that_only_begins_alike_is_not_led_elsewhere(client):
    assert client.get("/priority").status_code == 404
