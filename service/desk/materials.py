"""What goes into a mix: the shop's materials and the customers' soils, and what they cost from a day on."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import OWNERS, STAFF, Caller, Done, act, look
from service.errors import Invalid, NotFound
from service.records import customers as customer_records
from service.records import materials as records
from service.records.corrections import Correction, amend, corrections_of
from service.records.materials import KINDS, Material, Price
from service.typed import Typed, TypedPrice

MOST_FOUND = 20


@dataclass(frozen=True)
class PriceView:
    """A price with the day it counts from and where it comes from."""

    valid_from: date
    per_kg: Decimal | None
    carbon_kg_per_kg: float | None
    carbon_low: float | None
    carbon_high: float | None
    source: str
    bag_kg: float | None
    bulk_kg_m3: float | None
    # As typed: the amount and for how much of it; empty where a price came in as that of a kilogram.
    amount: str
    per: str


@dataclass(frozen=True)
class MaterialView:
    """A material with the price that counts today."""

    id: UUID
    kind: str
    name: str
    price: PriceView | None


@dataclass(frozen=True)
class MaterialFound:
    """A soil or material that was looked for, and whose it is, None for the shop's own."""

    id: UUID
    name: str
    kind: str
    customer: str | None


@dataclass(frozen=True)
class MaterialHistory:
    """A material with every price it had, the newest first."""

    id: UUID
    kind: str
    name: str
    customer: str | None
    good_until: date | None
    prices: list[PriceView]
    corrections: list[Correction]


@look("material.shelf", by=STAFF)
def shelf(session: Session, caller: Caller) -> list[MaterialView]:
    """Return the shop's own materials with today's prices."""
    found = records.priced(session, on=caller.clock.today, customer_id=None)
    return [MaterialView(one.id, one.kind, one.name, _price_view(price)) for one, price in found]


@look("material.find", by=STAFF)
def find(session: Session, caller: Caller, *, words: str) -> list[MaterialFound]:
    """Return the soils and materials whose name holds some words."""
    found = records.named_like(session, words.strip(), most=MOST_FOUND) if words.strip() else []
    return [MaterialFound(one.id, one.name, one.kind, whose.name if whose else None) for one, whose in found]


@look("material.history", by=STAFF)
def history(session: Session, caller: Caller, *, material_id: UUID) -> MaterialHistory:
    """Return a material and every price it had."""
    material = session.get(Material, material_id)
    if material is None:
        raise NotFound("There is no such material.")
    customer = customer_records.customer(session, material.customer_id) if material.customer_id else None
    found = records.prices_of(session, material_id)
    prices = [view for price in found if (view := _price_view(price))]
    return MaterialHistory(
        id=material.id,
        kind=material.kind,
        name=material.name,
        customer=customer.name if customer else None,
        good_until=material.good_until,
        prices=prices,
        corrections=corrections_of(session, [price.id for price in found]),
    )


def _price_view(price: Price | None) -> PriceView | None:
    if price is None:
        return None
    typed = price.as_read.get("per_kg")
    return PriceView(
        price.valid_from,
        price.per_kg,
        price.carbon_kg_per_kg,
        price.carbon_low,
        price.carbon_high,
        price.source,
        price.bag_kg,
        price.bulk_kg_m3,
        amount=typed["text"] if typed else "",
        per=typed["unit"].removeprefix("per ") if typed else "",
    )


@act("material.add", by=STAFF)
def add_material(session: Session, caller: Caller, *, kind: str, name: str, customer_id: UUID | None = None) -> Done:
    """Add a material of the shop, or a customer's soil."""
    if kind not in KINDS:
        raise Invalid("Choose a kind of material from the list.", {"kind": "Choose one from the list."})
    if customer_id is not None and customer_records.customer(session, customer_id) is None:
        raise NotFound("There is no such customer.")
    material = Material(kind=kind, name=name, customer_id=customer_id)
    session.add(material)
    session.flush()
    return Done("material", material.id, {"name": name})


