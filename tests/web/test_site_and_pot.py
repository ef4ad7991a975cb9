"""The mixer's card, a pot that is too small, and a scale that is too coarse; expected values by hand."""

import re
from datetime import date
from decimal import Decimal
from uuid import UUID

import pytest
from sqlmodel import Session, select

from service.desk.intake import sedimentation
from service.records.materials import Material, Price
from service.typed import Typed
from tests.cast import Browser, Cast
from tests.mixes import Ready
from tests.web.test_mixing import plan, ready, tess

__all__ = ["ready", "tess"]

CARD = {
    "bag_kg": "30",
    "bag_kg_unit": "kg",
    "bucket_l": "10",
    "bucket_l_unit": "L",
    "blocks": "1000",
    "dry_mass_per_block_kg": "5.3",
    "dry_mass_per_block_kg_unit": "kg",
    "waste": "0",
}


@pytest.fixture
def cast(cast_on_either: Cast) -> Cast:
    """Return the cast on either database: no desk test asks these questions."""
    return cast_on_either


def lie(cast: Cast, material_id: UUID, kg: float) -> None:
    filled, litres = Typed(kg, f"{kg:g}", "kg"), Typed(10.0, "10", "L")
    sedimentation.record_bulk(cast.tess, material_id=material_id, filled_kg=filled, volume_l=litres, damp=True)


@pytest.fixture
def recipe(cast: Cast, ready: Ready, tess: Browser) -> str:
    """Return the address of a recipe whose soil weighs 1.3 and whose sand weighs 1.5 kg a litre, damp."""
    lie(cast, ready.soil, 13.0)
    lie(cast, ready.sand, 15.0)
    return plan(ready, tess)


def asked(ready: Ready, **more: str) -> dict[str, str]:
    return {**CARD, f"moistures.{ready.soil}": "4", f"moistures.{ready.sand}": "2", **more}


def row(page: str, name: str) -> list[str]:
    found = re.search(rf'<th scope="row">{name}<small>(?:level buckets|last|one bag).*?</tr>', page, re.S)
    assert found, name
    return [cell.strip() for cell in re.findall(r"<td[^>]*>([^<]*)", found[0])]


def test_the_card_is_offered_for_the_bag_that_the_price_names(cast, ready, tess, recipe):
    with Session(cast.stores.write) as session:
        binder = session.exec(select(Material).where(Material.kind == "cement")).one()
        session.add(
            Price(material_id=binder.id, valid_from=date(2026, 1, 1), per_kg=Decimal("0.2"), source="bill", bag_kg=25.0)
        )
        session.commit()
    page = tess.get(f"{recipe}/site").text
    assert re.search(r'name="bag_kg"[^>]*value="25"', page) and "As its price says." in page


def test_the_card_of_a_bag_by_hand(ready, tess, recipe):
    # 30 kg of cement at 6 % of the dry soil: 500 kg of it. Soil 375 x 1.04 = 390 kg in buckets of 13 kg: 30.
    # Sand 125 x 1.02 = 127.5 kg in buckets of 15 kg: 8.5. Water 0.1 x 530 - 15 - 2.5 = 35.5 L. 530 / 5.3 = 100 blocks.
    page = tess.get(f"{recipe}/site", params=asked(ready)).text
    soil, sand = (re.search(rf'"{one}"[^>]*>([^<]+)<', tess.get(recipe).text)[1] for one in (ready.soil, ready.sand))
    assert row(page, soil)[0] == "30" and row(page, sand)[0] == "8.5"
    assert row(page, "Water")[0] == "35.5 L"
    assert re.search(r"Blocks from one bag</dt>\s*<dd>\s*100", page)
    assert re.search(r"Bags for all of them</dt>\s*<dd>\s*10\b", page)
    assert "Damp sand is looser" in page and "common practice" in page


def test_a_bulk_density_that_was_not_measured_is_not_guessed(cast, ready, tess):
    address = plan(ready, tess)
    page = tess.get(f"{address}/site", params=asked(ready))
    assert page.status_code == 200
    assert "as damp as on the site" in page.text and "Work out the mixing sheet" not in page.text


