"""Recipes of one job that differ in one thing alone (stabiliser, added sand or water), and their blocks."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from service.desk.results._readings import ReadBlock
from service.desk.results.recipe_facts import RecipeFacts
from service.trade.strength.censored_readings import Reading
from service.trade.strength.content_curve.cells import Row

Varied = Literal["stabiliser", "sand", "water"]


@dataclass(frozen=True)
class Series:
    """Recipes alike but for the share of one material: of dry soil, water as planned; the least first."""

    varied: Varied
    soil: tuple[str, ...]
    material: str
    shares: tuple[tuple[str, float], ...]

    @property
    def labels(self) -> frozenset[str]:
        """The recipes of the series."""
        return frozenset(label for label, _ in self.shares)


def series_of(recipes: Sequence[RecipeFacts]) -> tuple[Series, ...]:
    """Return the recipes that differ in the share of one stabiliser alone, none counting as a share of nothing."""
    by_soil: dict[tuple[object, ...], list[RecipeFacts]] = {}
    for one in recipes:
        soil = tuple((part.name, part.share) for part in one.parts if part.role == "component")
        by_soil.setdefault((soil, one.press_stress_mpa, one.press_stroke_mm), []).append(one)
    found = []
    for alike in by_soil.values():
        names = {part.name for one in alike for part in one.parts if part.role == "stabiliser"}
        for name in sorted(names):
            mine = [one for one in alike if _others(one, name) == 0]
            shares = {one.label: _share(one, name) for one in mine}
            if len(set(shares.values())) > 1:
                soil_names = tuple(part.name for part in mine[0].parts if part.role == "component")
                found.append(
                    Series("stabiliser", soil_names, name, tuple(sorted(shares.items(), key=lambda item: item[::-1])))
                )
    return tuple(found)


def sand_series_of(recipes: Sequence[RecipeFacts]) -> tuple[Series, ...]:
    """Return the recipes of one soil that differ in the share of one hauled-in material alone, and in their water."""
    alike: dict[tuple[tuple[str, ...], tuple[object, ...]], list[RecipeFacts]] = {}
    for one in recipes:
        own = tuple(part.name for part in one.parts if part.role == "component" and not part.hauled_in)
        alike.setdefault((own, (_doses(one), one.press_stress_mpa, one.press_stroke_mm)), []).append(one)
    found = []
    for (own, _), group in alike.items():
        names = {part.name for one in group for part in one.parts if part.hauled_in}
        for name in sorted(names):
            mine = [one for one in group if all(part.name == name for part in one.parts if part.hauled_in)]
            shares = {one.label: sum(part.share for part in one.parts if part.hauled_in) for one in mine}
            if len(own) == 1 and len(set(shares.values())) > 1:
                found.append(Series("sand", own, name, _ordered(shares)))
    return tuple(found)


def water_series_of(recipes: Sequence[RecipeFacts]) -> tuple[Series, ...]:
    """Return the recipes that differ in their planned water alone."""
    alike: dict[tuple[object, ...], list[RecipeFacts]] = {}
    for one in recipes:
        soil = tuple((part.name, part.share) for part in one.parts if part.role == "component")
        key = (soil, _doses(one), one.moisture_basis, one.press_stress_mpa, one.press_stroke_mm)
        alike.setdefault(key, []).append(one)
    found = []
    for group in alike.values():
        waters = {one.label: one.target_moisture for one in group}
        if len(set(waters.values())) > 1:
            names = tuple(part.name for part in group[0].parts if part.role == "component")
            found.append(Series("water", names, "water", _ordered(waters)))
    return tuple(found)


def _ordered(shares: Mapping[str, float]) -> tuple[tuple[str, float], ...]:
    return tuple(sorted(shares.items(), key=lambda item: item[::-1]))


def _doses(recipe: RecipeFacts) -> tuple[tuple[str, float], ...]:
    doses = (part for part in recipe.parts if part.role == "stabiliser")
    return tuple(sorted((part.name, round(part.over_dry_soil or 0.0, 9)) for part in doses))


def _others(recipe: RecipeFacts, name: str) -> int:
    return sum(part.role == "stabiliser" and part.name != name for part in recipe.parts)


def _share(recipe: RecipeFacts, name: str) -> float:
    # A share planned on the dry mix comes back from it with the dust of a double.
    parts = (part for part in recipe.parts if part.role == "stabiliser" and part.name == name)
    return round(sum(part.over_dry_soil or 0.0 for part in parts), 9)


def rows_of(series: Series, blocks: Iterable[ReadBlock]) -> tuple[Row, ...]:
    """Return the counted blocks of a series, by share, condition and the mix that each came from.

    A share of no stabiliser is left out: the curve was found along shares of it, and from none to some is another step.
    """
    none = 0.0 if series.varied == "stabiliser" else -1.0
    shares: Mapping[str, float] = {label: share for label, share in series.shares if share > none}
    by_mix: dict[tuple[str, str, int], list[Reading]] = {}
    for one in blocks:
        if one.reading is not None and one.facts.recipe in shares:
            by_mix.setdefault((one.facts.recipe, one.facts.condition, one.facts.batch), []).append(one.reading)
    return tuple(
        Row(shares[recipe], condition, tuple(readings), f"{recipe} {batch}")
        for (recipe, condition, batch), readings in by_mix.items()
    )
