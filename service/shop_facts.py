"""What every page and paper needs to know of the shop."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

Units = Literal["imperial", "metric"]
Language = Literal["en", "es"]


@dataclass(frozen=True)
class ShopFacts:
    """How the shop writes, decides and is called."""

    name: str = "Loambook"
    time_zone: str = "UTC"
    currency: str = "USD"
    paper: str = "A4"
    units_first: Units = "metric"
    comma_thousands: bool = False
    language: Language = "en"
    whom_to_call: str = ""
    assurance: float = 0.95
    margin: float = 0.10
    # What the shop asks for a block tested and for a calibration; None: not said.
    block_price: Decimal | None = None
    calibration_price: Decimal | None = None
