"""What a job tried, as the words need it: recipes, conditions, limits, readings and the engine's answer."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal, Self

from service.phrase import Phrase
from service.trade.block.test_conditions import Condition
from service.trade.strength.estimate_result import GroupStrength, Limit, OrderAnswer, PairAnswer, StrengthAnswer

Question = Literal["addition", "least stabiliser", "which soil", "meets code"]


@dataclass(frozen=True)
class Part:
    """One component of the dry soil blend."""

    name: str
    share: float
    added: bool


@dataclass(frozen=True)
class Dose:
    """One stabiliser with its share and the basis of it."""

    name: str
    share: float
    basis: Literal["dry soil", "dry mix"]


@dataclass(frozen=True)
class Recipe:
    """A recipe under its label; native when nothing but stabiliser was added to the customer's soil."""

    label: str
    parts: tuple[Part, ...]
    doses: tuple[Dose, ...]
    cost: Decimal | None = None
    batches: int = 1

    @property
    def native(self) -> bool:
        """Whether nothing was hauled in for it."""
        return not any(part.added for part in self.parts)

    @property
    def soil(self) -> tuple[str, ...]:
        """The customer's own soils in it."""
        return tuple(part.name for part in self.parts if not part.added)

    @property
    def additions(self) -> tuple[str, ...]:
        """What was hauled in for it."""
        return tuple(part.name for part in self.parts if part.added)

    @property
    def stabiliser_share(self) -> float:
        """All stabiliser over dry soil, whatever basis each was given on."""
        on_soil = sum(dose.share for dose in self.doses if dose.basis == "dry soil")
        on_mix = sum(dose.share for dose in self.doses if dose.basis == "dry mix")
        return (1 + on_soil) / (1 - on_mix) - 1

    def beyond(self, native: Self) -> tuple[str, ...]:
        """Return what the soil alone has not: what was hauled in, and a stabiliser of its own."""
        own = {dose.name for dose in native.doses}
        return (*self.additions, *(dose.name for dose in self.doses if dose.name not in own))

    def less_of(self, leaner: Self | None = None) -> tuple[str | Phrase, ...]:
        """Return what a leaner recipe has less of: the stabilisers by name, unless it has one of another kind."""
        names = {dose.name: None for dose in self.doses}
        another = leaner is not None and not {dose.name for dose in leaner.doses} <= names.keys()
        return (Phrase("stabiliser"),) if another else tuple(names)

    def phrase(self) -> Phrase:
        """Return label and content: "A (red silt with 6 % cement by weight of dry soil)"."""
        return Phrase("{label} ({content})", {"label": self.label, "content": self.whole()})

    def whole(self) -> Phrase:
        """Return the soil and what goes into it: "red silt with 6 % cement by weight of dry soil"."""
        if len(self.parts) > 1:
            return self.content()
        soil = _listed(tuple(part.name for part in self.parts))
        return Phrase("{soil} with {doses}", {"soil": soil, "doses": self._dosed()}) if self.doses else soil

    def content(self) -> Phrase:
        """Return what goes in, each share with what it is of: of one soil its stabiliser, of a blend every part.

        "6 % cement by weight of dry soil"; "75 % red silt and 25 % sand by dry weight, plus 6 % cement by weight of
        both".
        """
        if len(self.parts) < 2:
            return _listed(self._dosed()) if self.doses else Phrase("the soil alone")
        parts = _shares(self.parts)
        if not self.doses:
            return Phrase("{blend} by dry weight", {"blend": parts})
        return Phrase("{blend} by dry weight, plus {doses}", {"blend": parts, "doses": self._dosed()})

    def _dosed(self) -> tuple[Phrase, ...]:
        """Return the stabilisers, those of one basis together."""
        by_basis = {basis: [dose for dose in self.doses if dose.basis == basis] for basis in ("dry soil", "dry mix")}
        of_soil = _OF_SOIL.get(len(self.parts), _OF_ALL)
        return tuple(
            Phrase(_OF_MIX if basis == "dry mix" else of_soil, {"doses": _shares(doses)})
            for basis, doses in by_basis.items()
            if doses
        )


# By how many soils and sands are blended: the dry soil is all of them.
_OF_SOIL = {1: "{doses} by weight of dry soil", 2: "{doses} by weight of both"}
_OF_ALL = "{doses} by weight of all these"
_OF_MIX = "{doses} by weight of the whole dry mix"


def _shares(parts: Sequence[Part | Dose]) -> tuple[Phrase, ...]:
    return tuple(Phrase("{part_share} {name}", {"part_share": part.share, "name": part.name}) for part in parts)


@dataclass(frozen=True)
class Tally:
    """What was counted beside the readings of one recipe and condition.

    ``lowest_mpa`` is of the blocks that broke, ``mean_mpa`` of all, where all broke; ``step_mpa`` is the widest step of
    their gauges as stress, 0 where it is not known.
    """

    recipe: str
    condition: str
    highest_held_mpa: float | None = None
    spoiled: int = 0
    lost: int = 0
    lowest_mpa: float | None = None
    mean_mpa: float | None = None
    step_mpa: float = 0.0


