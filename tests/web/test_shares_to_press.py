"""Which shares to press, on the plan of a job: what is proposed, from what, and the recipes made of it with one tap."""

import re

import pytest

from tests.cast import Cast
from tests.trials import a_tried_job


def said(page: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page)).replace("\u00a0", " ")


@pytest.fixture
def here(cast: Cast) -> str:
    return f"/jobs/{a_tried_job(cast).job_id}/plan"


def test_shares_are_proposed_and_planned_with_one_tap(cast, here):
    tess = cast.browser("tess")
    assert f'hx-get="{here}/shares"' in tess.get(here).text
    shown = tess.get(f"{here}/shares").text
    shares = re.findall(r'name="shares\.\d" value="([0-9.]+)"', shown)
    assert 2 <= len(shares) <= 3 and "before a block is pressed" in said(shown)
    form = {f"shares.{number}": share for number, share in enumerate(shares)} | {"blocks": "5", "mixes": "2"}
    assert tess.post(f"{here}/shares", form).headers["location"] == here
    after = said(tess.get(here).text)
    for share in shares:
        assert f"{share} % of the dry soil" in after
    assert after.count("from 2 batches") >= len(shares)


def test_a_part_of_the_page_is_fetched_in_its_place(cast, here):
    headers = {"hx-request": "true", "hx-target": "shares_to_press"}
    part = cast.browser("tess").get(f"{here}/shares", headers=headers).text
    assert part.lstrip().startswith('<section id="shares_to_press">') and "<html" not in part


def test_it_asks_the_database_at_most_twelve_times(cast, here, statements):
    tess = cast.browser("tess")
    statements.clear()
    tess.get(f"{here}/shares")
    assert len(statements) <= 12


def test_four_shares_and_an_impossible_one_are_refused_and_no_customer_comes_in(cast, here):
    tess = cast.browser("tess")
    four = {f"shares.{number}": "5" for number in range(4)} | {"blocks": "5", "mixes": "2"}
    assert tess.post(f"{here}/shares", four).status_code == 422
    assert tess.post(f"{here}/shares", {"shares.0": "140", "blocks": "5", "mixes": "2"}).status_code == 422
    assert cast.browser("cy").get(f"{here}/shares").status_code == 403
