"""Strength along added sand and along water: a curve from three shares on, two as they stand, nothing outside them."""

from decimal import Decimal

from service.desk.results._least import answered
from service.desk.results._series import Series
from service.desk.results._within import round_shares, within
from service.paper.content_chart import BandPoint, ContentPicture, ReadAt, content_chart
from service.trade.strength.censored_readings import broke
from service.trade.strength.content_curve.cells import Row
from service.trade.strength.estimate_result import Limit, OrderAnswer, Settings
from service.words.sentences import say


def blocks(middle: float) -> tuple:
    return tuple(broke(stress_mpa=middle * part) for part in (0.94, 1.0, 1.06, 0.97, 1.03))


def asked(varied: str, levels: dict[float, float], *, will_do: tuple[str, ...] = (), limits=(), costs=None):
    shares = tuple((chr(65 + number), share) for number, share in enumerate(levels))
    series = Series(varied, ("silt",), "sand" if varied == "sand" else "water", shares)
    rows = tuple(Row(share, "soaked", blocks(mpa), f"mix {share}") for share, mpa in levels.items())
    order = [
        OrderAnswer(label, "will do" if label in will_do else "not settled", None, None, None) for label, _ in shares
    ]
    return answered(series, rows, [], limits, Settings(), order, costs or {})


def told(answer, language: str = "en") -> list[str]:
    return [say(one, units="si", currency="USD", language=language) for one in answer.sentences]


LIMIT = Limit("code minimum", "soaked", "mean", 2.068, 5)
SAND = Series("sand", ("silt",), "sand", (("A", 0.0), ("B", 0.2), ("C", 0.4)))


def sure(passing: set[int]) -> dict[float, float]:
    """Return a chance for every percent of sand: enough, or not."""
    return {share: 0.97 if round(100 * share) in passing else 0.5 for share in round_shares(SAND, 0.01)}


def prices(*each: str) -> dict[str, Decimal]:
    return dict(zip("ABC", map(Decimal, each), strict=True))


def test_two_shares_of_sand_show_no_curve_and_one_between_is_offered():
    found = asked("sand", {0.0: 1.8, 0.3: 2.6})
    assert told(found) == [
        "We tested only two shares of sand. Strength may be highest between them. "
        "Press a recipe with a share between them."
    ]
    assert {one.kind for one in found.said.at} == {"tested"}
    assert (found.untested, found.to_plan.share) == (None, 0.15)


def test_three_shares_of_sand_have_a_band_within_them_and_none_outside():
    found = asked("sand", {0.0: 1.8, 0.15: 2.4, 0.3: 2.6})
    assert {one.kind for one in found.said.at} == {"tested", "between"}
    assert min(one.share for one in found.said.at) == 0.0 and max(one.share for one in found.said.at) == 0.3
    between = [one for one in found.said.at if one.kind == "between"]
    tested = [one for one in found.said.at if one.kind == "tested"]
    # Nobody pressed a share between, so that it is known less well than any that was.
    assert min(one.high_mpa / one.low_mpa for one in between) > min(one.high_mpa / one.low_mpa for one in tested)


def test_water_with_a_peak_between_is_said_to_be_untested():
    found = asked("water", {0.08: 2.0, 0.10: 2.9, 0.105: 2.9, 0.125: 2.0})
    assert all("will do" not in sentence for sentence in told(found))
    assert found.untested is None


def test_water_whose_strongest_was_tested_is_named_as_such():
    found = asked("water", {0.08: 2.0, 0.10: 2.9, 0.12: 2.0})
    assert told(found) == ["The blocks with 10 % water were the strongest, soaked."]
    assert found.to_plan is None


def test_the_chart_of_two_shares_has_bars_and_no_line_between():
    band = (BandPoint(0.0, 1.6, 1.8, 2.0, tested=True), BandPoint(0.3, 2.3, 2.6, 2.9, tested=True))
    read = (ReadAt(0.0, "broke", 1.8), ReadAt(0.3, "broke", 2.6))
    drawn = content_chart(ContentPicture("soaked", "sand", True, band, read, (), curve=False), prefix="two")
    assert "<polygon" not in drawn and drawn.count('width="18"') == 2 and "nothing known between" in drawn


def test_round_shares_of_sand_are_whole_percents_within_the_tested_ones():
    assert [round(100 * one) for one in round_shares(SAND, 0.01)] == list(range(41))