@act("material.rename", by=STAFF)
def rename_material(session: Session, caller: Caller, *, material_id: UUID, name: str) -> Done:
    """Correct what a material or a soil is called; issued results stay as they are, the trail keeps what it was."""
    material = session.get(Material, material_id)
    if material is None:
        raise NotFound("There is no such material.")
    was, material.name = material.name, name
    return Done("material", material.id, {"was": was, "name": name})


@act("material.end", by=OWNERS)
def end_material(session: Session, caller: Caller, *, material_id: UUID) -> Done:
    """Take a material off the shelf; what was made with it stays as it is."""
    material = session.get(Material, material_id)
    if material is None:
        raise NotFound("There is no such material.")
    material.ended_at = material.ended_at or caller.stores.clock()
    return Done("material", material.id)


@act("material.price", by=OWNERS)
def set_price(
    session: Session,
    caller: Caller,
    *,
    material_id: UUID,
    valid_from: date,
    price: TypedPrice | None,
    carbon_kg_per_kg: float | None,
    carbon_low: float | None,
    carbon_high: float | None,
    source: str,
    bag_kg: Typed | None = None,
    because: str | None = None,
) -> Done:
    """Keep what a material costs, and its carbon, from a day on; the price of a day already named is corrected."""
    if session.get(Material, material_id) is None:
        raise NotFound("There is no such material.")
    if price is None and carbon_kg_per_kg is None:
        raise Invalid("Neither price nor carbon was given.", {"per_kg": "Give a price, or the carbon, or both."})
    _check_carbon(carbon_kg_per_kg, carbon_low, carbon_high)
    if bag_kg is not None and bag_kg.value <= 0:
        raise Invalid("A bag holds something.", {"bag_kg": "This must be above 0."})
    wanted: dict[str, Any] = {
        "per_kg": price.per_kg if price else None,
        "carbon_kg_per_kg": carbon_kg_per_kg,
        "carbon_low": carbon_low,
        "carbon_high": carbon_high,
        "source": source,
        "bag_kg": bag_kg.value if bag_kg else None,
        "bulk_kg_m3": price.bulk_kg_m3.value if price and price.bulk_kg_m3 else None,
    }
    read = {**(price.as_read() if price else {}), **({"bag_kg": bag_kg.as_read()} if bag_kg else {})}
    known = next((one for one in records.prices_of(session, material_id) if one.valid_from == valid_from), None)
    if known is not None:
        return _corrected(session, caller, known, wanted, read, because)
    row = Price(material_id=material_id, valid_from=valid_from, as_read=read, **wanted)
    session.add(row)
    session.flush()
    return Done("price", row.id, {"material": material_id, "from": valid_from})


def _corrected(
    session: Session,
    caller: Caller,
    known: Price,
    wanted: Mapping[str, Any],
    read: Mapping[str, Mapping[str, str]],
    because: str | None,
) -> Done:
    if because is None:
        sentence = "This day has a price. Say why it is corrected, or choose another day."
        raise Invalid("There is a price from that day already.", {"because": sentence})
    changes = {name: value for name, value in wanted.items() if getattr(known, name) != value}
    if changes:
        at = caller.stores.clock()
        amend(session, known, changes, as_read=read, at=at, by=caller.doer, because=because)
    return Done("price", known.id, {"material": known.material_id, "because": because})


def _check_carbon(carbon: float | None, low: float | None, high: float | None) -> None:
    if carbon is None and (low is not None or high is not None):
        raise Invalid("A range of carbon needs its middle.", {"carbon_kg_per_kg": "Give the usual figure too."})
    if carbon is None:
        return
    if low is not None and low > carbon:
        raise Invalid("The range of carbon does not hold it.", {"carbon_low": "At most the usual figure."})
    if high is not None and high < carbon:
        raise Invalid("The range of carbon does not hold it.", {"carbon_high": "At least the usual figure."})
