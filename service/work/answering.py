"""From the text of an input to its answer, with every refusal in one shape."""

import json
import math
import re
from collections.abc import Sequence
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from service.errors import Invalid
from service.trade.validation import refuse
from service.typed import holds_unkept
from service.work.calculation import Calculation
from service.work.ranges import MAPPINGS, PRICES, Range, range_of
from service.work.registry import find

MOST_ENTRIES = 500
LONGEST_TEXT = 200
DEEPEST = 10
# A number under a key that is not known here is refused for its key.
ANY = Range(1e-60, 1e60)
AMOUNT = re.compile(r"[0-9]+(\.[0-9]+)?")


def answer_text(name: str, body: bytes | str) -> dict[str, Any]:
    """Return the answer of the calculation ``name`` to the JSON text ``body``."""
    calculation = find(name)
    return answer(calculation, read_object(body))


def answer(calculation: Calculation, given: dict[str, Any]) -> dict[str, Any]:
    """Return the answer of ``calculation`` to an input already read from JSON."""
    try:
        model = calculation.model.model_validate(given)
    except ValidationError as error:
        refuse({_dotted(fault["loc"]): _sentence(fault) for fault in error.errors()})
    return calculation.run(model)


class _Pairs(list[tuple[str, Any]]):
    """The keys and values of one JSON object as they stood, twice given keys included."""


def read_object(body: bytes | str) -> dict[str, Any]:
    """Return the JSON object in ``body``; refuse what is not one, and all that JSON readers let through."""
    try:
        text = body.decode("utf-8") if isinstance(body, bytes) else body
        read = json.loads(text, object_pairs_hook=_Pairs, parse_int=_integer)
    except RecursionError:
        raise Invalid("The input is nested too deeply.") from None
    except ValueError:
        raise Invalid("The input is not JSON.") from None
    if not isinstance(read, _Pairs):
        raise Invalid("The input must be one JSON object.")
    faults: dict[str, str] = {}
    plain = _plain(read, (), faults)
    if faults:
        refuse(faults)
    return dict(plain)


def _integer(digits: str) -> int | float:
    # Python declines to read integers of thousands of digits; as a float such a number is infinite and refused by name.
    return int(digits) if len(digits) <= LONGEST_TEXT else float(digits)


def _plain(value: Any, path: tuple[str | int, ...], faults: dict[str, str]) -> Any:
    if len(path) > DEEPEST:
        faults[_dotted(path)] = "This is nested too deeply."
        return None
    if isinstance(value, _Pairs):
        return _plain_object(value, path, faults)
    if isinstance(value, list):
        if len(value) > MOST_ENTRIES:
            faults[_dotted(path)] = f"At most {MOST_ENTRIES} entries are taken."
            return None
        return [_plain(entry, (*path, index), faults) for index, entry in enumerate(value)]
    key = _key_of(path)
    fault = _text_fault(value, key) if isinstance(value, str) else _number_fault(value, key)
    if fault:
        faults[_dotted(path)] = fault
    return value


def _plain_object(pairs: _Pairs, path: tuple[str | int, ...], faults: dict[str, str]) -> dict[str, Any] | None:
    if len(pairs) > MOST_ENTRIES:
        faults[_dotted(path)] = f"At most {MOST_ENTRIES} entries are taken."
        return None
    plain: dict[str, Any] = {}
    for key, value in pairs:
        here = (*path, key)
        if _text_fault(key):
            faults[_dotted((*path, _shown(key)))] = f"The key: {_text_fault(key)}"
        elif key in plain:
            faults[_dotted(here)] = "This key is given twice."
        else:
            plain[key] = _plain(value, here, faults)
    return plain


def _key_of(path: Sequence[str | int]) -> str:
    """Return the key that says what a number is: the last one, or that of the mapping from names in which it stands."""
    keys = [step for step in path if isinstance(step, str)]
    return next((key for key in keys if key in MAPPINGS), keys[-1])


def _text_fault(text: str, key: str = "") -> str | None:
    if len(text) > LONGEST_TEXT:
        return f"At most {LONGEST_TEXT} characters are taken."
    if any("\ud800" <= letter <= "\udfff" for letter in text):
        return "This holds half a character."
    if holds_unkept(text):
        return "This holds a sign that is not text."
    if key in PRICES and AMOUNT.fullmatch(text):
        return _number_fault(float(text), key)
    return None


def _shown(key: str) -> str:
    return key[:LONGEST_TEXT].encode("utf-8", "replace").decode("utf-8")


def _number_fault(value: Any, key: str) -> str | None:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    if not math.isfinite(value):
        return "This must be a finite number."
    least, most = range_of(key) or ANY
    if value and not least <= abs(value) <= most:
        return f"This must be 0 or between {least:g} and {most:g}, whatever its sign."
    return None


def _dotted(path: Sequence[str | int]) -> str:
    return ".".join(str(step) for step in path if step != "[key]")


_SENTENCES = {
    "missing": "This is required.",
    "extra_forbidden": "This key is not known here.",
    "float_type": "This must be a number.",
    "int_type": "This must be a whole number.",
    "int_from_float": "This must be a whole number.",
    "bool_type": "This must be true or false.",
    "string_type": "This must be text.",
    "string_too_short": "This must not be empty.",
    "string_pattern_mismatch": 'This must be an amount as decimal text, such as "0.18".',
    "list_type": "This must be a list.",
    "dict_type": "This must be an object.",
    "model_type": "This must be an object.",
    "greater_than": "This must be above {gt}.",
    "greater_than_equal": "This must be at least {ge}.",
    "less_than": "This must be below {lt}.",
    "less_than_equal": "This must be at most {le}.",
    "literal_error": "This must be {expected}.",
    "too_short": "At least {min_length} must be given.",
    "too_long": "At most {max_length} may be given.",
}


def _sentence(fault: ErrorDetails) -> str:
    # A limit of 1.0 reads as 1; every other value is shown as it is.
    shown = {key: f"{value:g}" if isinstance(value, float) else value for key, value in fault.get("ctx", {}).items()}
    return _SENTENCES.get(fault["type"], "This cannot be used.").format(**shown)
