"""The drawing of strength by share: what was measured, and nothing above it."""

import re
from dataclasses import replace
from xml.etree import ElementTree as Xml

from service.paper.content_chart import TOP, UP, BandPoint, ContentPicture, ReadAt, content_chart, shares_drawn

BAND = tuple(BandPoint(s, 30 * s, 40 * s, 90 * s, tested=0.04 <= s <= 0.08) for s in (0.03, 0.04, 0.06, 0.08, 0.09))
READ = (ReadAt(0.04, "broke", 1.6), ReadAt(0.08, "held", 3.5), ReadAt(0.04, "fell apart", 0.0))
PICTURE = ContentPicture("soaked", "lime <A>", True, BAND, READ, (("wet & mean", 2.0),), least_share=0.055)


def test_it_is_a_drawing_with_its_words_beside_it():
    root = Xml.fromstring(content_chart(PICTURE, prefix="one"))
    told = root.find("{*}desc").text
    assert "4 %: 1.6 MPa" in told and "8 %: at least 3.5 MPa" in told and "4 %: fell apart" in told
    assert "Not tested: 5.5 %" in told and "wet & mean 2 MPa" in told
    assert root.attrib["role"] == "img" and not re.search(
        "style=|<style|<script", Xml.tostring(root, encoding="unicode")
    )


def test_the_band_ends_at_the_highest_stress_measured():
    drawn = content_chart(PICTURE, prefix="one")
    outline = re.search(r'<polygon points="([^"]*)"', drawn)[1]
    highest = min(float(point.split(",")[1]) for point in outline.split())
    mark = 1.16 * 3.5
    assert abs(highest - (TOP + UP * (1 - 3.5 / mark))) < 0.1


def test_an_untested_share_is_said_to_be_untested():
    assert "5.5 %, not tested" in content_chart(PICTURE, prefix="one")
    assert "least: 4 %" in content_chart(replace(PICTURE, least_share=0.04), prefix="one")


def test_held_has_an_arrow_and_its_words():
    drawn = content_chart(PICTURE, prefix="one")
    assert "arrow: did not break, at least this much" in drawn and "cross: fell apart in the water" in drawn
    without = replace(PICTURE, read=READ[:1])
    assert "arrow" not in content_chart(without, prefix="one")


def test_stresses_are_written_in_the_unit_asked_for():
    drawn = content_chart(replace(PICTURE, unit="psi", factor=145.04), prefix="one")
    assert "psi, soaked" in drawn and "limit 290" in drawn


def test_what_a_block_was_held_to_is_rounded_down():
    # 9.2797 MPa are 1345.9 psi.
    picture = replace(PICTURE, unit="psi", factor=145.0377, read=(ReadAt(0.04, "held", 9.2797),), limits=())
    assert "at least 1340 psi" in content_chart(picture, prefix="one")


def test_shares_are_drawn_a_fifth_beyond_the_tested_ones():
    shares = shares_drawn([0.04, 0.08])
    assert (shares[0], round(shares[-1], 9)) == (0.032, 0.096) and {0.04, 0.08} <= set(shares)


def test_a_tested_share_has_a_bar_of_its_own_and_no_notch_in_the_band():
    # 4 % is known better than what lies on either side of it; its end of the band would be a notch.
    band = tuple(BandPoint(s, 30 * s, 40 * s, 50 * s, tested=True) for s in (0.03, 0.035, 0.045, 0.05))
    picture = replace(PICTURE, band=(*band[:2], BandPoint(0.04, 1.55, 1.6, 1.65, tested=True), *band[2:]))
    drawn = content_chart(picture, prefix="one")
    outline = re.search(r'<polygon points="([^"]*)"', drawn)[1]
    assert len(outline.split()) == 8 and drawn.count('width="10"') == 1
    assert "bar: 90 % of a tested share" in drawn
