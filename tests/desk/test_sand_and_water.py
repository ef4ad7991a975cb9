"""Strength along added sand and along water: a curve from three shares on, two as they stand, nothing outside them."""

from service.desk.results._least import answered
from service.desk.results._series import Series
from service.paper.content_chart import BandPoint, ContentPicture, ReadAt, content_chart
from service.trade.strength.censored_readings import broke
from service.trade.strength.content_curve.cells import Row
from service.trade.strength.estimate_result import OrderAnswer, Settings
from service.words.sentences import say


def blocks(middle: float) -> tuple:
    return tuple(broke(stress_mpa=middle * part) for part in (0.94, 1.0, 1.06, 0.97, 1.03))


def asked(varied: str, levels: dict[float, float], *, will_do: tuple[str, ...] = ()):
    shares = tuple((chr(65 + number), share) for number, share in enumerate(levels))
    series = Series(varied, ("silt",), "sand" if varied == "sand" else "water", shares)
    rows = tuple(Row(share, "soaked", blocks(mpa), f"mix {share}") for share, mpa in levels.items())
    order = [
        OrderAnswer(label, "will do" if label in will_do else "not settled", None, None, None) for label, _ in shares
    ]
    return answered(series, rows, [], [], Settings(), order, {})


def told(answer) -> list[str]:
    return [say(one, units="si", currency="USD") for one in answer.sentences]


def test_two_shares_of_sand_show_no_curve_and_one_between_is_offered():
    found = asked("sand", {0.0: 1.8, 0.3: 2.6})
    assert told(found) == [
        "We tested two shares of sand. Two show no curve: strength may peak between them. Press one between."
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
