"""Prices and money: as typed, for a kilogram of a material, and as text."""

from decimal import ROUND_HALF_UP, Decimal
from functools import lru_cache

from babel.numbers import format_currency, get_currency_precision

from service.errors import Invalid
from service.typed import Typed, TypedPrice
from service.words.numbers_to_text import LOCALES
from service.words.text_to_numbers import PLAIN, Writing, read_choice, read_money
from service.words.units import Units, unit_label

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


# Writing an amount in a currency takes as long as asking the database; a page says the same few several times.
@lru_cache(maxsize=4096)
def money(amount: Decimal, *, currency: str, language: str = "en") -> str:
    """Return an amount with its currency; below one unit it keeps two figures, for blocks cost cents."""
    decimals = get_currency_precision(currency)
    if amount and abs(amount) < 1:
        decimals = max(decimals, 1 - amount.adjusted())
    rounded = amount.quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_UP)
    return format_currency(rounded, currency, locale=LOCALES[language], decimal_quantization=False)


def price(amount: str, per: str, *, currency: str, language: str = "en") -> str:
    """Return a price as it was typed, every decimal of it, with what it is for: "$0.175/lb"."""
    exact = Decimal(amount)
    decimals = max(get_currency_precision(currency), -int(exact.normalize().as_tuple().exponent))
    shown = format_currency(
        exact.quantize(Decimal(1).scaleb(-decimals)), currency, locale=LOCALES[language], decimal_quantization=False
    )
    return f"{shown}/{unit_label(per)}"


def price_per(per_kg: Decimal, *, unit: str, currency: str, language: str = "en") -> str:
    """Return the price of a kilogram as that of a kilogram, a pound or a tonne."""
    return money(per_kg * KG_PER[unit], currency=currency, language=language)
