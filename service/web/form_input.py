"""Reading a form: every field is read, and all that is wrong is said at once."""

import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from datetime import date, datetime, time
from decimal import Decimal
from math import nan
from typing import TypeVar
from uuid import UUID

from starlette.datastructures import FormData

from service.desk.doorway import ShopFacts
from service.errors import Invalid
from service.typed import Typed, TypedPrice
from service.web.authentication import as_uuid
from service.words import prices, text_to_numbers

T = TypeVar("T")
# More than any password, and little enough to look at.
MOST_TYPED = 1000


@contextmanager
def reading(form: FormData | Mapping[str, str], shop: ShopFacts) -> Iterator["FormReader"]:
    """Read a form; leaving the block raises one Invalid with the sentences of all fields."""
    reader = FormReader(form, shop)
    yield reader
    if reader.errors:
        raise Invalid("Check the marked fields.", reader.errors)


@contextmanager
def at_rows(group: str, rows: list[int]) -> Iterator[None]:
    """Move the sentences of a refusal from the place in a list to the row of the form that was typed in."""
    try:
        yield
    except Invalid as refusal:
        place = re.compile(rf"{re.escape(group)}\.([0-9]+)\.")
        moved = {
            place.sub(lambda found: f"{group}.{rows[int(found[1])]}.", name): sentence
            for name, sentence in refusal.fields.items()
        }
        raise Invalid(refusal.sentence, moved) from refusal


