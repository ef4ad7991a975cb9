"""Every published source once: a docstring's Source section and a data file's row name a key of this list."""

from dataclasses import dataclass
from typing import Literal

Standing = Literal["seen", "second-hand", "memory", "definition", "computed"]


@dataclass(frozen=True)
class Source:
    """One source: who says it, where it stands, and how its text was read for this service."""

    key: str
    body: str
    title: str
    edition: str
    clause: str
    standing: Standing


_ALL = (
    # Mass, water and money
    Source("mass-balance", "", "Conservation of mass", "", "", "definition"),
    Source("money", "", "Price times mass, in exact decimals", "", "", "definition"),
    Source("d2216", "ASTM", "D2216 Water content of soil by mass", "2019", "definition of water content", "memory"),
)

SOURCES: dict[str, Source] = {source.key: source for source in _ALL}
