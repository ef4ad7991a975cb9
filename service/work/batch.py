"""`batch`: what to weigh for a mix, from blocks wanted or from dry soil in hand."""

from dataclasses import asdict
from typing import Any, Literal

from pydantic import ConfigDict, Field

from service.trade.bounds import refuse
from service.trade.mix import Achieved, BlocksWanted, BothBases, Component, SoilInHand, Stabiliser, plan_batch
from service.work.calculation import (
    Calculation,
    Count,
    Given,
    Name,
    NotNegative,
    Positive,
    Way,
    either,
    first_way_taken,
)

FROM_SOIL = Way(("dry_soil_kg",))
FROM_BLOCKS = Way(("blocks", "dry_mass_per_block_kg"))


class ComponentGiven(Given):
    """A soil or sand of the blend."""

    name: Name
    share: NotNegative
    moisture: NotNegative


class StabiliserGiven(Given):
    """A stabiliser, and of what its share is."""

    name: Name
    share: NotNegative
    basis: Literal["dry soil", "dry mix"]


class BatchGiven(Given):
    """A recipe and its size."""

    model_config = ConfigDict(json_schema_extra=either(FROM_SOIL, FROM_BLOCKS))

    blocks: Count | None = None
    dry_mass_per_block_kg: Positive | None = None
    waste: NotNegative = 0.0
    dry_soil_kg: Positive | None = None
    components: list[ComponentGiven]
    stabilisers: list[StabiliserGiven] = Field(default_factory=list)
    moisture: NotNegative
    moisture_basis: Literal["dry mix", "dry soil"] = "dry mix"
    scale_graduation_kg: Positive | None = None


def calculate(given: BatchGiven) -> dict[str, Any]:
    """Return dry masses, masses to weigh, water to add, shares on both bases and what is achieved."""
    plan = plan_batch(
        start=_start(given),
        components=[Component(part.name, part.share, part.moisture) for part in given.components],
        stabilisers=[Stabiliser(part.name, part.share, part.basis) for part in given.stabilisers],
        moisture=given.moisture,
        moisture_basis=given.moisture_basis,
        scale_graduation_kg=given.scale_graduation_kg,
    )
    return asdict(plan) | {
        "stabiliser_shares": {name: _both(shares) for name, shares in plan.stabiliser_shares.items()},
        "achieved": achieved_shares(plan.achieved),
    }


def achieved_shares(achieved: Achieved) -> dict[str, Any]:
    """Return what a mix really is, under the keys of the contract."""
    return {
        "components": dict(achieved.components),
        "stabilisers": {name: _both(shares) for name, shares in achieved.stabilisers.items()},
        "moisture": achieved.moisture,
    }


def _start(given: BatchGiven) -> BlocksWanted | SoilInHand:
    first_way_taken(given, first=FROM_SOIL, second=FROM_BLOCKS)
    if given.dry_soil_kg is not None:
        if given.waste:
            refuse({"waste": "Dry soil in hand is taken as it stands: waste goes with blocks."})
        return SoilInHand(given.dry_soil_kg)
    assert given.blocks is not None and given.dry_mass_per_block_kg is not None
    return BlocksWanted(given.blocks, given.dry_mass_per_block_kg, given.waste)


def _both(shares: BothBases) -> dict[str, float]:
    return {"dry soil": shares.dry_soil, "dry mix": shares.dry_mix}


CALCULATION = Calculation(
    model=BatchGiven,
    run=calculate,
    formula=(
        "M = D (1 + sum of dry-soil shares) / (1 - sum of dry-mix shares); as received = dry (1 + moisture); "
        "water to add = moisture x basis - water in the components"
    ),
    source_keys=("mass-balance",),
)