class FormReader:
    """Gives the fields of one form as values; keeps the sentences for those that cannot be read."""

    def __init__(self, form: FormData | Mapping[str, str], shop: ShopFacts) -> None:
        self.form = form
        self.shop = shop
        self.writing = text_to_numbers.Writing(shop.units_first, thousands=shop.comma_thousands)
        self.errors: dict[str, str] = {}

    def raw(self, name: str) -> str:
        """Return what was typed, without the spaces around it."""
        value = self.form.get(name, "")
        return value.strip() if isinstance(value, str) else ""

    def _try(self, read: Callable[[], T], otherwise: T) -> T:
        try:
            return read()
        except Invalid as refusal:
            self.errors.update(refusal.fields)
            return otherwise

    def quantity(self, name: str, kind: str, unit: str | None = None) -> Typed:
        """Return a quantity that must be there; ``unit`` is that of its column, else the field's own."""
        found = self.maybe_quantity(name, kind, unit)
        if found is None:
            self.errors.setdefault(name, "Fill this in.")
            return Typed(nan, "", "")
        return found

    def maybe_quantity(self, name: str, kind: str, unit: str | None = None) -> Typed | None:
        """Return a quantity that may be left empty."""
        text, unit = self.raw(name), unit or self.raw(f"{name}_unit") or None
        if not text:
            return None
        return self._try(
            lambda: text_to_numbers.read_quantity(text, field=name, kind=kind, unit=unit, writing=self.writing), None
        )

    def count(self, name: str, *, least: int = 0, most: int = 10_000) -> int:
        """Return a whole number that must be there."""
        text = self.raw(name)
        return self._try(
            lambda: text_to_numbers.read_count(text, field=name, least=least, most=most, writing=self.writing), 0
        )

    def maybe_count(self, name: str, *, least: int = 0, most: int = 10_000) -> int | None:
        """Return a whole number that may be left empty."""
        return self.count(name, least=least, most=most) if self.raw(name) else None

    def text(self, name: str, *, most: int = 200, needed: bool = True) -> str:
        """Return a line of text no longer than ``most``."""
        return self._try(lambda: text_to_numbers.read_words(self.raw(name), field=name, most=most, required=needed), "")

    def maybe_text(self, name: str, *, most: int = 200) -> str | None:
        """Return a line of text, or None when it was left empty."""
        return self.text(name, most=most, needed=False) or None

    def secret(self, name: str, *, needed: bool = True) -> str:
        """Return a password as it was typed, every space of it."""
        value = self.form.get(name, "")
        text = value if isinstance(value, str) else ""
        if needed and not text:
            self.errors[name] = "Fill this in."
        if len(text) > MOST_TYPED:
            self.errors[name] = f"At most {MOST_TYPED} characters fit here."
        return text

    def choice(self, name: str, offered: tuple[str, ...] | frozenset[str]) -> str:
        """Return one of the offered words."""
        return self._try(lambda: text_to_numbers.read_choice(self.raw(name), field=name, offered=tuple(offered)), "")

    def maybe_choice(self, name: str, offered: tuple[str, ...] | frozenset[str]) -> str | None:
        """Return one of the offered words, or None when none was chosen."""
        return self.choice(name, offered) if self.raw(name) else None

    def tick(self, name: str) -> bool:
        """Return whether a box was ticked."""
        return self.raw(name) in ("on", "yes", "true", "1")

    def id(self, name: str) -> UUID:
        """Return the id of something chosen."""
        found = as_uuid(self.raw(name))
        if found is None:
            self.errors[name] = "Choose one from the list."
            return UUID(int=0)
        return found

    def maybe_id(self, name: str) -> UUID | None:
        """Return the id of something chosen, or None."""
        return self.id(name) if self.raw(name) else None

    def ids(self, name: str) -> list[UUID]:
        """Return the ids of everything ticked under one name."""
        values = self.form.getlist(name) if isinstance(self.form, FormData) else []
        return [found for value in values if isinstance(value, str) and (found := as_uuid(value))]

    def by_id(self, what: str, *, kind: str, unit: str | None) -> dict[UUID, Typed]:
        """Return the quantities of the fields ``what.<id>`` that were filled in."""
        ids = {name: as_uuid(name.removeprefix(f"{what}.")) for name in self.form if name.startswith(f"{what}.")}
        found = {one: self.maybe_quantity(name, kind, unit) for name, one in ids.items() if one is not None}
        return {one: typed for one, typed in found.items() if typed is not None}

    def day(self, name: str) -> date:
        """Return a date that must be there."""
        return self._try(lambda: text_to_numbers.read_date(self.raw(name), field=name), date.min)

    def maybe_day(self, name: str) -> date | None:
        """Return a date, or None when it was left empty."""
        return self.day(name) if self.raw(name) else None

    def maybe_hour(self, name: str) -> time | None:
        """Return an hour of the day, or None when it was left empty."""
        text = self.raw(name)
        return self._try(lambda: text_to_numbers.read_hour(text, field=name), None) if text else None

    def moment(self, name: str) -> datetime:
        """Return a moment typed in the shop's own time."""
        zone = self.shop.time_zone
        return self._try(
            lambda: text_to_numbers.read_time(self.raw(name), field=name, zone=zone), datetime.combine(date.min, time())
        )

    def maybe_moment(self, name: str) -> datetime | None:
        """Return a moment, or None when it was left empty."""
        return self.moment(name) if self.raw(name) else None

    def maybe_price(self, name: str) -> TypedPrice | None:
        """Return a price typed for one of the offered units, with ``bag_kg`` and ``bulk_kg_m3`` of the same form."""
        text, per = self.raw(name), self.raw(f"{name}_unit")
        if not text:
            return None
        bag, bulk = self.maybe_quantity("bag_kg", "mass"), self.maybe_quantity("bulk_kg_m3", "density")

        def read() -> TypedPrice:
            text_to_numbers.read_choice(per, field=name, offered=prices.PER["metric"])
            amount = text_to_numbers.read_money(text, field=name, writing=self.writing)
            return prices.price_as_typed(amount, per, bag=bag, bulk=bulk)

        return self._try(read, None)

    def maybe_money(self, name: str) -> Decimal | None:
        """Return an amount in the shop's currency, or None when it was left empty."""
        text = self.raw(name)
        if not text:
            return None
        return self._try(lambda: text_to_numbers.read_money(text, field=name, writing=self.writing), None)

    def money(self, name: str) -> Decimal:
        """Return an amount in the shop's currency that must be there."""
        found = self.maybe_money(name)
        if found is None:
            self.errors.setdefault(name, "Fill this in.")
        return found or Decimal(0)

    def rows(self, first: str, *, most: int = 60) -> list[int]:
        """Return the numbers of the rows in which the field ``first.N`` was filled in."""
        prefix = f"{first}."
        found = sorted(
            int(key[len(prefix) :])
            for key in self.form
            if key.startswith(prefix)
            and key[len(prefix) :].isdecimal()
            and len(key) < len(prefix) + 5
            and self.raw(key)
        )
        if len(found) > most:
            self.errors[first] = f"At most {most} rows."
        return found[:most]

    def numbered(self, group: str, names: tuple[str, ...], *, most: int = 40) -> list[int]:
        """Return the numbers of the rows of a group in which one of the fields ``group.N.name`` was filled in."""
        row = re.compile(rf"{re.escape(group)}\.([0-9]{{1,4}})\.(?:{'|'.join(map(re.escape, names))})")
        found = sorted({int(match[1]) for key in self.form if (match := row.fullmatch(key)) and self.raw(key)})
        if len(found) > most:
            self.errors[group] = f"At most {most} rows; this has {len(found)}."
        return found[:most]

    def so_far(self) -> dict[str, str]:
        """Return everything typed into a form that is finished another day."""
        texts = {name: value for name, value in self.form.items() if isinstance(value, str) and name != "request_key"}
        for name in (name for name, value in texts.items() if len(value) > MOST_TYPED):
            self.errors[name] = f"At most {MOST_TYPED} characters fit here."
        return texts

    def wrong(self, name: str, sentence: str) -> None:
        """Note a sentence at a field that was readable but makes no sense."""
        self.errors[name] = sentence
