"""The typed text beside a column comes to what the column says."""

import pytest

from service.records.base import Raw
from tests.records.as_read import disagreements, raw_tables
from tests.records.shop import SmallShop


def test_every_table_of_typed_quantities_is_looked_at() -> None:
    assert {"Receipt", "MoistureCan", "SieveReading", "BatchPart", "Block", "Crushing"} <= {
        table.__name__ for table in raw_tables()
    }
    assert all(issubclass(table, Raw) for table in raw_tables())


def test_the_small_shop_agrees_with_what_was_typed(shop: SmallShop) -> None:
    assert list(disagreements(shop.session)) == []


# By definition 1 lb is 0.45359237 kg, so 49.6 lb are 22.498181552 kg.
@pytest.mark.parametrize(
    ("mass_kg", "said"), [(22.498181552, []), (22.4982, ["Receipt.mass_kg: 49.6 lb is not 22.4982"])]
)
def test_a_column_that_was_rounded_on_the_way_is_found(shop: SmallShop, mass_kg: float, said: list[str]) -> None:
    shop.sack.mass_kg = mass_kg
    shop.sack.as_read = {"mass_kg": {"text": "49.6", "unit": "lb"}}
    shop.session.add(shop.sack)
    assert list(disagreements(shop.session)) == said


def test_a_text_of_no_column_is_found(shop: SmallShop) -> None:
    shop.sack.as_read = {"weight": {"text": "22", "unit": "kg"}}
    shop.session.add(shop.sack)
    assert list(disagreements(shop.session)) == ["Receipt.weight: 22 kg is of no column"]
