"""A quantity as somebody typed it, together with what it comes to."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Typed:
    """A typed quantity: ``value`` in the fixed unit of its column, ``text`` and ``unit`` as typed."""

    value: float
    text: str
    unit: str

    def as_read(self) -> dict[str, str]:
        """Return what the raw tables keep of it, word for word."""
        return {"text": self.text, "unit": self.unit}
