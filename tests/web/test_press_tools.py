"""Presses, gauges and moulds corrected and taken out of use; a dial that shows force."""

import json
import re

import pytest
from sqlmodel import Session, select

from service.records.corrections import Correction
from service.records.presses import Gauge, Mould, Press
from service.words.units import unit_label
from tests.cast import Browser, Cast
from tests.web.test_bench_pages import GAUGE, PRESS, gauge_of, sentences
from tests.web.test_curing_and_crushing import opened

MOULD = {"name": "Half", "length_mm": "5 1/2", "length_mm_unit": "in", "width_mm": "90 mm", "height_mm": "90 mm"}


@pytest.fixture
def olu(cast: Cast) -> Browser:
    return cast.browser("olu")


def press_of(olu: Browser) -> str:
    found = re.search(r"/presses/([0-9a-f-]{36})/gauges", olu.get("/presses").text)
    assert found
    return found[1]


def test_a_press_is_corrected_with_a_reason_and_says_what_it_was(cast: Cast, olu: Browser) -> None:
    gauge_of(olu)
    path = f"/presses/{press_of(olu)}"
    assert 'value="76.2"' in olu.get("/presses").text
    wrong = {**PRESS, "form": f"press-{press_of(olu)}", "working_limit_kn": "150 kN"}
    assert list(sentences(olu.post(f"{path}/corrections", wrong))) == ["because"]
    assert olu.post(f"{path}/corrections", {**wrong, "because": "the plate was misread"}).status_code == 303
    assert "150 kN" in olu.get("/presses").text
    with Session(cast.stores.read) as session:
        (kept,) = session.exec(select(Correction)).all()
        assert json.loads(kept.was)["working_limit_kn"]["typed"] == {"text": "160", "unit": "kN"}
        assert session.exec(select(Press)).one().working_limit_kn == 150.0


def test_a_corrected_limit_stays_below_the_rating(olu: Browser) -> None:
    gauge_of(olu)
    path = f"/presses/{press_of(olu)}/corrections"
    answer = olu.post(path, {**PRESS, "working_limit_kn": "250 kN", "because": "more"})
    assert answer.status_code == 422 and "working_limit_kn" in sentences(answer)


def test_a_press_without_a_measured_share_takes_the_usual_one(cast: Cast, olu: Browser) -> None:
    assert olu.post("/presses", {**PRESS, "efficiency": ""}).status_code == 303
    with Session(cast.stores.read) as session:
        assert session.exec(select(Press)).one().efficiency == 0.95


def test_a_gauge_and_a_mould_are_corrected(cast: Cast, olu: Browser) -> None:
    path = f"/presses/gauges/{gauge_of(olu)}/corrections"
    changed = {**GAUGE, "graduation_mpa": "0.25 MPa", "because": "there are two marks between the figures"}
    assert olu.post(path, changed).status_code == 303
    assert olu.post("/presses/moulds", MOULD).status_code == 303
    found = re.search(r"/presses/moulds/([0-9a-f-]{36})/corrections", olu.get("/presses").text)
    assert found and 'value="5 1/2"' in olu.get("/presses").text
    sides = {**MOULD, "width_mm": "3 1/2", "width_mm_unit": "in", "because": "worn"}
    assert olu.post(f"/presses/moulds/{found[1]}/corrections", sides).status_code == 303
    with Session(cast.stores.read) as session:
        assert session.exec(select(Gauge)).one().graduation_mpa == 0.25
        mould = session.exec(select(Mould)).one()
        # Three and a half and five and a half inches of 25.4 mm.
        assert (mould.length_mm, mould.width_mm) == pytest.approx((139.7, 88.9), rel=1e-12)


def test_what_is_out_of_use_is_offered_no_more_and_kept(cast: Cast, olu: Browser) -> None:
    gauge_of(olu)
    olu.post("/presses/moulds", MOULD)
    page = olu.get("/presses").text
    mould = re.search(r"/presses/moulds/[0-9a-f-]{36}/end", page)
    assert mould and olu.post(mould.group()).status_code == 303
    assert olu.post(f"/presses/{press_of(olu)}/end").status_code == 303
    gone = olu.get("/presses").text
    assert "No press is listed yet." in gone and "No mould is listed yet." in gone
    with Session(cast.stores.read) as session:
        for table in (Press, Gauge, Mould):
            assert session.exec(select(table)).one().ended_at is not None  # type: ignore[attr-defined]


def test_a_gauge_at_which_somebody_crushes_is_not_taken_out_of_use(cast: Cast, olu: Browser) -> None:
    opened(cast, cast.browser("tess"))
    path = re.search(r"/presses/gauges/[0-9a-f-]{36}/end", olu.get("/presses").text)
    assert path and olu.post(path.group()).status_code == 409


def test_only_the_owner_changes_a_press(cast: Cast, olu: Browser) -> None:
    gauge_of(olu)
    for act in ("corrections", "end"):
        assert cast.browser("tess").post(f"/presses/{press_of(olu)}/{act}", PRESS).status_code == 403


def test_a_dial_in_pounds_of_force_is_read_as_the_pressure_on_its_ram(cast: Cast, olu: Browser) -> None:
    olu.post("/presses", {**PRESS, "ram_diameter_mm": "3 in"})
    dial = {"name": "Old dial", "unit": "lbf", "graduation_mpa": "200", "full_scale_mpa": "30000"}
    assert olu.post(f"/presses/{press_of(olu)}/gauges", dial).status_code == 303
    with Session(cast.stores.read) as session:
        gauge = session.exec(select(Gauge)).one()
        # 200 lbf on a ram of 3 in, which is 7.0686 square inches: 28.294 psi, or 0.19508 MPa.
        assert gauge.graduation_mpa == pytest.approx(0.19508, rel=1e-4)
        assert unit_label(gauge.unit) == "lbf"
    shown = olu.get("/presses").text
    assert "Reads in lbf, in steps of 200 lbf" in shown and "to 30000 lbf" in shown
    path = re.search(r"/presses/gauges/[0-9a-f-]{36}/calibrations", shown)
    assert path
    rows = {"gauge_mpa.0": "5000", "gauge_mpa.1": "10000", "gauge_mpa.2": "20000"}
    rows |= {"force_kn.0": "4700", "force_kn.1": "9400", "force_kn.2": "18800"}
    days = {"done_on": "2027-02-01", "valid_from": "2027-02-01", "valid_until": "2028-02-01", "reference": "load cell"}
    sent = {**days, **rows, "gauge_unit": gauge.unit, "force_unit": "lbf"}
    assert olu.post(path.group(), sent).status_code == 303
    # 0.94 lbf on the block for each lbf of the dial; nothing is left over but the rounding of the sum.
    page = olu.get("/presses").text
    assert "for each lbf on the gauge" in page and "The points are on it." in page
