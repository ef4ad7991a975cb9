"""What people type at intake and on the shelf: prices as they are quoted, and forms that are finished tomorrow."""

import re
from decimal import Decimal

import pytest
from sqlmodel import Session, select

from service.records.materials import Material, Price, Receipt
from service.records.soil_tests import MoistureCan, SoilTest
from tests.cast import Cast
from tests.web.test_intake import SACK, entry, open_job, sentence, take_in

PRICE = {"valid_from": "2027-03-01", "source": "The yard's list"}


def shelf_material(cast: Cast) -> str:
    answer = cast.browser("olu").post("/materials", {"kind": "cement", "name": "Grey cement"})
    return str(answer.headers["location"])


@pytest.mark.parametrize(
    ("typed", "per_kg", "shown"),
    [
        ({"per_kg": "0.175", "per_kg_unit": "lb"}, "0.385809", "$0.175/lb"),
        ({"per_kg": "14.50", "per_kg_unit": "bag", "bag_kg": "94", "bag_kg_unit": "lb"}, "0.340075", "$14.50/bag"),
        ({"per_kg": "38", "per_kg_unit": "short ton"}, "0.041888", "$38.00/short ton"),
        (
            {"per_kg": "30", "per_kg_unit": "yd3", "bulk_kg_m3": "95", "bulk_kg_m3_unit": "lb/ft3"},
            "0.025785",
            "$30.00/yd³",
        ),
        ({"per_kg": "0", "per_kg_unit": "kg"}, "0", "no cost"),
    ],
    ids=["a pound", "a bag", "a short ton", "a cubic yard", "nothing"],
)
def test_a_price_is_kept_as_it_is_quoted_and_turned_to_the_kilogram(cast, typed, per_kg, shown):
    # By hand: 0.175/0.45359237; 14.50/(94 x 0.45359237); 38/(2000 x 0.45359237); a cubic yard is 27 cubic feet, so it
    # weighs 27 x 95 = 2565 lb = 1163.464429 kg; each to the millionth, half up.
    path = shelf_material(cast)
    assert cast.browser("olu").post(f"{path}/prices", {**PRICE, **typed}).status_code == 303
    with Session(cast.stores.read) as session:
        assert session.exec(select(Price)).one().per_kg == Decimal(per_kg)
    assert shown in cast.browser("tess").get(path).text
    assert shown in cast.browser("tess").get("/materials").text


@pytest.mark.parametrize(("unit", "field"), [("bag", "bag_kg"), ("yd3", "bulk_kg_m3"), ("m3", "bulk_kg_m3")])
def test_a_price_by_the_bag_or_by_volume_asks_what_that_weighs(cast, unit, field):
    path = shelf_material(cast)
    answer = cast.browser("olu").post(f"{path}/prices", {**PRICE, "per_kg": "30", "per_kg_unit": unit})
    assert answer.status_code == 422 and "Say what" in sentence(answer.text, field)


def test_a_price_of_the_same_day_is_corrected_with_a_reason_and_the_first_is_kept(cast):
    path, olu = shelf_material(cast), cast.browser("olu")
    wrong = {**PRICE, "per_kg": "1.75", "per_kg_unit": "lb"}
    olu.post(f"{path}/prices", wrong)
    assert "has a price" in sentence(olu.post(f"{path}/prices", {**wrong, "per_kg": "0.175"}).text, "because")
    assert olu.post(f"{path}/prices", {**wrong, "per_kg": "0.175", "because": "a point too late"}).status_code == 303
    page = olu.get(path).text
    assert "$0.175/lb" in page and "a point too late" in page and "$1.75/lb" not in page


@pytest.mark.parametrize(
    ("cost", "told"),
    [
        ({"cost": "dug"}, "no cost"),
        ({"cost": "bought", "per_kg": "30", "per_kg_unit": "t"}, "$30.00/t"),
        ({"cost": "unknown"}, "No price is known."),
        ({}, "No price is known."),
    ],
    ids=["dug on site", "bought", "not known", "not asked"],
)
def test_what_a_new_soil_costs_is_asked_at_intake(cast, cost, told):
    tess, job_id = cast.browser("tess"), open_job(cast)
    assert tess.post(f"/jobs/{job_id}/intake", {**SACK, **cost}).status_code == 303
    link = re.search(r'href="(/materials/[0-9a-f-]{36})"', tess.get(f"/jobs/{job_id}/intake").text)
    assert link and told in tess.get(link[1]).text


def test_a_price_that_was_announced_and_left_empty_is_asked_for(cast):
    tess, job_id = cast.browser("tess"), open_job(cast)
    answer = tess.post(f"/jobs/{job_id}/intake", {**SACK, "cost": "bought"})
    assert answer.status_code == 422 and "Write the price" in sentence(answer.text, "per_kg")
    with Session(cast.stores.read) as session:
        assert session.exec(select(Receipt)).all() == []


def test_damp_cans_are_kept_tonight_and_dried_tomorrow(cast):
    path = f"/sacks/{take_in(cast)}"
    tonight = {"form": "cans", "method": "oven", "mass_unit": "oz", "cans.0.wet_kg": "5.1", "cans.0.can_kg": "0.9"}
    assert cast.browser("tess").post(f"{path}/later", tonight).headers["location"] == path
    cast.clock.forward(hours=15)
    page = cast.browser("olu").get(path).text
    assert "Not finished: typed" in page and 'value="5.1"' in entry(page, "cans.0.wet_kg")
    assert cast.browser("olu").post(f"{path}/cans", {**tonight, "cans.0.dry_kg": "4.9"}).status_code == 303
    assert "Not finished" not in cast.browser("tess").get(path).text
    with Session(cast.stores.read) as session:
        assert session.exec(select(MoistureCan)).one().as_read["dry_kg"] == {"text": "4.9", "unit": "oz"}


def test_a_jar_is_kept_until_its_clay_has_settled(cast):
    take_in(cast)
    with Session(cast.stores.read) as session:
        path = f"/soils/{session.exec(select(Material.id)).one()}"
    layers = {"form": "jar", "sand_mm": "2 1/4", "sand_mm_unit": "in", "silt_mm": "1/2", "silt_mm_unit": "in"}
    assert cast.browser("tess").post(f"{path}/later", layers).status_code == 303
    assert 'value="2 1/4"' in cast.browser("tess").get(path).text
    done = cast.browser("tess").post(f"{path}/jar", {**layers, "clay_mm": "3/8", "clay_mm_unit": "in"})
    assert done.status_code == 303
    page = cast.browser("tess").get(path).text
    assert "2 1/4 in" in page and "Not finished" not in page
    with Session(cast.stores.read) as session:
        assert [one.kind for one in session.exec(select(SoilTest))] == ["jar"]


def test_a_form_that_is_sent_whole_and_an_empty_one_are_not_kept_for_later(cast):
    path, tess = f"/sacks/{take_in(cast)}", cast.browser("tess")
    for sent in ({"form": "sack", "label": "J1-B"}, {"form": ""}, {}):
        assert tess.post(f"{path}/later", sent).status_code == 422


def test_what_is_kept_for_later_is_of_a_sack_or_a_soil_that_is_there(cast):
    nobody = "/sacks/00000000-0000-0000-0000-000000000001/later"
    assert cast.browser("tess").post(nobody, {"form": "cans", "cans.0.wet_kg": "5"}).status_code == 404
