"""A judged soil -> recipes to start trials from: cement or lime, with share, basis and source."""

import tomllib
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal

from service.trade.soil.suitability import DATA, Suitability
from service.trade.validation import require

# How far a box may be from it: 24 x 1-1/2 x 1-1/2 in is the same box. Our own rule, no published source.
BOX_WITHIN = (0.02, 0.1, 0.1)
BOX_MM = (600.0, 40.0, 40.0)

Stabiliser = Literal["cement", "lime"]


@dataclass(frozen=True)
class Box:
    """A shrinkage box and what the soil left free in it."""

    length_mm: float
    width_mm: float
    depth_mm: float
    shrinkage_mm: float


@dataclass(frozen=True)
class BulkDensities:
    """Of stabiliser and dry soil as they lie loose, measured, in kg per litre."""

    stabiliser_kg_l: float
    soil_kg_l: float


@dataclass(frozen=True)
class Recipe:
    """One recipe to try; a share is of dry soil, parts are volumes of soil to one of stabiliser."""

    stabiliser: Stabiliser
    share: float | None
    soil_parts: float | None
    press_low_mpa: float | None
    press_high_mpa: float | None
    remark: str
    source: str
    standing: str


@dataclass(frozen=True)
class Start:
    """The recipes, and why there are no more of them."""

    recipes: tuple[Recipe, ...]
    remarks: tuple[str, ...]


@dataclass(frozen=True)
class ShrinkageBands:
    """Volumes of soil to one of cement, by the shrinkage in mm from which each holds; the last ends at `to_mm`."""

    bands: tuple[tuple[float, int], ...]
    to_mm: float
    source: str
    standing: str


@cache
def published_shrinkage_bands() -> ShrinkageBands:
    """Return the shrinkage bands of the box of 600 x 40 x 40 mm.

    Returns
    -------
    ShrinkageBands
        From 0 mm up; with source and standing.

    Source
    ------
    shrinkage-bands

    Examples
    --------
    >>> published_shrinkage_bands().bands[0], published_shrinkage_bands().to_mm
    ((0.0, 18), 60.0)
    """
    data = _data()
    first = data["band"][0]
    bands = tuple((float(band["from_mm"]), int(band["soil_parts"])) for band in data["band"])
    return ShrinkageBands(bands, float(data["bands_end"]["to_mm"]), first["source"], first["standing"])


def share_from_parts(*, soil_parts: float, densities: BulkDensities) -> float:
    """Return the share of dry soil that one volume of stabiliser to so many of soil is.

    Parameters
    ----------
    soil_parts : float
        Volumes of loose dry soil to one of stabiliser; above 0.
    densities : BulkDensities
        Measured loose, in kg/l, each above 0.

    Returns
    -------
    float
        Mass of stabiliser over mass of dry soil, unrounded.

    Raises
    ------
    Invalid
        If a number is not above 0.

    Source
    ------
    mass-balance

    Examples
    --------
    1 : 16 with cement of 1.44 and soil of 1.2 kg/l is 1.44 / 19.2:

    >>> round(share_from_parts(soil_parts=16, densities=BulkDensities(1.44, 1.2)), 6)
    0.075
    """
    require(
        positive={
            "soil_parts": soil_parts,
            "bulk_density_stabiliser_kg_l": densities.stabiliser_kg_l,
            "bulk_density_soil_kg_l": densities.soil_kg_l,
        }
    )
    return densities.stabiliser_kg_l / (soil_parts * densities.soil_kg_l)


def band_soil_parts(*, shrinkage_mm: float, bands: ShrinkageBands | None = None) -> int | None:
    """Return the volumes of soil to one of cement for a shrinkage in the box of 600 x 40 x 40 mm.

    Parameters
    ----------
    shrinkage_mm : float
        In mm; 0 or more.
    bands : ShrinkageBands or None
        The shop's own; None for the published ones.

    Returns
    -------
    int or None
        Parts of soil; a boundary belongs to the higher band, the end to the last; None above.

    Raises
    ------
    Invalid
        If the shrinkage is negative.

    Source
    ------
    shrinkage-bands

    Examples
    --------
    >>> band_soil_parts(shrinkage_mm=14.9), band_soil_parts(shrinkage_mm=15)
    (18, 16)
    """
    require(not_negative={"shrinkage_mm": shrinkage_mm})
    held = bands or published_shrinkage_bands()
    if shrinkage_mm > held.to_mm:
        return None
    return max(band for band in held.bands if band[0] <= shrinkage_mm)[1]


