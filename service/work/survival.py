"""`survival`: the chance that a block survives in water, from those that did and those that fell apart."""

from typing import Annotated, Any

from pydantic import Field

from service.trade.strength.standing_in_water import Soaked, standing
from service.trade.validation import refuse
from service.work.calculation import Calculation, Given, Name, Whole


class SoakedGiven(Given):
    """Blocks of one recipe that were in the water."""

    recipe: Name
    share: Annotated[float, Field(ge=0, lt=1)]
    survived: Annotated[Whole, Field(ge=0, le=500)]
    fell_apart: Annotated[Whole, Field(ge=0, le=500)]


class SurvivalGiven(Given):
    """Recipes of one soil and one stabiliser, soaked alike."""

    recipes: Annotated[list[SoakedGiven], Field(min_length=1)]


def calculate(given: SurvivalGiven) -> dict[str, Any]:
    """Return for each recipe the chance that the next block survives, and what it is at least."""
    faults = {
        f"recipes.{number}.survived": "At least one block was in the water."
        for number, one in enumerate(given.recipes)
        if one.survived + one.fell_apart < 1
    }
    names = [one.recipe for one in given.recipes]
    faults |= {f"recipes.{n}.recipe": "This name is used twice." for n, one in enumerate(names) if one in names[:n]}
    if faults:
        refuse(faults)
    found = standing([Soaked(one.share, one.survived, one.fell_apart) for one in given.recipes])
    return {
        "recipes": [
            {"recipe": one.recipe, "share": one.share, "chance": stands.chance, "at_least": stands.at_least}
            for one, stands in zip(given.recipes, found, strict=True)
        ]
    }


CALCULATION = Calculation(
    model=SurvivalGiven,
    run=calculate,
    formula="P = Φ(a + b (x − x̄)), b ≥ 0; x = ln(share + 0.5 %); one recipe: (survived + 1) / (blocks + 2)",
    source_keys=("own-rule",),
)
