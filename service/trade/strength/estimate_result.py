"""What goes into the strength engine and what comes out of it."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from decimal import Decimal
from typing import Any, Literal

from service.trade.block.shape_factors import ShapeFactor
from service.trade.strength.censored_readings import Reading
from service.trade.strength.prior import Prior

Statistic = Literal["mean", "characteristic", "each"]
Rule = Literal["no readings", "not met", "met", "too few", "cannot tell"]
Verdict = Literal["will do", "not settled", "will not do"]
# A text's own way from readings to a characteristic value; "" leaves it to the assurance alone.
CharacteristicBy = Literal["", "en-1990-d1", "nzs-4298"]


@dataclass(frozen=True)
class Composition:
    """What the plan varied of one recipe: shares of the dry soil, moisture as a fraction; None: not known."""

    share: float
    sand: float | None = None
    moisture: float | None = None
    dry_density_kg_m3: float | None = None


@dataclass(frozen=True)
class Group:
    """The readings of one recipe in one condition; ``batches`` None: as another group of the recipe says, else 1.

    ``factors`` holds, for each table of shape factors that a limit calls for, one factor a reading; None where the
    table has nothing for that block. ``mixes`` names the mix of each block, in order; empty: none is named.
    ``composition`` None: the recipe stands outside the curve.
    """

    recipe: str
    condition: str
    readings: tuple[Reading, ...]
    batches: int | None = None
    factors: tuple[tuple[ShapeFactor, tuple[float | None, ...]], ...] = ()
    mixes: tuple[str | None, ...] = ()
    composition: Composition | None = None


@dataclass(frozen=True)
class Limit:
    """One rule: a statistic in a condition that must reach ``limit_mpa``, shown on ``blocks`` blocks.

    ``shape`` names the table by which the stress as crushed is corrected before it is held against this limit.
    """

    name: str
    condition: str
    statistic: Statistic
    limit_mpa: float
    blocks: int
    shape: ShapeFactor = ""
    by: CharacteristicBy = ""


@dataclass(frozen=True)
class Settings:
    """Wanted assurance, the ratio that counts as practically the same, and the errors no block shows.

    ``learn_mixes``: where the readings name their mixes, what these differ by is learned and ``batch_sd`` not used.
    """

    assurance: float = 0.95
    margin: float = 0.10
    scale_uncertainty: float = 0.0
    batch_sd: float = 0.05
    learn_mixes: bool = True
    prior: Prior = field(default_factory=Prior)


@dataclass(frozen=True)
class Scatter:
    """Scatter between blocks of one condition: sigma of the log strength."""

    condition: str
    median: float
    low: float
    high: float


@dataclass(frozen=True)
class GroupStrength:
    """What is said of one recipe in one condition; None where nothing measured speaks for it."""

    recipe: str
    condition: str
    readings: int
    held: int
    fell_apart: int
    median_mpa: float | None
    low_mpa: float | None
    high_mpa: float | None
    characteristic_mpa: float | None
    characteristic_low_mpa: float | None
    next_low_mpa: float | None
    next_high_mpa: float | None


@dataclass(frozen=True)
class LimitAnswer:
    """One limit applied to one recipe."""

    recipe: str
    name: str
    counted: int
    required: int
    rule: Rule | None
    assurance: float | None


@dataclass(frozen=True)
class PairAnswer:
    """The ratio a/b of two recipes in one condition."""

    condition: str
    a: str
    b: str
    ratio: float | None
    low: float | None
    high: float | None
    p_more: float | None
    p_less: float | None
    p_same: float | None


@dataclass(frozen=True)
class OrderAnswer:
    """One recipe's place: all limits at once, the cheapest that will do, and the verdict."""

    recipe: str
    verdict: Verdict
    assurance: float | None
    p_cheapest: float | None
    cost: Decimal | None


@dataclass(frozen=True)
class StrengthAnswer:
    """Everything the engine says of one job."""

    scatter: tuple[Scatter, ...]
    groups: tuple[GroupStrength, ...]
    limits: tuple[LimitAnswer, ...]
    pairs: tuple[PairAnswer, ...]
    order: tuple[OrderAnswer, ...]

    def as_dict(self) -> dict[str, Any]:
        """Return the answer as plain JSON values; money as decimal text."""
        plain = {name: [asdict(row) for row in getattr(self, name)] for name in asdict(self)}
        for row in plain["order"]:
            row["cost"] = None if row["cost"] is None else f"{row['cost']:f}"
        return plain


Costs = Mapping[str, Decimal]
