"""A chart shows every reading, in shapes and words, and says nothing that was not measured."""

import re
from dataclasses import replace
from xml.etree import ElementTree as Xml

import pytest

from service.paper.charts import (
    PSI_PER_MPA,
    grading_chart,
    plasticity_chart,
    readings_chart,
)
from service.paper.soil_points import Curve, Envelope, LimitsPoint
from service.paper.strips import LimitLine, Mark, Readings, Strip, placed
from service.paper.svg import embeddable

DRY, WET = "oven-dry, 7 days", "soaked 24 h, 7 days"
TRIAL = Readings(
    (
        Strip(
            "A", DRY, False, (Mark("broke", 3.1), Mark("broke", 3.3), Mark("broke", 5.0, counted=False)), 2.7, 3.2, 3.8
        ),
        Strip("B", DRY, False, (Mark("held", 10.6), Mark("held", 10.4)), 10.9),
        Strip("A", WET, True, (Mark("fell apart", 0.0), Mark("broke", 0.4))),
    ),
    (LimitLine("code minimum", WET, 2.068),),
)


def words(svg: str) -> list[str]:
    return [element.text or "" for element in Xml.fromstring(svg).iter("{http://www.w3.org/2000/svg}text")]


PLAIN = '<svg xmlns="http://www.w3.org/2000/svg"><path d="M0 0H9"/></svg>'


@pytest.fixture
def drawn() -> str:
    return readings_chart(TRIAL, prefix="r")


def test_a_page_with_a_strict_content_policy_can_show_a_chart(drawn):
    assert "style" not in drawn
    assert "<script" not in drawn


def test_a_chart_is_drawn_whatever_prefix_another_library_registers(monkeypatch):
    monkeypatch.setattr(Xml, "_namespace_map", {})
    assert embeddable(PLAIN, prefix="one", title="T", description="D").startswith("<svg ")


def test_a_screen_reader_hears_every_reading(drawn):
    root = Xml.fromstring(drawn)
    assert root.get("role") == "img"
    # A PDF keeps the title alone, so that the title says what the drawing shows.
    assert root.get("aria-labelledby") == "r-title"
    heard = root.findtext("{http://www.w3.org/2000/svg}title") or ""
    assert "B, oven-dry, 7 days: did not break at 10.6 MPa, did not break at 10.4 MPa" in heard
    assert "fell apart, broke at 0.4 MPa" in heard
    assert "broke at 5 MPa (left out)" in heard
    assert "limit code minimum: 2.07 MPa, soaked 24 h, 7 days." in heard


def test_a_recipe_that_was_only_held_has_no_upper_end(drawn):
    heard = Xml.fromstring(drawn).findtext("{http://www.w3.org/2000/svg}title") or ""
    assert "strength, 90 %: 10.9 MPa, not measured above 10.9 MPa" in heard
    assert "not measured above" in words(drawn)


def test_a_block_that_fell_apart_has_no_place_on_the_scale(drawn):
    fell = Strip("A", WET, True, (Mark("fell apart", 0.0), Mark("broke", 0.4)))
    assert (fell.fell_apart, [mark.outcome for mark in fell.stood]) == (1, ["broke"])
    assert "1 fell apart" in words(drawn)


def test_a_shop_in_psi_reads_its_limits_and_its_axis_in_psi():
    own = readings_chart(replace(TRIAL, units="imperial"), prefix="r")
    # 2.068 MPa x 145.0377 psi/MPa (NIST SP 811) = 299.9 psi.
    assert "code minimum: 300 psi" in words(own) and "stress on the face, psi" in words(own)
    assert "stress on the face, MPa" in words(readings_chart(TRIAL, prefix="r"))


def test_a_drawing_speaks_spanish():
    said = words(readings_chart(replace(TRIAL, language="es", said=((DRY, "secado en horno, 7 días"),)), prefix="r"))
    assert {"esfuerzo en la cara, MPa", "no se rompió", "deshechos: 1", "secado en horno, 7 días"} <= set(said)
    assert not {"did not break", "fell apart", "limit", DRY} & set(said)


@pytest.mark.parametrize(
    "word", ["did not break", "fell apart", "left out", "soaked 24 h, 7 days", "code minimum: 2.07 MPa"]
)
def test_the_meaning_stands_beside_the_mark_in_words(drawn, word):
    assert word in words(drawn)


def test_two_charts_on_one_page_share_no_name():
    names = [set(re.findall(r'\bid="([^"]+)"', readings_chart(TRIAL, prefix=prefix))) for prefix in ("one", "two")]
    assert names[0]
    assert not names[0] & names[1]


def test_every_name_a_chart_refers_to_is_in_it(drawn):
    names = set(re.findall(r'\bid="([^"]+)"', drawn))
    assert set(re.findall(r'(?:href="|url\()#([^")]+)', drawn)) <= names


def test_the_same_readings_give_the_same_bytes(drawn):
    assert readings_chart.__wrapped__(TRIAL, prefix="r") == drawn


def test_a_chart_of_no_reading_says_so():
    assert "no reading" in words(readings_chart(Readings((Strip("A", DRY, False, ()),)), prefix="r"))


def test_a_long_recipe_name_stays_inside_the_narrowest_page():
    name = "6 % cement by weight of dry soil with a quarter of river sand and a little lime in the blend"
    lines = [
        line for line in words(readings_chart(Readings((Strip(name, DRY, False, ()),)), prefix="r")) if line in name
    ]
    assert " ".join(lines) == name
    assert max(map(len, lines)) * 12 * 0.6 <= 360


def test_one_megapascal_is_145_psi_nist_sp_811():
    assert pytest.approx(145.0377, abs=1e-4) == PSI_PER_MPA


def test_no_two_marks_and_no_word_overlap():
    marks = [Mark("held", 10.6)] * 4 + [Mark("broke", 10.9), Mark("broke", 2.0)]
    lanes = placed(marks, points_per_mpa=20.0, points_per_letter=6.6)
    # Four held marks one behind the other need a lane each; what broke at 10.9 stands 6 points on, so it needs another.
    assert sorted(one.lane for one in lanes) == [0, 0, 1, 2, 3, 4]
    assert [one.word for one in lanes].count("did not break") == 1


def test_a_grading_chart_has_its_envelope_and_every_curve():
    curves = tuple(Curve(f"sack {n}", ((4.75, 0.98), (0.075, 0.1 * n))) for n in range(1, 6))
    svg = grading_chart(curves, Envelope("band", ((4.75, 0.8, 1.0), (0.075, 0.2, 0.5))), prefix="g")
    assert {"band", *(curve.name for curve in curves), "4.75", "0.075", "size, mm (log scale)"} <= set(words(svg))
    assert "style" not in svg


def test_a_plasticity_chart_has_the_lines_of_astm_d2487():
    svg = plasticity_chart((LimitsPoint("sack 1", 0.34, 0.15),), prefix="p")
    assert {"A-line", "U-line", "CL", "CH", "ML", "MH", "CL-ML", "sack 1"} <= set(words(svg))
    assert "liquid limit 34 %, index 15 %" in svg
