"""The database refuses by itself what must not be there: table models do not validate."""

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session

from service.records.base import Row, Table
from service.records.batches import BatchPart
from service.records.blocks import BlockHeight, Soak
from service.records.database import METADATA
from service.records.materials import Material, Preparation, Price
from service.records.people import Person
from service.records.presses import Calibration, Gauge, Mould, Press, PressSession
from service.records.recipes import RecipeGroup, RecipePart
from service.records.shop import Prior, Shop
from service.records.soil_tests import FlowReading, MoistureCan, SieveReading, SieveTest, SoilTest
from service.records.tokens import Ticket
from tests.records.shop import PRESSED, WEEK, SmallShop


def copy(row: Row, **other: Any) -> Row:
    """Return a row like another, under an identity of its own."""
    kept = {name: getattr(row, name) for name in type(row).model_fields if name not in ("id", "created_at")}
    return type(row)(**{**kept, **other})


def sack(shop: SmallShop, **other: Any) -> Row:
    return copy(shop.sack, **{"label": "1-S2", **other})


def block(shop: SmallShop, **other: Any) -> Row:
    return shop.block(other.pop("position", 4), **other)


def recipe(shop: SmallShop, **other: Any) -> Row:
    return copy(shop.recipe, **{"label": "B", **other})


def part(shop: SmallShop, **other: Any) -> Row:
    given = {"recipe_id": shop.recipe.id, "position": 2, "material_id": shop.cement.id, "role": "stabiliser"}
    return RecipePart(**{**given, "share": 0.06, "basis": "dry soil", **other})


def group(shop: SmallShop, **other: Any) -> Row:
    return copy(shop.group, **{"age_days": 28.0, **other})


def can(shop: SmallShop, **other: Any) -> Row:
    given = {"receipt_id": shop.sack.id, "can_kg": 0.05, "wet_kg": 0.51, "dry_kg": 0.48, "as_read": {}}
    return MoistureCan(**{**given, "done_at": PRESSED, "done_by": shop.tess.id, **other})


def calibration(shop: SmallShop, **other: Any) -> Row:
    given = {"gauge_id": shop.gauge.id, "done_on": date(2027, 1, 4), "valid_from": date(2027, 1, 4)}
    return Calibration(**{**given, "valid_until": date(2028, 1, 4), "reference": "Load cell", **other})


def ticket(shop: SmallShop, **other: Any) -> Row:
    given = {"kind": "session", "token_sha256": "a" * 64, "person_id": shop.cy.id, "expires_at": PRESSED}
    return Ticket(**{**given, **other})


def shop_row(shop: SmallShop, **other: Any) -> Table:
    return Shop(**{"name": "A shop", "time_zone": "America/Denver", "currency": "USD", **other})


def prior(shop: SmallShop, **other: Any) -> Row:
    keys = ("median_mpa", "log_sd", "scatter", "scatter_log_sd", "spread", "spread_log_sd", "batch_sd")
    given: dict[str, Any] = dict.fromkeys(keys, 1.0)
    return Prior(**{**given, "adopted_at": PRESSED, "adopted_by": shop.olu.id, "rests_on": "[]", **other})


def price(shop: SmallShop, **other: Any) -> Row:
    given = {"material_id": shop.cement.id, "valid_from": date(2027, 1, 1), "source": "The yard's list"}
    return Price(**{**given, **other})


def crushing(shop: SmallShop, **other: Any) -> Row:
    return shop.crushing(shop.block_1, **other)


def soak(shop: SmallShop, **other: Any) -> Row:
    return Soak(block_id=shop.block_1.id, started_at=PRESSED + WEEK, started_by=shop.tess.id, as_read={}, **other)


