"""What goes into a mix: the shop's materials and the customers' soils, and what they cost from a day on."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import OWNERS, STAFF, Caller, Done, act, look
from service.errors import Invalid, NotFound
from service.records import materials as records
from service.records import people as persons
from service.records.materials import KINDS, Material, Price


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


@dataclass(frozen=True)
class MaterialView:
    """A material with the price that counts today."""

    id: UUID
    kind: str
    name: str
    price: PriceView | None


@dataclass(frozen=True)
class MaterialHistory:
    """A material with every price it had, the newest first."""

    id: UUID
    kind: str
    name: str
    customer: str | None
    prices: list[PriceView]


@look("material.shelf", by=STAFF)
def shelf(session: Session, caller: Caller) -> list[MaterialView]:
    """Return the shop's own materials with today's prices."""
    found = records.priced(session, on=caller.clock.today, customer_id=None)
    return [MaterialView(one.id, one.kind, one.name, _price_view(price)) for one, price in found]


@look("material.history", by=STAFF)
def history(session: Session, caller: Caller, *, material_id: UUID) -> MaterialHistory:
    """Return a material and every price it had."""
    material = session.get(Material, material_id)
    if material is None:
        raise NotFound("There is no such material.")
    customer = persons.customer(session, material.customer_id) if material.customer_id else None
    prices = [view for price in records.prices_of(session, material_id) if (view := _price_view(price))]
    return MaterialHistory(material.id, material.kind, material.name, customer.name if customer else None, prices)


def _price_view(price: Price | None) -> PriceView | None:
    if price is None:
        return None
    return PriceView(
        price.valid_from,
        price.per_kg,
        price.carbon_kg_per_kg,
        price.carbon_low,
        price.carbon_high,
        price.source,
        price.bag_kg,
    )


@act("material.add", by=STAFF)
def add_material(session: Session, caller: Caller, *, kind: str, name: str, customer_id: UUID | None = None) -> Done:
    """Add a material of the shop, or a customer's soil."""
    if kind not in KINDS:
        raise Invalid("This kind of material is not known.", {"kind": "Please choose one of those offered."})
    if customer_id is not None and persons.customer(session, customer_id) is None:
        raise NotFound("There is no such customer.")
    material = Material(kind=kind, name=name, customer_id=customer_id)
    session.add(material)
    session.flush()
    return Done("material", material.id, {"name": name})


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
    per_kg: Decimal | None,
    carbon_kg_per_kg: float | None,
    carbon_low: float | None,
    carbon_high: float | None,
    source: str,
    bag_kg: float | None = None,
) -> Done:
    """Keep what a material costs, and its carbon, from a day on; older prices stay for older results."""
    if session.get(Material, material_id) is None:
        raise NotFound("There is no such material.")
    if per_kg is None and carbon_kg_per_kg is None:
        raise Invalid("Neither price nor carbon was given.", {"per_kg": "Give a price, or the carbon, or both."})
    if any(price.valid_from == valid_from for price in records.prices_of(session, material_id)):
        raise Invalid("There is a price from that day already.", {"valid_from": "Choose another day."})
    _check_carbon(carbon_kg_per_kg, carbon_low, carbon_high)
    if bag_kg is not None and bag_kg <= 0:
        raise Invalid("A bag holds something.", {"bag_kg": "This must be above 0."})
    price = Price(
        material_id=material_id,
        valid_from=valid_from,
        per_kg=per_kg,
        carbon_kg_per_kg=carbon_kg_per_kg,
        carbon_low=carbon_low,
        carbon_high=carbon_high,
        source=source,
        bag_kg=bag_kg,
    )
    session.add(price)
    session.flush()
    return Done("price", price.id, {"material": material_id, "from": valid_from})


def _check_carbon(carbon: float | None, low: float | None, high: float | None) -> None:
    if carbon is None and (low is not None or high is not None):
        raise Invalid("A range of carbon needs its middle.", {"carbon_kg_per_kg": "Give the usual figure too."})
    if carbon is None:
        return
    if low is not None and low > carbon:
        raise Invalid("The range of carbon does not hold it.", {"carbon_low": "At most the usual figure."})
    if high is not None and high < carbon:
        raise Invalid("The range of carbon does not hold it.", {"carbon_high": "At least the usual figure."})