def test_where_sand_costs_money_the_low_end_of_the_range_is_worth_pressing():
    found = within(SAND, sure(set(range(14, 27))), wanted=0.95, will_do=["B"], costs=prices("0.30", "0.40", "0.50"))
    assert (found.share, found.low, found.high, found.reference) == (0.14, 0.14, 0.26, "B")


def test_where_soil_costs_more_than_sand_the_high_end_is():
    found = within(SAND, sure(set(range(14, 27))), wanted=0.95, will_do=["B"], costs=prices("0.50", "0.40", "0.30"))
    assert (found.share, found.low, found.high) == (0.26, 0.14, 0.26)


def test_a_gap_ends_the_range():
    found = within(SAND, sure({5, 6, *range(18, 23)}), wanted=0.95, will_do=["B"], costs=prices("0.30", "0.40", "0.50"))
    assert (found.share, found.low, found.high) == (0.05, 0.05, 0.06)


def test_no_share_is_worth_pressing_where_a_tested_one_costs_least():
    found = within(SAND, sure(set(range(19))), wanted=0.95, will_do=["A"], costs=prices("0.30", "0.40", "0.50"))
    assert (found.share, found.reference) == (None, "A")


def test_without_prices_the_least_sand_counts_as_the_cheapest():
    found = within(SAND, sure({14, 15, 16}), wanted=0.95, will_do=[], costs={"A": Decimal("0.3")})
    assert (found.share, found.priced, found.reference) == (0.14, False, None)


def test_of_two_recipes_with_one_share_one_that_passes_is_enough():
    twice = Series("sand", ("silt",), "sand", (("A", 0.0), ("B", 0.2), ("C", 0.2)))
    chances = dict.fromkeys(round_shares(twice, 0.01), 0.5)
    found = within(twice, chances, wanted=0.95, will_do=["B"], costs=prices("0.30", "0.40", "0.40"))
    assert (found.reference, found.low, found.high) == ("B", 0.2, 0.2)


def test_sand_is_said_as_a_range_with_its_cheapest_share_untested_and_its_saving():
    found = asked(
        "sand", {0.0: 1.9, 0.15: 5.0, 0.3: 5.6}, will_do=("B", "C"), limits=[LIMIT],
        costs=prices("0.30", "0.45", "0.60"),
    )  # fmt: skip
    share = found.untested.share
    assert 0.0 < share < 0.15 and found.chance >= 0.95 and found.to_plan == found.untested
    # By hand: cost runs straight from 0.30 at none to 0.45 at 15 %, one cent a percent; B costs 0.45.
    saved = 0.45 - (0.30 + round(100 * share) * 0.01)
    percent = f"{100 * share:.3g} %"
    assert told(found) == [
        f"Between about {percent} and 30 % sand, blocks may meet every limit.",
        f"About {percent} sand may be enough.",
        "We have not tested it; 5 blocks from 2 batches would confirm it.",
        f"{percent} sand would save about ${saved:.2f} a block against recipe B.",
    ]
    assert not any("will do" in one for one in told(found))
    assert told(found, "es")[1] == f"Podría bastar con cerca de {percent} de sand."


def test_sand_that_nobody_needs_is_said_so():
    found = asked("sand", {0.0: 4.0, 0.15: 3.6, 0.3: 4.0}, will_do=("A", "B"), limits=[LIMIT])
    assert told(found)[-1] == "Recipe A, without sand, is likely enough to pass." and found.untested is None


def test_no_share_of_sand_is_named_where_none_is_sure_enough():
    found = asked("sand", {0.0: 1.8, 0.15: 2.2, 0.3: 1.9}, limits=[LIMIT])
    assert told(found) == ["At no share of sand, tested or between, is it 95 % likely that blocks meet every limit."]
    assert (found.untested, found.to_plan) == (None, None)


def test_water_has_a_range_and_no_saving():
    found = asked("water", {0.08: 2.9, 0.10: 3.4, 0.12: 2.9}, will_do=("A", "B", "C"), limits=[LIMIT])
    assert told(found)[1:] == [
        "Between about 8 % and 12 % water, blocks may meet every limit.",
        "We count water as free, so more or less of it does not change the cost.",
    ]
    assert found.untested is None


def test_outside_the_tested_sand_nothing_is_worth_pressing():
    found = asked("sand", {0.0: 1.0, 0.1: 1.3, 0.2: 1.7}, limits=[LIMIT])
    assert found.untested is None and not any("may be enough" in one for one in told(found))
