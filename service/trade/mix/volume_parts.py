"""Parts by volume, as people fill buckets -> shares of dry mass, through bulk densities as the materials lie."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from service.trade.validation import refuse, require, require_names_once


@dataclass(frozen=True)
class VolumePart:
    """So many volumes of a material, what a litre of it weighs as it lies, and the water in that over its dry mass."""

    name: str
    parts: float
    bulk_density_kg_l: float
    moisture: float = 0.0

    @property
    def dry_kg(self) -> float:
        """Dry mass in the parts, were a part a litre."""
        return self.parts * self.bulk_density_kg_l / (1 + self.moisture)


@dataclass(frozen=True)
class VolumeShares:
    """Components as shares of dry soil, stabilisers as shares of dry soil too."""

    components: Mapping[str, float]
    stabilisers: Mapping[str, float]


def shares_by_volume(*, components: Sequence[VolumePart], stabilisers: Sequence[VolumePart]) -> VolumeShares:
    """Return the shares of dry mass that parts by volume come to.

    Parameters
    ----------
    components : Sequence[VolumePart]
        Soils and sands, one or more; parts and bulk density in kg/l above 0, moisture 0 or more.
    stabilisers : Sequence[VolumePart]
        Any number, likewise.

    Returns
    -------
    VolumeShares
        Component shares that sum to 1; stabilisers over the dry soil, unrounded.

    Raises
    ------
    Invalid
        If there is no component, a number is out of range, or a name stands twice.

    Source
    ------
    mass-balance

    Examples
    --------
    One part of cement at 1.44 kg/l to twelve of dry soil at 1.2 kg/l is 1.44 / 14.4:

    >>> found = shares_by_volume(components=[VolumePart("soil", 12, 1.2)], stabilisers=[VolumePart("cement", 1, 1.44)])
    >>> round(found.stabilisers["cement"], 6)
    0.1
    """
    if not components:
        refuse({"components": "At least one component is needed."})
    numbered = [(f"components.{index}", part) for index, part in enumerate(components)]
    numbered += [(f"stabilisers.{index}", part) for index, part in enumerate(stabilisers)]
    require_names_once((f"{place}.name", part.name) for place, part in numbered)
    require(
        positive={f"{place}.parts": part.parts for place, part in numbered}
        | {f"{place}.bulk_density_kg_l": part.bulk_density_kg_l for place, part in numbered},
        not_negative={f"{place}.moisture": part.moisture for place, part in numbered},
    )
    soil_kg = math.fsum(part.dry_kg for part in components)
    return VolumeShares(
        components={part.name: part.dry_kg / soil_kg for part in components},
        stabilisers={part.name: part.dry_kg / soil_kg for part in stabilisers},
    )