def start_for(
    judged: Suitability,
    *,
    plasticity_index: float | None = None,
    box: Box | None = None,
    densities: BulkDensities | None = None,
    bands: ShrinkageBands | None = None,
) -> Start:
    """Return recipes to start trials from.

    Parameters
    ----------
    judged : Suitability
        The verdict on the soil and its reasons.
    plasticity_index : float or None
        As a fraction, 0 or more; None when not measured.
    box : Box or None
        The shrinkage box; None when not measured.
    densities : BulkDensities or None
        Measured loose bulk densities of cement and dry soil; None when not measured, and then no share is given
        for parts by volume.
    bands : ShrinkageBands or None
        The shop's own; None for the published ones.

    Returns
    -------
    Start
        No recipe after any sign. Lime first from the index of the bodies on, where they differ both are named;
        cement by the shrinkage band (only inside the window that `judged` holds the soil to, and only for the
        box the bands were made for) and by the published economic range.

    Raises
    ------
    Invalid
        If a number is out of range.

    Source
    ------
    shrinkage-bands, qjeg-1986, webb-lockwood-1987, lime-trade-body, us-army-lime, trr-1652

    Examples
    --------
    >>> from service.trade.soil.suitability import judge
    >>> [recipe.share for recipe in start_for(judge({"shrinkage": 0.05})).recipes]
    [0.05, 0.07, 0.09]
    """
    if any(reason.about.startswith("sign of") for reason in judged.reasons):
        return Start((), ("A sign stops every recipe with cement or lime until a laboratory has cleared it.",))
    if plasticity_index is not None:
        require(not_negative={"plasticity_index": plasticity_index})
    remarks: list[str] = []
    if judged.verdict == "amend":
        remarks.append("These are for the soil once it is blended: test the blend first.")
    recipes: list[Recipe] = []
    if plasticity_index is not None:
        recipes += _lime(plasticity_index, remarks)
    recipes += _by_band(judged, box, densities, bands or published_shrinkage_bands(), remarks)
    recipes += _by_range()
    return Start(tuple(recipes), tuple(remarks))


@cache
def _data() -> dict[str, Any]:
    return tomllib.loads((DATA / "starting_recipes.toml").read_text("utf-8"))


def _pressure(stabiliser: Stabiliser) -> dict[str, float | None]:
    (row,) = (row for row in _data()["pressure"] if row["stabiliser"] == stabiliser)
    return {"press_low_mpa": row.get("low_mpa"), "press_high_mpa": row.get("high_mpa")}


def _lime(plasticity_index: float, remarks: list[str]) -> list[Recipe]:
    rows = _data()["lime_from"]
    speaking = [row for row in rows if plasticity_index >= row["plasticity_index"]]
    if not speaking:
        return []
    if len(speaking) < len(rows):
        remarks.append("Two bodies differ on the index from which lime is chosen, and this soil is between them.")
    remarks.append(
        "That cement works only up to an index of 20 has been called a mistake, so cement stays to be tried."
    )
    return [
        Recipe(
            stabiliser="lime",
            share=None,
            soil_parts=None,
            **_pressure("lime"),
            remark="No published share could be read: find it by trial.",
            source=row["source"],
            standing=row["standing"],
        )
        for row in speaking[:1]
    ]


def _by_band(
    judged: Suitability,
    box: Box | None,
    densities: BulkDensities | None,
    bands: ShrinkageBands,
    remarks: list[str],
) -> list[Recipe]:
    if box is None:
        return []
    off = _sides_off(box)
    if off:
        remarks.append(
            "The shrinkage bands were made for a box of 600 x 40 x 40 mm; no recipe from them. "
            f"Too far from it: {', '.join(off)}."
        )
        return []
    # A linear shrinkage is a ratio, so that of a box a little longer or shorter stands for one of 600 mm.
    parts = band_soil_parts(shrinkage_mm=box.shrinkage_mm * BOX_MM[0] / box.length_mm, bands=bands)
    if parts is None:
        remarks.append(f"The shrinkage is above {bands.to_mm:g} mm: no band, no recipe from it.")
        return []
    if any(reason.about == "shrinkage" and reason.drives and not reason.inside for reason in judged.reasons):
        remarks.append("The window for stabilising overrules the shrinkage bands: no recipe from them.")
        return []
    share, said = None, "Measure both bulk densities to turn it into a share; none is guessed."
    if densities is not None:
        share, said = share_from_parts(soil_parts=parts, densities=densities), "Share by the bulk densities measured."
    return [
        Recipe(
            stabiliser="cement",
            share=share,
            soil_parts=float(parts),
            **_pressure("cement"),
            remark=f"One part of cement to {parts} of soil by volume, for the presses the bands were made for. {said}",
            source=bands.source,
            standing=bands.standing,
        )
    ]


def _sides_off(box: Box) -> list[str]:
    """Return the sides in which a box is too far from the one that the bands were made for."""
    sides = (box.length_mm, box.width_mm, box.depth_mm)
    return [
        f"{name} {side:g} mm"
        for name, side, made_for, within in zip(("length", "width", "depth"), sides, BOX_MM, BOX_WITHIN, strict=True)
        if abs(side / made_for - 1) > within
    ]


def _by_range() -> list[Recipe]:
    row = _data()["cement"]
    low, high = row["low"], row["high"]
    return [
        Recipe(
            stabiliser="cement",
            share=share,
            soil_parts=None,
            **_pressure("cement"),
            remark=f"{where} of the range found economic; taken as a share of dry soil, which was not stated.",
            source=row["source"],
            standing=row["standing"],
        )
        for where, share in (("Bottom", low), ("Middle", round((low + high) / 2, 12)), ("Top", high))
    ]
