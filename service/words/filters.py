"""What a template calls to write a number, a moment or a sentence."""

from collections.abc import Callable

from service.words.both_systems import in_both
from service.words.numbers_to_text import (
    as_said,
    as_typed,
    bare,
    chance,
    clock_field,
    column_name,
    day,
    figure,
    lasted,
    likely,
    named_day,
    on_dial,
    own,
    parted,
    percent,
    short_day,
    significant,
    soon,
    stress,
    time,
    to_step,
    told,
)
from service.words.prices import money, price, price_per
from service.words.scales import mass_as_read, weighed
from service.words.sentences import reasoned
from service.words.sieves import sieve
from service.words.soil_names import soil_name
from service.words.units import unit_label

FILTERS: dict[str, Callable[..., str]] = {
    "figure": figure, "bare": bare, "own": own, "stress": stress, "told": told,
    "to_step": to_step, "on_dial": on_dial, "weighed": weighed, "mass_as_read": mass_as_read, "in_both": in_both,
    "parted": parted, "sieve": sieve, "soil_name": soil_name, "reasoned": reasoned,
    "percent": percent, "lasted": lasted, "as_typed": as_typed,
    "chance": chance, "likely": likely, "money": money, "price_per": price_per, "price": price, "day": day,
    "short_day": short_day, "named_day": named_day, "soon": soon, "as_said": as_said, "column_name": column_name,
    "time": time,
    "significant": significant, "unit_label": unit_label, "clock_field": clock_field,
}  # fmt: skip