REFUSED: list[tuple[str, Callable[..., Table], dict[str, Any]]] = [
    ("a mass below zero", sack, {"mass_kg": -1.0}),
    ("a mass of zero", sack, {"mass_kg": 0.0}),
    ("a mass without end", sack, {"mass_kg": float("inf")}),
    ("a mass that is no number", sack, {"mass_kg": float("nan")}),
    ("a sack without what was typed", sack, {"as_read": None}),
    ("something retained without an end", sack, {"retained": "half the sack"}),
    ("a block without a mass that was not lost", block, {"wet_mass_kg": None}),
    ("a lost block without a reason", block, {"lost_at": PRESSED}),
    ("a pressing gauge reading without a gauge", block, {"pressed_gauge_mpa": 9.0}),
    ("two blocks in one place of a batch", block, {"position": 1}),
    ("two blocks with one label", block, {"label": "1-A-1"}),
    ("a recipe of an unknown basis", recipe, {"moisture_basis": "by feel"}),
    ("two recipes of a job with one label", recipe, {"label": "A"}),
    ("a recipe dropped without a reason", recipe, {"dropped_at": PRESSED}),
    ("no batch at all", recipe, {"batches": 0}),
    ("a share above one", part, {"share": 1.2}),
    ("a component that is not of the blend", part, {"role": "component"}),
    ("a stabiliser of the blend", part, {"basis": "blend"}),
    ("soaked blocks without hours", group, {"condition": "soaked"}),
    ("dry blocks with hours in the water", group, {"soak_hours": 24.0}),
    ("a longest soak below the shortest", group, {"condition": "soaked", "soak_hours": 24.0, "soak_hours_max": 4.0}),
    ("one state and age twice", group, {"age_days": 7.0}),
    ("a can wetter when dry", can, {"wet_kg": 0.4}),
    ("a can with nothing dry in it", can, {"dry_kg": 0.05}),
    ("a can of nothing", can, {"receipt_id": None}),
    ("a calibration that ends before it begins", calibration, {"valid_until": date(2026, 1, 4)}),
    ("a calibration that replaces without a reason", calibration, {"replaces_id": uuid4()}),
    ("a share link to no result", ticket, {"kind": "share"}),
    ("a ticket of an unknown kind", ticket, {"kind": "key"}),
    ("a second shop", shop_row, {"id": 2}),
    ("a shop that is sure", shop_row, {"assurance": 1.0}),
    ("a currency in two letters", shop_row, {"currency": "US"}),
    ("a prior without scatter", prior, {"scatter": 0.0}),
    ("a price below zero", price, {"per_kg": Decimal("-0.01")}),
    ("carbon outside its own range", price, {"carbon_kg_per_kg": 0.9, "carbon_low": 0.5, "carbon_high": 0.8}),
    ("a block that broke at no reading", crushing, {"gauge_mpa": None}),
    ("a block that fell apart at a reading", crushing, {"outcome": "fell apart"}),
    ("a held block without a reason", crushing, {"outcome": "held"}),
    ("a broken block that was stopped", crushing, {"held_because": "leak"}),
    ("a spoiled block without a reason", crushing, {"outcome": "spoiled", "gauge_mpa": None}),
    ("a reading without a face", crushing, {"length_mm": None}),
    ("a reading without a gauge", crushing, {"gauge_id": None}),
    ("a crushing ended by nobody", crushing, {"ended_at": PRESSED, "ended_because": "typed twice"}),
    ("a crushing of an unknown block", crushing, {"block_id": uuid4()}),
    ("a block that came out of the water before it went in", soak, {"ended_at": PRESSED}),
]


@pytest.mark.parametrize(("make", "wrong"), [row[1:] for row in REFUSED], ids=[row[0] for row in REFUSED])
def test_the_database_refuses(shop: SmallShop, make: Callable[..., Table], wrong: dict[str, Any]) -> None:
    shop.session.add(make(shop, **wrong))
    with pytest.raises(IntegrityError):
        shop.session.flush()


MAKERS = sorted({row[1] for row in REFUSED}, key=lambda make: make.__name__)


@pytest.mark.parametrize("make", MAKERS, ids=[make.__name__ for make in MAKERS])
def test_the_same_row_without_the_fault_is_taken(shop: SmallShop, make: Callable[..., Table]) -> None:
    shop.session.add(make(shop))
    shop.session.flush()


def refuses(session: Session, *rows: Table) -> None:
    session.add_all(rows[:-1])
    session.flush()
    session.add(rows[-1])
    with pytest.raises(IntegrityError):
        session.flush()


def test_one_crushing_of_a_block_stands(shop: SmallShop) -> None:
    refuses(shop.session, shop.crushing(shop.block_1), shop.crushing(shop.block_1, gauge_mpa=9.5))


def test_a_block_is_in_the_water_once(shop: SmallShop) -> None:
    refuses(shop.session, soak(shop), soak(shop))


def test_a_gauge_has_one_open_session(shop: SmallShop) -> None:
    opened = {"gauge_id": shop.gauge.id, "opened_at": PRESSED, "opened_by": shop.tess.id, "as_read": {}}
    refuses(shop.session, *(PressSession(zero_before_mpa=0.1, **opened) for _ in range(2)))


def test_a_part_without_a_sack_stands_once_in_a_batch(shop: SmallShop) -> None:
    shop.add(cement_part=part(shop))
    given = {"batch_id": shop.batch.id, "recipe_part_id": shop.cement_part.id, "moisture": 0.0, "planned_kg": 0.4}
    refuses(shop.session, *(BatchPart(as_read={}, **given) for _ in range(2)))


def test_what_was_done_to_a_sack_stands_once(shop: SmallShop) -> None:
    done = {"receipt_id": shop.sack.id, "done_at": PRESSED, "done_by": shop.tess.id, "as_read": {}}
    refuses(shop.session, *(Preparation(**done) for _ in range(2)))


def test_a_calibration_is_replaced_once(shop: SmallShop) -> None:
    shop.add(first=calibration(shop))
    again = {"replaces_id": shop.first.id, "replaced_because": "better cell"}
    refuses(shop.session, *(calibration(shop, **again) for _ in range(2)))


