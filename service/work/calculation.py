"""What one worked calculation is, and the strict models that its input is read into."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, StringConstraints

from service.trade.validation import refuse


class Given(BaseModel):
    """Base of every input: unknown keys, text for numbers, NaN and true for 1 are all refused."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False, defer_build=True)


def _whole(value: object) -> object:
    # JSON does not tell 5 from 5.0, so neither does a count.
    return int(value) if isinstance(value, float) and value.is_integer() else value


Positive = Annotated[float, Field(gt=0)]
NotNegative = Annotated[float, Field(ge=0)]
Whole = Annotated[int, BeforeValidator(_whole)]
Count = Annotated[int, BeforeValidator(_whole), Field(ge=1)]
Name = Annotated[str, StringConstraints(min_length=1)]
Money = Annotated[str, StringConstraints(pattern=r"^[0-9]+(\.[0-9]+)?$")]


@dataclass(frozen=True)
class Calculation:
    """One calculation: its input model, the call, its formula in words and the keys of its sources."""

    model: type[Given]
    run: Callable[[Any], dict[str, Any]]
    formula: str
    source_keys: tuple[str, ...]


@dataclass(frozen=True)
class Way:
    """One of two ways to give an input: the keys it needs and those it may have besides."""

    needed: tuple[str, ...]
    optional: tuple[str, ...] = ()


def first_way_taken(given: Given, *, first: Way, second: Way) -> bool:
    """Return whether ``given`` goes the first way; refuse a mixture, and a way without all it needs."""
    there = {key for key in given.model_fields_set if getattr(given, key) is not None}
    is_first = first.needed[0] in there
    taken, left = (first, second) if is_first else (second, first)
    faults = {
        key: f"Leave this out when {first.needed[0]} is given."
        for key in (*left.needed, *left.optional)
        if key in there
    }
    faults |= {key: "This is required." for key in taken.needed if key not in there}
    if faults:
        refuse(faults)
    return is_first


def either(first: Way, second: Way) -> dict[str, Any]:
    """Return what JSON Schema says of two ways."""
    return {"oneOf": [{"required": list(first.needed)}, {"required": list(second.needed)}]}
