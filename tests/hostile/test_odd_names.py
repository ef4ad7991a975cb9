"""Names that a chart or a page could stumble over: written as they are, refused where they are no text, corrected."""

import json
from uuid import UUID, uuid4
from xml.etree import ElementTree

import pytest
from sqlmodel import Session

from service.desk import materials
from service.errors import Invalid
from service.paper import charts, svg
from service.paper.soil_points import Curve
from service.records.materials import Material
from service.words.text_to_numbers import read_words
from service.work.answering import answer_text
from tests.cast import Cast

ODD = ["$$", "$x", r"$\frac{$", "a_b^c $", "100 % <b>"]
NO_TEXT = ["\uffff", "\ufffe", "\x0b", "\ud800", "\x00", "\x1b"]


def soil(cast: Cast, name: str) -> UUID:
    return materials.add_material(cast.tess, kind="soil", name=name, customer_id=cast.customers["cy"]).id


@pytest.mark.filterwarnings("ignore:Glyph")
@pytest.mark.parametrize("name", [*ODD, "odd \uffff one", "odd \x0b one"])
def test_a_chart_writes_a_name_as_it_is_and_is_whole_whatever_was_stored(name: str) -> None:
    drawn = charts.grading_chart((Curve(name, ((4.75, 0.9), (0.075, 0.2))),), prefix="t")
    words = "".join(ElementTree.fromstring(drawn).itertext())
    assert name.replace("\uffff", "\ufffd").replace("\x0b", "\ufffd") in words


@pytest.mark.parametrize("sign", NO_TEXT, ids=ascii)
def test_what_is_no_text_is_refused_at_the_one_door_of_words_and_by_calculations(sign: str) -> None:
    with pytest.raises(Invalid, match="cannot be stored"):
        read_words(f"Red {sign} loam", field="name", most=80)
    given = {"soils": [{"name": f"a{sign}b", "passing": []}], "envelope": []}
    with pytest.raises(Invalid, match=r"not text|half a character"):
        answer_text("blend", json.dumps(given))


@pytest.mark.parametrize("sign", ["\uffff", "\x0b"], ids=ascii)
def test_and_so_it_is_on_forms_and_by_programs(cast: Cast, sign: str) -> None:
    form = {"kind": "sand", "name": f"Sand {sign} b"}
    refused = cast.browser("tess").post("/materials", form, headers={"hx-request": "true"})
    assert refused.status_code == 422 and "cannot be stored" in refused.json()["fields"]["name"]
    sack = {"job_id": str(uuid4()), "new_soil": f"Red {sign} b", "label": "J1-A", "mass_kg": 20.0}
    sent = cast.program("tess").post("/api/v1/soils", json=sack, headers={"idempotency-key": "k1"})
    assert sent.status_code == 422 and "cannot be stored" in sent.text


@pytest.mark.filterwarnings("ignore:Glyph")
def test_a_page_with_an_odd_name_from_before_shows_and_its_name_is_corrected(cast: Cast) -> None:
    odd = soil(cast, "Loam")
    with Session(cast.stores.write) as session:
        session.get_one(Material, odd).name = "Loam $$ \uffff"
        session.commit()
    tess = cast.browser("tess")
    assert tess.get(f"/soils/{odd}").status_code == 200
    sent = tess.post(f"/materials/{odd}/name", {"name": "Loam $$", "then": f"/soils/{odd}"})
    assert sent.headers["location"] == f"/soils/{odd}"
    assert "Loam $$" in tess.get(f"/soils/{odd}").text and tess.get(f"/materials/{odd}").status_code == 200


def test_a_rule_of_the_shops_own_gets_another_name(cast: Cast) -> None:
    olu = cast.browser("olu")
    rule = {"name": "Own $$", "rests_on": "Our own blocks", "demand": "mean", "statistic": "mean", "limit": "2 MPa"}
    whole = {**rule, "state": "soaked", "soak_hours": "24 h", "blocks": "5", "form": "own"}
    assert olu.post("/codes", whole).status_code == 303
    page = olu.get("/codes").text
    own_id = page.partition("/codes/own/")[2].partition("/")[0]
    assert olu.post(f"/codes/own/{own_id}/name", {"new_name": "Our own rule"}).status_code == 303
    assert "Our own rule" in olu.get("/codes").text and "Own $$" not in olu.get("/codes").text


def test_a_description_of_a_drawing_holds_no_such_sign_either() -> None:
    drawn = svg.embeddable(
        '<svg xmlns="http://www.w3.org/2000/svg"/>', prefix="p", title="a\uffff", description="b\x0b"
    )
    assert ElementTree.fromstring(drawn) is not None and "\uffff" not in drawn and "\x0b" not in drawn
