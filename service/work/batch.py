"""`batch`: what to weigh for a mix, from blocks wanted or from dry soil in hand."""

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any, Literal

from pydantic import ConfigDict, Field

from service.trade.mix.batch import Achieved, BlocksWanted, BothBases, Component, SoilInHand, Stabiliser, plan_batch
from service.trade.mix.volume_parts import VolumePart, shares_by_volume
from service.trade.validation import refuse
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


COMPONENT_BY_SHARE, STABILISER_BY_SHARE = Way(("share",)), Way(("share", "basis"))
BY_PARTS = Way(("parts", "bulk_density_kg_l"))


class ComponentGiven(Given):
    """A soil or sand of the blend: its share of the dry soil, or parts by volume and the mass of a litre as it lies."""

    model_config = ConfigDict(json_schema_extra=either(COMPONENT_BY_SHARE, BY_PARTS))

    name: Name
    share: NotNegative | None = None
    parts: Positive | None = None
    bulk_density_kg_l: Positive | None = None
    moisture: NotNegative


class StabiliserGiven(Given):
    """A stabiliser: its share and of what, or parts by volume and the mass of a litre as it lies."""

    model_config = ConfigDict(json_schema_extra=either(STABILISER_BY_SHARE, BY_PARTS))

    name: Name
    share: NotNegative | None = None
    basis: Literal["dry soil", "dry mix"] | None = None
    parts: Positive | None = None
    bulk_density_kg_l: Positive | None = None


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
    components, stabilisers = in_shares(given.components, given.stabilisers)
    plan = plan_batch(
        start=_start(given),
        components=components,
        stabilisers=stabilisers,
        moisture=given.moisture,
        moisture_basis=given.moisture_basis,
        scale_graduation_kg=given.scale_graduation_kg,
    )
    return asdict(plan) | {
        "stabiliser_shares": {name: _both(shares) for name, shares in plan.stabiliser_shares.items()},
        "achieved": achieved_shares(plan.achieved),
    }


def in_shares(
    components: Sequence[ComponentGiven], stabilisers: Sequence[StabiliserGiven]
) -> tuple[list[Component], list[Stabiliser]]:
    """Return a recipe in shares; it is given wholly by shares or wholly by parts."""
    parts: list[ComponentGiven | StabiliserGiven] = [*components, *stabilisers]
    by_parts = any(part.parts is not None for part in parts)
    _refuse_other_way(components, stabilisers, by_parts=by_parts)
    if not by_parts:
        return (
            [Component(part.name, part.share or 0.0, part.moisture) for part in components],
            [Stabiliser(part.name, part.share or 0.0, part.basis or "dry soil") for part in stabilisers],
        )
    found = shares_by_volume(
        components=[_volume(part, part.moisture) for part in components],
        stabilisers=[_volume(part, 0.0) for part in stabilisers],
    )
    return (
        [Component(part.name, found.components[part.name], part.moisture) for part in components],
        [Stabiliser(name, share, "dry soil") for name, share in found.stabilisers.items()],
    )


def _volume(part: ComponentGiven | StabiliserGiven, moisture: float) -> VolumePart:
    assert part.parts is not None and part.bulk_density_kg_l is not None
    return VolumePart(part.name, part.parts, part.bulk_density_kg_l, moisture)


def _refuse_other_way(
    components: Sequence[ComponentGiven], stabilisers: Sequence[StabiliserGiven], *, by_parts: bool
) -> None:
    faults: dict[str, str] = {}
    rows: list[tuple[str, ComponentGiven | StabiliserGiven, Way]] = [
        (f"components.{index}", part, COMPONENT_BY_SHARE) for index, part in enumerate(components)
    ]
    rows += [(f"stabilisers.{index}", part, STABILISER_BY_SHARE) for index, part in enumerate(stabilisers)]
    for place, part, by_share in rows:
        taken, left = (BY_PARTS, by_share) if by_parts else (by_share, BY_PARTS)
        there = {key for key in part.model_fields_set if getattr(part, key) is not None}
        faults |= {
            f"{place}.{key}": f"Leave this out when {taken.needed[0]} is given." for key in left.needed if key in there
        }
        faults |= {f"{place}.{key}": "This is required." for key in taken.needed if key not in there}
    if faults:
        refuse(faults)


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
            refuse({"waste": "Waste goes with blocks, not with dry soil in hand."})
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
        "water to add = moisture x basis - water in the components; by volume, dry mass = parts x bulk density "
        "/ (1 + moisture)"
    ),
    source_keys=("mass-balance",),
)