def test_what_was_typed_of_sand_serves_the_sheet_and_says_where_it_is_from(cast, ready, tess):
    # Loose and dry 1500 kg/m3 with 2 % of water are 15.3 kg in a bucket of 10 L; 127.5 kg are 8.33 buckets of it.
    lie(cast, ready.soil, 13.0)
    address = plan(ready, tess)
    assert "as damp as on the site" in tess.get(f"{address}/site").text
    with Session(cast.stores.write) as session:
        price = {"valid_from": date(2026, 1, 1), "per_kg": Decimal("0.2"), "source": "bill"}
        session.add(Price(material_id=ready.sand, bulk_kg_m3=1500.0, **price))
        session.commit()
    begun = {"scale_graduation_kg": "5 g", f"moistures.{ready.sand}": "2", "test_charges": "1", "waste": "5"}
    assert tess.post(f"{address}/mix", begun).status_code == 303
    form = tess.get(f"{address}/site").text
    assert re.search(rf'name="moistures.{ready.sand}"[^>]*value="2"', form) and "As weighed out on" in form
    page = tess.get(f"{address}/site", params=asked(ready)).text
    sand = re.search(rf'"{ready.sand}"[^>]*>([^<]+)<', tess.get(f"{address}/replace").text)
    assert sand and row(page, sand[1])[0] == "8.25"
    assert "no full bucket of it was weighed" in page and "damp sand lies looser" in page


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"bag_kg": ""}, "bag_kg"),
        ({"bag_kg": "0"}, "bag_kg"),
        ({"bucket_l": "a few"}, "bucket_l"),
        ({"blocks": "0"}, "blocks"),
        ({"dry_mass_per_block_kg": "0"}, "dry_mass_per_block_kg"),
    ],
)
def test_a_slip_is_told_at_its_field_and_what_was_typed_stays(ready, tess, recipe, wrong, field):
    answer = tess.get(f"{recipe}/site", params=asked(ready, **wrong))
    assert answer.status_code == 422
    assert re.search(rf'id="{field}-error"[^>]*>\s*[A-Z0-9]', answer.text)
    assert 'value="1000"' in answer.text or field == "blocks"


def test_no_customer_and_no_stranger_sees_a_card(cast, ready, recipe):
    for name in ("cy", "dov"):
        assert cast.browser(name).get(f"{recipe}/site").status_code == 403


def test_the_card_costs_few_questions(ready, tess, recipe, statements):
    statements.clear()
    tess.get(f"{recipe}/site")
    assert len(statements) <= 12


def begin(tess: Browser, ready: Ready, **more: str) -> str:
    form = {"scale_graduation_kg": "5 g", f"moistures.{ready.sand}": "2", "test_charges": "1", "waste": "5", **more}
    made = tess.post(f"{plan(ready, tess)}/mix", form)
    assert made.status_code == 303, made.text[:3000]
    return str(tess.get(made.headers["location"]).text)


def test_a_pot_that_is_too_small_splits_the_batch(ready, tess):
    # 12.5685 kg of dry mix with 10 % of water are 13.83 kg: twice a pot for 7 kg; of 9.250 kg of soil 4.625 kg each.
    page = begin(tess, ready, mixer_kg="7 kg")
    assert "The mixer is too small: 2 mixer loads" in page and ">4625<" in re.sub(r"\s", "", page)


def test_a_pot_that_takes_the_batch_splits_nothing(ready, tess):
    assert "mixer loads" not in begin(tess, ready, mixer_kg="14 kg")


def test_a_pot_of_nothing_is_refused_at_its_field(ready, tess):
    form = {"scale_graduation_kg": "5 g", f"moistures.{ready.sand}": "2", "test_charges": "1", "mixer_kg": "0"}
    answer = tess.post(f"{plan(ready, tess)}/mix", form)
    assert answer.status_code == 422 and "mixer_kg-error" in answer.text


def test_a_scale_too_coarse_for_the_cement_is_told(ready, tess):
    # Cement is 0.06 x 11.857 = 0.711 kg: steps of 50 g miss it by up to 25 g of 700 g, 3.6 %; steps of 5 g by 0.4 %.
    assert "3.6 % of it, more than 2 %" in begin(tess, ready, scale_graduation_kg="50 g")


def test_a_fine_scale_is_not_scolded(ready, tess):
    assert "more than 2 %" not in begin(tess, ready)
