"""Refusals: the closed family of answers that are not bugs.

Raised deep, shown once. Each carries one sentence for the person and one for every field at
fault, keyed by the parameter's own name, so that one word runs from the formula to the form.
"""

from collections.abc import Mapping
from uuid import UUID


class Refusal(Exception):
    """What the service declines to do, said so that the person can put it right."""

    def __init__(self, sentence: str, fields: Mapping[str, str] | None = None) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.fields: dict[str, str] = dict(fields or {})

    def under(self, prefix: str) -> "Refusal":
        """Return the same refusal with every field placed below ``prefix``."""
        return type(self)(self.sentence, {f"{prefix}.{name}": text for name, text in self.fields.items()})


class Invalid(Refusal):
    """What was given cannot be used; the fields say which part and why."""


class NotProven(Invalid):
    """A password, code or PIN that does not fit; the field says which of them it was."""


class NotFound(Refusal):
    """There is no such thing, or it is nobody's business of the one who asks."""


class Forbidden(Refusal):
    """The thing is there, and this role may not do that with it."""


class SecondFactorNeeded(Forbidden):
    """The shop asks for a second factor, and this person has none yet."""


class PasswordNeeded(Forbidden):
    """The right is there, but who uses it must have proved lately that it is still himself."""


class SignedOut(Refusal):
    """Nobody is signed in, and somebody has to be."""


class Conflict(Refusal):
    """Somebody was faster, or the same key was used for something else."""


class TooMany(Refusal):
    """Tried too often; the same request may go through later."""


class Unavailable(Refusal):
    """The records cannot be reached, or take nothing more; nothing is wrong with what was asked."""


class Unsettled(Refusal):
    """The engine cannot answer within its promised tolerance, so it does not answer."""


def of_its_address(found: UUID | None, asked: UUID | None) -> None:
    """Refuse a thing that belongs elsewhere than its address says; who names the thing alone asks for no place."""
    if asked is not None and found != asked:
        raise NotFound("There is no such thing here.")
