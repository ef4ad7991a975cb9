"""The office list and the search."""

import re

import pytest

from tests.cast import Cast
from tests.web.test_intake import take_in


@pytest.fixture
def cast(cast_on_either: Cast) -> Cast:
    """Return the cast on either database: lists are ordered by the database."""
    return cast_on_either


def test_an_empty_shop_says_what_to_do_first(cast: Cast) -> None:
    page = cast.browser("tess").get("/jobs").text
    assert "No open job." in page
    assert "/jobs/new" in page


def test_a_customer_is_led_to_his_own_soils(cast: Cast) -> None:
    answer = cast.browser("cy").get("/", follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/soils")


def test_a_search_without_a_hit_says_so(cast: Cast) -> None:
    assert "Nothing carries that label" in cast.browser("tess").get("/search", params={"q": "<nothing>"}).text


def test_a_soil_and_a_material_are_found_by_name(cast: Cast) -> None:
    cement = cast.browser("olu").post("/materials", {"name": "Grey cement", "kind": "cement"}).headers["location"]
    take_in(cast)
    tess = cast.browser("tess")
    assert f'href="{cement}"' in tess.get("/search", params={"q": "grey C"}).text
    found = tess.get("/search", params={"q": "red sub"}).text
    assert re.search(r'href="/soils/[0-9a-f-]{36}"', found) and "Cy&#39;s Cob Yard" in found
    assert "Nothing carries that label" in tess.get("/search", params={"q": "red_sub%"}).text
