"""The first page: what to do, in the customer's own terms, in sentences that nobody has to read twice."""

import re
from dataclasses import replace
from decimal import Decimal

import pytest

from service.desk.results import live
from service.desk.results.recipe_facts import BagFacts, SquareFacts
from service.paper import issuing
from service.paper.evidence import evidence
from service.paper.glance import M2_PER_FT2, glance
from service.phrase import Phrase
from service.trade.sentences.asking import ANOTHER
from tests.cast import Cast
from tests.trials import a_tried_job

MOST_WORDS = 20
# A figure with its unit is one word, and the same in the other system goes with it.
FIGURE = re.compile(r"[\d.]+\s(?:MPa|psi|%|h|kg|mm|lb|in|L|gal|g)\b(?:\s\([\d.]+\s(?:psi|MPa)\))?|[\d.]+\s%")


@pytest.fixture
def result(cast: Cast):
    return live.live(cast.olu, job_id=a_tried_job(cast).job_id).result


def sentences(page: str) -> list[str]:
    first = page.partition('<section class="glance"')[2].partition("</section>")[0]
    first = re.sub(r"<svg.*?</svg>", "", first, flags=re.DOTALL)
    blocks = re.findall(r"<(?:p|li|h2|td|th)\b[^>]*>(.*?)</(?:p|li|h2|td|th)>", first, flags=re.DOTALL)
    texts = [" ".join(re.sub(r"<[^>]+>", " ", block).split()) for block in blocks]
    return [one for text in texts for one in re.split(r"(?<=[.?!;])\s", text)]


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize(
    "peaks",
    [None, {"A": {"as cured": [12.0, 12.4], "soaked": [0.6, 0.7, 0.8]}}, {"A": {"as cured": [12.0], "soaked": [8.0]}}],
)
def test_no_sentence_of_the_first_page_has_more_than_twenty_words(cast, language, peaks):
    tried = a_tried_job(cast, **({"peaks": peaks} if peaks else {}))
    draft, beside = issuing.drafted(cast.olu, job_id=tried.job_id, remark="", seen_sha256=None, language=language)
    page = issuing.issued_page(draft, beside, cast.olu.shop, address="")
    found = sentences(page)
    assert len(found) > 10
    assert [one for one in found if len(FIGURE.sub("1", one).split()) > MOST_WORDS] == []


def test_nothing_of_the_bench_block_stands_for_the_customers(result):
    view = glance(replace(result, job=replace(result.job, machine_length_mm=None)), "metric")
    assert "machine" in view.missing
    if view.recipe and view.recipe.cost and view.recipe.cost.block == "bench block":
        assert view.bag is None and view.area is None


def test_bags_and_money_are_of_the_customers_own_block(result):
    label = result.recommended
    assert label
    recipe = next(one for one in result.recipes if one.label == label)
    square = {"blocks": 80.0, "cost": Decimal("4.00"), "carbon_kg": 20.0}
    cost = replace(
        recipe.cost,
        block="own block",
        square=SquareFacts(**square),
        bag=BagFacts("cement", 42.64, 40, 2.5, None),
    )
    mine = tuple(replace(one, cost=cost) if one.label == label else one for one in result.recipes)
    view = glance(replace(result, recipes=mine), "metric")
    # 80 blocks at 2.5 bags for a hundred are 2 bags; a square foot is 0.09290304 of a square metre by definition.
    assert view.area is not None and view.bag is not None
    assert (view.area.blocks, view.area.bags, view.area.cost) == (80.0, 2.0, Decimal("4.00"))
    foot = glance(replace(result, recipes=mine), "imperial").area
    assert foot is not None and foot.blocks == pytest.approx(80 * M2_PER_FT2)
    assert foot.cost == Decimal("4.00") * Decimal("0.09290304")


def test_a_machine_that_presses_otherwise_than_the_bench_is_told(result):
    job = replace(result.job, machine_pressure_mpa=1.0)
    assert glance(replace(result, job=job), "metric").presses_otherwise
    bench = next(one.press_stress_mpa for one in result.recipes if one.label == result.recommended)
    same = replace(result.job, machine_pressure_mpa=bench)
    assert not glance(replace(result, job=same), "metric").presses_otherwise


def test_plain_mean_and_deviation_are_those_of_the_blocks_that_broke(result, cast):
    found = evidence(result, zone="UTC")
    whole = [one for one in found.plain if one.mean_mpa is not None and one.sd_mpa is not None]
    assert whole
    for one in whole:
        stresses = [
            reading.crushed.stress.stress_mpa
            for reading in result.readings
            if reading.fate == "counted"
            and (reading.recipe, reading.condition) == (one.group.said.recipe, one.group.said.condition)
        ]
        mean = sum(stresses) / len(stresses)
        # By hand: the root of the squared distances over one less than their number.
        sd = (sum((stress - mean) ** 2 for stress in stresses) / (len(stresses) - 1)) ** 0.5
        assert one.mean_mpa == pytest.approx(mean) and one.sd_mpa == pytest.approx(sd)
        assert one.lowest_mpa == min(stresses)


def test_a_bar_ends_where_measuring_stopped(result):
    bars = [bar for bar in glance(result, "metric").bars if bar.high_mpa is None and bar.low_mpa is not None]
    assert bars
    for bar in bars:
        assert bar.measured_to_mpa is not None and bar.low_mpa <= bar.measured_to_mpa


def test_how_the_highest_reading_was_caught_is_counted_over_the_loaded_blocks(result):
    loaded = [one for one in result.readings if one.crushed and one.crushed.stress]
    first, *others = loaded
    caught = [replace(one, crushed=replace(one.crushed, peak_read="held needle")) for one in others]
    # One that fell apart in the water has no reading that could be caught.
    apart = [one for one in result.readings if one.crushed and not one.crushed.stress]
    unsaid = replace(first, crushed=replace(first.crushed, peak_read=None))
    found = evidence(replace(result, readings=(unsaid, *caught, *apart)), zone="UTC")
    assert (found.peaks, found.loaded) == ({"held needle": len(loaded) - 1}, len(loaded))


def test_a_long_answer_folds_what_is_reason_and_leaves_what_to_ask_for(result):
    seen = glance(result, "metric")
    why = (*(Phrase(f"Reason {number}.") for number in range(4)), ANOTHER, Phrase("Reason 4."))
    long = replace(seen, why=why)
    assert [one.english for one in long.told] == [
        "Reason 0.",
        "Reason 1.",
        "Reason 2.",
        "Ask us to test another recipe.",
    ]
    assert [one.english for one in long.folded] == ["Reason 3.", "Reason 4."]
    assert sorted((*long.told, *long.folded), key=why.index) == list(why)