def test_a_sieve_is_read_once_in_a_test(shop: SmallShop) -> None:
    shop.add(test=SoilTest(material_id=shop.soil.id, kind="sieve", done_at=PRESSED, done_by=shop.tess.id, as_read={}))
    read = {"test_id": shop.test.id, "size_mm": 4.75, "retained_g": 12.0, "as_read": {}}
    refuses(shop.session, *(SieveReading(**read) for _ in range(2)))


def test_more_washed_out_than_was_there_is_refused(shop: SmallShop) -> None:
    shop.add(test=SoilTest(material_id=shop.soil.id, kind="sieve", done_at=PRESSED, done_by=shop.tess.id, as_read={}))
    refuses(shop.session, SieveTest(test_id=shop.test.id, dry_mass_g=431.0, washed_dry_mass_g=512.0, as_read={}))


def test_a_groove_that_closes_without_a_blow_is_refused(shop: SmallShop) -> None:
    shop.add(test=SoilTest(material_id=shop.soil.id, kind="flow", done_at=PRESSED, done_by=shop.tess.id, as_read={}))
    refuses(shop.session, FlowReading(test_id=shop.test.id, position=1, blows=0, wet_g=20.0, dry_g=15.0, as_read={}))


def test_a_customer_who_signs_in_belongs_to_a_customer(shop: SmallShop) -> None:
    refuses(shop.session, Person(name="Dov", email="dov@example.org", role="customer"))


def test_an_address_signs_in_one_person_and_is_kept_in_small_letters(shop: SmallShop) -> None:
    refuses(shop.session, Person(name="Tess Two", email="tess@example.org", role="technician"))
    shop.session.rollback()
    refuses(shop.session, Person(name="Tess Two", email="Tess.Two@example.org", role="technician"))


def test_a_press_that_crushes_has_a_working_limit_below_its_rating(shop: SmallShop) -> None:
    press = {"name": "Second", "forms": False, "crushes": True, "ram_diameter_mm": 50.0, "efficiency": 1.0}
    refuses(shop.session, Press(**press))
    shop.session.rollback()
    refuses(shop.session, Press(rating_kn=100.0, working_limit_kn=100.0, **press))


def test_a_gauge_shows_more_than_its_graduation(shop: SmallShop) -> None:
    refuses(shop.session, Gauge(press_id=shop.press.id, name="Odd", unit="MPa", graduation_mpa=1.0, full_scale_mpa=1.0))


def test_a_mould_without_a_height_is_refused(shop: SmallShop) -> None:
    refuses(shop.session, Mould(name="Flat", length_mm=140.0, width_mm=90.0, height_mm=0.0))


def test_a_block_is_measured_once_at_a_corner(shop: SmallShop) -> None:
    corner = {"block_id": shop.block_1.id, "position": 1, "height_mm": 92.4, "as_read": {}}
    refuses(shop.session, *(BlockHeight(**corner) for _ in range(2)))


def test_two_batches_of_a_recipe_have_two_numbers(shop: SmallShop) -> None:
    refuses(shop.session, copy(shop.batch))


def test_two_jobs_have_two_numbers(shop: SmallShop) -> None:
    refuses(shop.session, copy(shop.job))


def test_half_a_block_size_of_the_customers_machine_is_refused(shop: SmallShop) -> None:
    refuses(shop.session, copy(shop.job, number=2, machine_length_mm=295.0))


def test_a_material_of_an_unknown_kind_is_refused(shop: SmallShop) -> None:
    refuses(shop.session, Material(kind="gravel soup", name="Odd"))


def test_a_batch_uncovered_before_it_was_covered_is_refused(shop: SmallShop) -> None:
    times = {"covered_at": PRESSED, "uncovered_at": PRESSED - timedelta(hours=1)}
    refuses(shop.session, copy(shop.batch, number=2, **times))


def test_no_table_of_typed_quantities_may_leave_out_what_was_typed() -> None:
    typed = [table for table in METADATA.tables.values() if "as_read" in table.c]
    assert {"receipt", "moisture_can", "sieve_reading", "batch_part", "block", "crushing"} <= {t.name for t in typed}
    assert not [table.name for table in typed if table.c.as_read.nullable]


def test_a_typed_quantity_is_a_text_and_a_unit(shop: SmallShop) -> None:
    shop.session.add(copy(shop.sack, label="1-S3", as_read={"mass_kg": {"text": "22"}}))
    with pytest.raises(Exception, match="a text and a unit"):
        shop.session.flush()


def test_a_group_of_no_blocks_is_refused(shop: SmallShop) -> None:
    refuses(
        shop.session,
        RecipeGroup(recipe_id=shop.recipe.id, condition="air-dry", age_days=3, tolerance_hours=6, blocks=0),
    )


def test_a_recipe_that_replaces_itself_is_refused(shop: SmallShop) -> None:
    own = uuid4()
    refuses(shop.session, recipe(shop, id=own, replaces_id=own))
