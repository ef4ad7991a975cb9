"""Prices: an amount for so much of a material, and what that is for a kilogram."""

from decimal import ROUND_HALF_UP, Decimal

from service.errors import Invalid
from service.typed import Typed, TypedPrice
from service.words.text_to_numbers import PLAIN, Writing, read_choice, read_money
from service.words.units import Units

# Exact by definition (the international pound), so that a price stays exact on its way to the kilogram.
POUND_KG = Decimal("0.45359237")
KG_PER = {
    "kg": Decimal(1),
    "lb": POUND_KG,
    "t": Decimal(1000),
    "short ton": 2000 * POUND_KG,
    "long ton": 2240 * POUND_KG,
}
# Exact by definition (the international yard).
M3_PER = {"m3": Decimal(1), "yd3": Decimal("0.9144") ** 3}
BAG = "bag"
PER: dict[Units, tuple[str, ...]] = {
    "imperial": ("lb", BAG, "short ton", "yd3", "kg", "t", "long ton", "m3"),
    "metric": ("kg", BAG, "t", "m3", "lb", "short ton", "long ton", "yd3"),
}


def read_price_per_kg(text: str, *, field: str, unit: str, writing: Writing = PLAIN) -> Decimal:
    """Return a price typed for an offered mass as the price of a kilogram, to the millionth, half up."""
    per = KG_PER[read_choice(unit, field=field, offered=tuple(KG_PER))]
    return to_the_millionth(read_money(text, field=field, writing=writing) / per)


def price_as_typed(amount: Decimal, per: str, *, bag: Typed | None, bulk: Typed | None) -> TypedPrice:
    """Return a price for an offered unit; one by the bag needs what the bag holds, one by volume what that weighs."""
    if per in KG_PER:
        kg = KG_PER[per]
    elif per == BAG:
        kg = _above_zero(bag, "bag_kg", "Say what one bag holds.")
    else:
        kg = _above_zero(bulk, "bulk_kg_m3", "Say what it weighs, loose and dry.") * M3_PER[per]
    return TypedPrice(to_the_millionth(amount / kg), f"{amount:f}", per, bulk if per in M3_PER else None)


def _above_zero(typed: Typed | None, field: str, sentence: str) -> Decimal:
    if typed is None or not typed.value > 0:
        raise Invalid(sentence, {field: sentence})
    return Decimal(repr(typed.value))


def to_the_millionth(amount: Decimal) -> Decimal:
    """Return an amount as the records keep it, half up."""
    return amount.quantize(Decimal("0.000001"), ROUND_HALF_UP)
