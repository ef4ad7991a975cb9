"""What a result says of a recipe: what is in it, what it was, what it costs and carries, and the wall it is for."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Literal
from uuid import UUID

from service.phrase import Phrase


@dataclass(frozen=True)
class PartFacts:
    """One material of a recipe; a stabiliser's share stands on both bases."""

    name: str
    role: str
    share: float
    basis: str
    over_dry_soil: float | None
    over_dry_mix: float | None
    hauled_in: bool
    per_kg: Decimal | None
    carbon_kg_per_kg: float | None
    carbon_source: str | None


@dataclass(frozen=True)
class MixFacts:
    """What one batch really was, from what was weighed."""

    number: int
    mixed_at: datetime | None
    moisture: float | None
    over_dry_soil: dict[str, float]
    covered_at: datetime | None
    uncovered_at: datetime | None


@dataclass(frozen=True)
class SquareFacts:
    """A square metre of wall one block thick, laid without joints."""

    blocks: float
    cost: Decimal | None
    carbon_kg: float | None


@dataclass(frozen=True)
class BagFacts:
    """One bag of the first stabiliser: whole blocks it is enough for, bags a hundred take, and the materials of it."""

    name: str
    bag_kg: float
    blocks: int
    per_hundred: float
    cost: Decimal | None


@dataclass(frozen=True)
class AgainstFacts:
    """What a block costs and carries more than one of the customer's own soil; below zero: less."""

    native: str
    cost_per_block: Decimal | None
    carbon_kg_per_block: float | None


@dataclass(frozen=True)
class CostFacts:
    """Money and carbon of one block, carbon with its range where a material has one, and what is missing."""

    block: Literal["bench block", "own block"]
    dry_mass_kg: float
    waste: float
    cost_per_block: Decimal | None
    carbon_kg_per_block: float | None
    carbon_low_kg_per_block: float | None
    carbon_high_kg_per_block: float | None
    carbon_sources: tuple[str, ...]
    price_missing: tuple[str, ...]
    carbon_missing: tuple[str, ...]
    square: SquareFacts | None
    bag: BagFacts | None
    against: AgainstFacts | None


@dataclass(frozen=True)
class WallFacts:
    """What the wall asks of its lowest block, beside the strength that is sure of one block."""

    foot_stress_mpa: float
    slenderness: float
    density_kg_m3: float
    strength_mpa: float | None
    condition: str | None
    fell_apart: bool
    unit_strength_ratio: float | None


@dataclass(frozen=True)
class RecipeFacts:
    """One recipe: what is in it, how it was made, what it weighs, costs and carries."""

    id: UUID
    label: str
    name: Phrase
    parts: tuple[PartFacts, ...]
    target_moisture: float
    moisture_basis: str
    press_stress_mpa: float | None
    press_stroke_mm: float | None
    mixes: tuple[MixFacts, ...]
    pressed: int
    lost: int
    spoiled: int
    left_out: int
    dry_density_kg_m3: float | None
    cost: CostFacts | None
    wall: WallFacts | None
    dropped_because: str | None