@dataclass(frozen=True)
class Straying:
    """A reading that its siblings would hardly have foretold, and what one step of its gauge is as stress.

    ``above`` says that it is higher than they are.
    """

    recipe: str
    condition: str
    strength_mpa: float
    step_mpa: float = 0.0
    above: bool = False


@dataclass(frozen=True)
class Trial:
    """All of one job that its answer is made from."""

    question: Question
    recipes: tuple[Recipe, ...]
    conditions: tuple[Condition, ...]
    limits: tuple[Limit, ...]
    strength: StrengthAnswer
    tallies: tuple[Tally, ...] = ()
    straying: tuple[Straying, ...] = ()
    assurance: float = 0.95
    margin: float = 0.10
    calibrated: bool = True

    def recipe(self, label: str) -> Recipe:
        """Return the recipe of a label."""
        return next(recipe for recipe in self.recipes if recipe.label == label)

    def verdict(self, label: str) -> str:
        """Return the engine's verdict on a recipe; nothing is settled about one that was never crushed."""
        place = self._place(label)
        return place.verdict if place else "not settled"

    def chance(self, label: str) -> float | None:
        """Return the assurance that all limits hold for a recipe."""
        place = self._place(label)
        return place.assurance if place else None

    def chance_cheapest(self, label: str) -> float | None:
        """Return the chance that a recipe meets all limits and no cheaper one does."""
        place = self._place(label)
        return place.p_cheapest if place else None

    def _place(self, label: str) -> OrderAnswer | None:
        return next((place for place in self.strength.order if place.recipe == label), None)

    def group(self, label: str, condition: str) -> GroupStrength | None:
        """Return what the engine says of a recipe in a condition, if a block was crushed in it."""
        found = (one for one in self.strength.groups if (one.recipe, one.condition) == (label, condition))
        return next(found, None)

    def all_held(self, label: str, condition: str) -> bool:
        """Whether every block that stood was held and none broke."""
        group = self.group(label, condition)
        return group is not None and 0 < group.held == group.readings - group.fell_apart

    def some_broke(self, label: str, condition: str) -> bool:
        """Whether a block broke under the press."""
        group = self.group(label, condition)
        return group is not None and group.readings - group.fell_apart > group.held

    def tally(self, label: str, condition: str) -> Tally | None:
        """Return what was counted of a recipe in a condition."""
        return next((one for one in self.tallies if (one.recipe, one.condition) == (label, condition)), None)

    def highest_held_mpa(self, labels: Sequence[str], condition: str) -> float | None:
        """Return the highest stress that any block of these recipes was held to."""
        held = [one.highest_held_mpa for one in self.tallies if one.recipe in labels and one.condition == condition]
        return max((stress for stress in held if stress is not None), default=None)

    def lowest_broken_mpa(self, label: str, condition: str) -> float | None:
        """Return the lowest stress at which a block of a recipe broke."""
        broke = (one.lowest_mpa for one in self.tallies if one.recipe == label and one.condition == condition)
        return next(broke, None)

    def pairs(self, one: str, other: str) -> list[PairAnswer]:
        """Return the comparisons of two recipes, soaked and old ones first: they are nearest to the wall's life."""
        found = [pair for pair in self.strength.pairs if {pair.a, pair.b} == {one, other}]
        known = {condition.name: condition for condition in self.conditions}
        return sorted(found, key=lambda pair: _rank(known.get(pair.condition)))

    def said(self, condition: str) -> Phrase:
        """Return a condition as part of a sentence; its age only where the job has several."""
        found = next((one for one in self.conditions if one.name == condition), None)
        if found is None:
            return Phrase(condition)
        return found.state_phrase() if self.one_age is not None else found.phrase()

    @property
    def one_age(self) -> float | None:
        """The age of all blocks in days, if the job has one only."""
        ages = {condition.age_days for condition in self.conditions}
        return ages.pop() if len(ages) == 1 else None


def _rank(condition: Condition | None) -> tuple[bool, float]:
    if condition is None:
        return (True, 0.0)
    return (condition.state != "soaked", -(condition.age_days or 0.0))


def one_of(names: Sequence[str]) -> str | Phrase:
    """Return names after "without": "sand or cement".

    Parameters
    ----------
    names : Sequence[str]
        At least one.

    Returns
    -------
    str | Phrase
        The name alone, or all of them.

    Source
    ------
    own-words

    Examples
    --------
    >>> one_of(("sand",))
    'sand'
    >>> one_of(("sand", "cement")).english
    '{one} or {two}'
    """
    named: str | Phrase = names[0]
    for name in names[1:]:
        named = Phrase("{one} or {two}", {"one": named, "two": name})
    return named


def _listed(parts: tuple[str | Phrase, ...]) -> Phrase:
    return Phrase("{all}", {"all": parts})
