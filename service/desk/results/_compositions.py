"""What the plan varied of the recipes of a job, as the strength engine's curve takes it."""

from collections.abc import Collection, Iterator, Sequence

from service.desk.results.recipe_facts import PartFacts, RecipeFacts
from service.trade.strength.estimate_result import Composition

# A share planned on the dry mix comes back from it with the dust of a double.
_DIGITS = 9


def compositions_of(recipes: Sequence[RecipeFacts], tried: Collection[str]) -> dict[str, Composition]:
    """Return the compositions of the recipes that one curve goes through: the most that differ in shares alone.

    They have the same soils, one stabiliser or none, one hauled-in material at most, and the same press. Others stand
    outside the curve, and so does a recipe without stabiliser beside those with it: the slope was found along shares
    of cement, not from none to some. Water counts where nothing else differs; else it follows the soil.
    """
    mine = [one for one in recipes if one.label in tried]
    families = [family for key in dict.fromkeys(_keys(mine)) if (family := _family(mine, key))]
    return max(families, key=len, default={})


_Key = tuple[object, str, str]


def _keys(recipes: Sequence[RecipeFacts]) -> Iterator[_Key]:
    for one in recipes:
        doses, added = _names(_doses(one)), _names(_hauled(one))
        if len(doses) < 2 and len(added) < 2:
            yield _alike(one), "".join(doses), "".join(added)


def _family(recipes: Sequence[RecipeFacts], key: _Key) -> dict[str, Composition]:
    """Return the recipes of one soil, stabiliser and hauled-in material; none where they do not differ."""
    alike, dose, added = key
    mine = [
        one
        for one in recipes
        if _alike(one) == alike and _names(_doses(one)) == {dose} - {""} and _names(_hauled(one)) <= {added}
    ]
    shares = {one.label: (_sum(_doses(one)), round(sum(p.share for p in _hauled(one)), _DIGITS)) for one in mine}
    watered = len(set(shares.values())) == 1 and len({one.moisture_basis for one in mine}) == 1
    water = {one.label: one.target_moisture if watered else None for one in mine}
    found = {label: Composition(share, sand, water[label]) for label, (share, sand) in shares.items()}
    return found if len(set(found.values())) > 1 else {}


def _alike(recipe: RecipeFacts) -> object:
    own = [part for part in recipe.parts if part.role == "component" and not part.hauled_in]
    whole = sum(part.share for part in own)
    soils = tuple(sorted((part.name, round(part.share / whole, 6)) for part in own)) if whole else ()
    return soils, recipe.press_stress_mpa, recipe.press_stroke_mm


def _doses(recipe: RecipeFacts) -> list[PartFacts]:
    return [part for part in recipe.parts if part.role == "stabiliser"]


def _hauled(recipe: RecipeFacts) -> list[PartFacts]:
    return [part for part in recipe.parts if part.role == "component" and part.hauled_in]


def _names(parts: Sequence[PartFacts]) -> set[str]:
    return {part.name for part in parts}


def _sum(parts: Sequence[PartFacts]) -> float:
    return round(sum(part.over_dry_soil or 0.0 for part in parts), _DIGITS)
