"""Screen and paper give one answer: the same figures, one verdict of a recipe, and the rule as it is applied."""

import re
from datetime import timedelta

import pytest
from bs4 import BeautifulSoup

from tests.cast import Cast
from tests.trials import a_tried_job, correct


@pytest.fixture
def cast(cast_on_sqlite: Cast) -> Cast:
    return cast_on_sqlite


def both(cast: Cast, job_id: object) -> tuple[BeautifulSoup, BeautifulSoup]:
    """Return the live page of a job and the paper as it would be issued."""
    pages = [cast.browser("olu").get(f"/jobs/{job_id}/{ending}") for ending in ("results", "issue/preview?remark=x")]
    assert [page.status_code for page in pages] == [200, 200]
    return BeautifulSoup(pages[0].text, "html.parser"), BeautifulSoup(pages[1].text, "html.parser")


def words(found: object) -> str:
    return re.sub(r"\s+", " ", found.get_text(" ")).strip()  # type: ignore[attr-defined]


def test_screen_and_paper_show_each_figure_alike(cast):
    screen, paper = both(cast, a_tried_job(cast).job_id)
    for table in ("#strengths", "#each-limit"):
        told = words(paper.select_one(table))
        assert re.search(r"\d", told) and words(screen.select_one(table)) == told


def test_a_recipe_that_fell_apart_has_one_verdict_wherever_it_stands(cast):
    screen, paper = both(cast, a_tried_job(cast).job_id)
    assert all("Do not use recipe C." in words(page) for page in (screen, paper))
    (row,) = [words(one) for one in screen.select("#order ~ table tr, #order ~ * tr") if "fails" in words(one)]
    assert row.startswith("C fails") and "not known" not in row.partition("$")[0]
    assert "would pass is open" not in words(screen)


def test_too_few_blocks_are_said_first_and_the_rule_is_told_as_it_is_applied(cast):
    tried = a_tried_job(cast, peaks={"A": {"as cured": [12.4, 13.1, 11.9], "soaked": [10.75, 10.25, 10.5]}})
    for page in both(cast, tried.job_id):
        text = words(page)
        short, rule = text.index("the rule asks for 5"), text.index("Decision rule")
        assert short < rule and "Too few blocks are said first; they do not stop it." in text[rule:]
        assert "meet the rules themselves" not in text


def test_the_recipe_that_came_nearest_is_the_one_whose_blocks_are_counted_first(cast):
    # The last of three is the strongest, each below what five blocks would have to show.
    wet = {"A": [6.0, 6.5, 6.25], "B": [6.0, 6.25, 6.5], "C": [7.0, 7.25, 7.5]}
    tried = a_tried_job(
        cast, peaks={name: {"as cured": [13.0, 12.5, 13.5], "soaked": gauges} for name, gauges in wet.items()}
    )
    screen, paper = both(cast, tried.job_id)
    for page in (screen, paper):
        first = re.search(r"asks for 5 blocks of ([ABC]) ", words(page))
        assert first and first[1] == "C"


def test_a_rule_is_put_to_the_first_blocks_crushed_and_one_more_does_not_change_which(cast):
    wet = [10.75, 10.25, 10.5, 11.0, 10.0, 12.0, 3.0]
    tried = a_tried_job(cast, peaks={"A": {"as cured": [12.4, 13.1, 11.9, 12.8, 13.4], "soaked": wet}})
    # By number A6 is the first, but it does not count at first, and was crushed ten minutes after the others.
    later = tried.pressed_at + timedelta(days=7, minutes=10)
    slipped = {"outcome": "spoiled", "spoiled_because": "It slipped.", "failure": None, "gauge_mpa": None}
    correct(cast, tried, "1-A6", "It slipped.", **slipped)
    first = "A, soaked 4 h, 7 days (first 5 of {}): 1-A7, 1-A8, 1-A9, 1-A10, 1-A11."
    passes = "A: {} of 5, passes,"
    for page in both(cast, tried.job_id):
        assert first.format(6) in words(page) and passes.format(6) in words(page)
    right = {"outcome": "broke", "spoiled_because": None, "failure": "hourglass", "gauge_mpa": 10.75}
    correct(cast, tried, "1-A6", "It was another block that slipped.", crushed_at=later, **right)
    for page in both(cast, tried.job_id):
        assert first.format(7) in words(page) and passes.format(7) in words(page)
