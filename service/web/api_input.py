"""Numbers and words as programs send them: strict, in fixed units, and kept as they were written."""

from decimal import Decimal
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from service.errors import Invalid
from service.typed import Typed
from service.words.text_to_numbers import SMALLEST, read_words


class Sent(BaseModel):
    """Base of what a program sends: unknown keys are refused."""

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)


def _fit_to_keep(text: str) -> str:
    try:
        return read_words(text, field="text", most=2_000)
    except Invalid as refusal:
        raise ValueError(refusal.sentence) from refusal


def _no_dust(value: float) -> float:
    if 0 < abs(value) < SMALLEST:
        raise ValueError(f"0, or at least {SMALLEST:g}: nothing smaller is measured here.")
    return value


ABOVE_LIMIT = "True if the gauge did show a value above the working limit of the press."
Number = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, le=1_000_000), AfterValidator(_no_dust)]
Count = Annotated[int, Field(strict=True, ge=0, le=10_000)]
Tick = Annotated[bool, Field(strict=True)]
Line = Annotated[str, Field(strict=True, max_length=200), AfterValidator(_fit_to_keep)]
Name = Annotated[str, Field(strict=True, max_length=80), AfterValidator(_fit_to_keep)]
Money = Annotated[
    Decimal,
    Field(ge=0, le=1_000_000_000, decimal_places=2, examples=[180.5], description="In the shop's currency."),
]
Words = Annotated[str, Field(strict=True, max_length=1_000), AfterValidator(_fit_to_keep)]


def typed(value: float, unit: str) -> Typed:
    """Return a number that a program sent in a fixed unit as a typed quantity."""
    return Typed(value, repr(value), unit)


def maybe_typed(value: float | None, unit: str) -> Typed | None:
    """Return a number that may have been left out."""
    return typed(value, unit) if value is not None else None
