"""Would more blocks help?, worked out when it is asked for and for the shop alone."""

import re
from dataclasses import replace
from decimal import Decimal

import pytest

from service.desk.results import next_steps
from service.errors import Forbidden, NotFound
from tests.trials import a_tried_job

NEAR = {
    "A": {"as cured": [8.0, 8.5, 7.5, 8.2, 7.9], "soaked": [6.5, 7.0, 6.25, 6.8, 6.6]},
    "C": {"as cured": [4.0, 4.5, 4.25, 3.75, 4.0], "soaked": [None, None, None, None, None]},
}

SETTINGS = {
    "name": "Sample Bench", "time_zone": "America/Denver", "currency": "USD", "units_first": "metric", "paper": "A4",
    "language": "en", "assurance": "95 %", "margin": "10 %",
}  # fmt: skip


def said(page: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page))


def test_the_open_limits_of_a_job_are_looked_ahead_at(cast):
    tried = a_tried_job(cast, peaks=NEAR)
    found = next_steps.next_steps(cast.tess, job_id=tried.job_id)
    assert {one.recipe for one in found.more} == {"A"}
    page = cast.browser("tess").get(f"/jobs/{tried.job_id}/next")
    assert page.status_code == 200
    assert "more blocks of A" in said(page.text) and "without a published source" in said(page.text)


def test_acts_stand_beside_each_other_with_what_they_take(cast):
    tried = a_tried_job(cast, peaks=NEAR, calibrated=False)
    found = next_steps.next_steps(cast.tess, job_id=tried.job_id)
    blocks = [act for act in found.acts if act.kind == "blocks"]
    # One row for each open limit; seven days, the age that was planned; the chance is that of the table below it.
    assert [(act.name, act.mixes, act.days) for act in blocks] == [("A", 1, 7.0)] * len(found.more)
    told = {(one.enough or one.options[-1]).settled for one in found.more}
    assert {act.chance for act in blocks} == told
    # The same batch is an act of its own. All its blocks were crushed, so it comes after the others.
    same = [act for act in found.acts if act.kind == "same batch"]
    assert [(act.name, act.mixes, act.days, act.left) for act in same] == [("A", 0, 7.0, 0)] * len(found.more)
    assert {act.chance for act in same} <= {option.settled for one in found.more for option in one.same_mix}
    assert found.acts[-1 - len(same) : -1] == tuple(same) and not any(act.possible for act in same)
    # A press taken by its geometry is off by 5 %, five times what a calibration leaves.
    assert [act.blocks for act in found.acts if act.kind == "calibrate"] == [0] * len(found.more)
    # Chances that are told alike stand by price and days.
    chances = [round(act.chance, 2) for act in found.acts if act.possible]
    assert found.acts[-1].kind == "stop" and chances == sorted(chances, reverse=True)
    page = said(cast.browser("tess").get(f"/jobs/{tried.job_id}/next").text)
    assert "Crush more blocks of A from the same batch" in page and "none left" in page
    assert "What you can do next" in page and "Calibrate the press" in page and "Stop here" in page
    assert "that it is settled" in page


def test_acts_have_a_price_once_the_shop_has_said_its_own(cast):
    tried = a_tried_job(cast, peaks=NEAR, calibrated=False)
    tess, olu = cast.browser("tess"), cast.browser("olu")
    here = f"/jobs/{tried.job_id}/next"
    before = said(tess.get(here).text)
    assert "The owner has to set the price for a tested block and for a calibration in the settings" in before
    assert "Add your price for a tested block and for a calibration in the settings" in said(olu.get(here).text)
    assert olu.post("/settings", SETTINGS | {"block_price": "12.5", "calibration_price": "90"}).status_code == 303
    shop = replace(cast.tess.shop, block_price=Decimal("12.5"), calibration_price=Decimal(90))
    found = next_steps.next_steps(replace(cast.tess, shop=shop), job_id=tried.job_id)
    # Blocks at 12.50 each, the mix in it; a calibration at its own price; stopping costs nothing.
    for act in found.acts:
        assert act.cost == {"calibrate": 90}.get(act.kind, act.blocks * Decimal("12.5"))
    after = said(tess.get(here).text)
    assert "set the price" not in after and "$90.00" in after


def test_the_results_show_the_first_three_steps(cast):
    tried = a_tried_job(cast, peaks=NEAR, calibrated=False)
    tess = cast.browser("tess")
    assert f'hx-get="/jobs/{tried.job_id}/next"' in tess.get(f"/jobs/{tried.job_id}/results").text
    headers = {"hx-request": "true", "hx-target": "next_steps"}
    part = tess.get(f"/jobs/{tried.job_id}/next", headers=headers).text
    rows = part.count("<tr>") + part.count("<tr ") - 1
    assert part.lstrip().startswith('<section id="next_steps">') and rows == 3 and "<html" not in part


def test_why_more_blocks_do_not_raise_the_chance_is_said(cast):
    tried = a_tried_job(cast, peaks=NEAR)
    page = said(cast.browser("tess").get(f"/jobs/{tried.job_id}/next").text)
    assert "The rule asks each of 5 blocks to reach it" in page


def test_two_recipes_not_told_apart_are_looked_ahead_at(cast):
    like = {**NEAR, "C": {"as cured": [7.9, 8.4, 7.6, 8.3, 8.0], "soaked": [6.7, 6.9, 6.4, 6.5, 7.0]}}
    tried = a_tried_job(cast, peaks=like)
    found = next_steps.next_steps(cast.tess, job_id=tried.job_id)
    assert {frozenset((one.pair.a, one.pair.b)) for one in found.both} == {frozenset("AC")}
    page = cast.browser("tess").get(f"/jobs/{tried.job_id}/next").text
    assert "which is the stronger" in said(page) and "more blocks each of" in said(page)


def test_a_series_of_two_shares_gets_its_word(cast):
    tried = a_tried_job(cast, peaks={**NEAR, "A": {"as cured": [12.4] * 5, "soaked": [11.0, 11.5, 10.5, 11.2, 10.9]}})
    found = next_steps.next_steps(cast.tess, job_id=tried.job_id)
    assert found.more == ()
    # C, without cement, fell apart in the water: nothing is worked out between it and the 6 % of A.
    assert any("fell apart" in phrase.english for phrase in found.shares)


def test_before_the_first_block_the_page_says_so(cast):
    tried = a_tried_job(cast, peaks={})
    assert "before the first block" in cast.browser("tess").get(f"/jobs/{tried.job_id}/next").text


def test_customers_do_not_look_ahead_and_unknown_jobs_are_not_found(cast):
    tried = a_tried_job(cast, peaks=NEAR)
    with pytest.raises(Forbidden):
        next_steps.next_steps(cast.cy, job_id=tried.job_id)
    with pytest.raises(NotFound):
        next_steps.next_steps(cast.tess, job_id=cast.ids["tess"])


def test_the_page_takes_few_statements(cast, statements):
    tried = a_tried_job(cast, peaks=NEAR)
    tess = cast.browser("tess")
    statements.clear()
    tess.get(f"/jobs/{tried.job_id}/next")
    assert len(statements) <= 12
