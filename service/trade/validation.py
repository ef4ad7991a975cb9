"""The limits that every number of the trade is held to before a formula sees it."""

import math
from collections.abc import Iterable, Mapping
from typing import NoReturn

from service.errors import Invalid


def refuse(fields: Mapping[str, str]) -> NoReturn:
    """Raise one refusal that names every field at fault.

    Parameters
    ----------
    fields : Mapping[str, str]
        One sentence a field; at least one.

    Raises
    ------
    Invalid
        Always, with these fields.

    Examples
    --------
    >>> refuse({"height_m": "This must be above 0."})
    Traceback (most recent call last):
    service.errors.Invalid: This must be above 0.
    """
    sentences = list(fields.values())
    raise Invalid(sentences[0] if len(sentences) == 1 else f"{len(sentences)} entries cannot be used.", fields)


def require(*, positive: Mapping[str, float] | None = None, not_negative: Mapping[str, float] | None = None) -> None:
    """Refuse numbers that are not finite or on the wrong side of zero.

    Parameters
    ----------
    positive : Mapping[str, float] or None
        Numbers by field that must be above 0.
    not_negative : Mapping[str, float] or None
        Numbers by field that must be at least 0.

    Raises
    ------
    Invalid
        Naming every field at fault.

    Examples
    --------
    >>> require(positive={"height_m": 2.4}, not_negative={"line_load_kn_m": 0.0})
    """
    faults = {}
    if positive:
        for field, value in positive.items():
            if not 0 < value < math.inf:
                faults[field] = "This must be above 0."
    if not_negative:
        for field, value in not_negative.items():
            if not 0 <= value < math.inf:
                faults[field] = "This must be 0 or more."
    if faults:
        refuse(faults)


def require_names_once(names: Iterable[tuple[str, str]]) -> None:
    """Refuse a name that stands twice.

    Parameters
    ----------
    names : Iterable[tuple[str, str]]
        Pairs of field and name, in order.

    Raises
    ------
    Invalid
        Naming the field of every second use.

    Examples
    --------
    >>> require_names_once([("soils.0.name", "native"), ("soils.1.name", "sand")])
    """
    seen: set[str] = set()
    faults = {}
    for field, name in names:
        if name in seen:
            faults[field] = "This name is used twice."
        seen.add(name)
    if faults:
        refuse(faults)
