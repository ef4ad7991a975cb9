"""What a recipe must hold before it is kept; every fault is told at its own field."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import product
from string import ascii_uppercase
from uuid import UUID

from service.errors import Invalid
from service.records.materials import Material
from service.records.recipes import CONDITIONS, MOISTURE_BASES, TESTS
from service.trade.mix.batch import Stabiliser, shares_on_both_bases
from service.typed import Typed

STABILISERS = frozenset({"cement", "lime", "other"})
COMPONENTS = frozenset({"soil", "sand", "other"})
MOST_BATCHES = 12
MOST_BLOCKS = 60
# A third typed as 33.3 %, three times, is a whole; a forgotten tenth is not.
SUM_WITHIN = 1e-9


@dataclass(frozen=True)
class ComponentGiven:
    """A soil or sand, with its share of the dry soil."""

    material_id: UUID
    share: Typed


@dataclass(frozen=True)
class StabiliserGiven:
    """A stabiliser, its share, and of what."""

    material_id: UUID
    share: Typed
    basis: str = "dry soil"


@dataclass(frozen=True)
class GroupGiven:
    """So many blocks of all batches together, crushed in one state at one age, or for another test."""

    condition: str
    age_days: Typed
    blocks: int
    tolerance_hours: Typed
    soak_hours: Typed | None = None
    soak_hours_max: Typed | None = None
    # The kind of the test that the blocks are set aside for; None: they are crushed.
    test: str | None = None


@dataclass(frozen=True)
class RecipeGiven:
    """A recipe as somebody asks for it."""

    components: tuple[ComponentGiven, ...]
    stabilisers: tuple[StabiliserGiven, ...]
    groups: tuple[GroupGiven, ...]
    target_moisture: Typed
    mould_id: UUID
    moisture_basis: str = "dry mix"
    batches: int = 1
    press_stress_mpa: Typed | None = None
    press_stroke_mm: Typed | None = None
    mix_on: date | None = None
    label: str | None = None


def next_label(taken: set[str]) -> str:
    """Return the first letter, or pair of letters, that no recipe of the job has."""
    letters = tuple(ascii_uppercase)
    pairs = tuple(first + second for first, second in product(letters, repeat=2))
    return next(label for label in letters + pairs if label not in taken)


def check(asked: RecipeGiven, materials: Mapping[UUID, Material]) -> None:
    """Refuse a recipe that cannot be mixed, naming every field at fault."""
    faults = {
        **_whole_faults(asked),
        **_material_faults("components", asked.components, materials, COMPONENTS),
        **_material_faults("stabilisers", asked.stabilisers, materials, STABILISERS),
        **_twice(asked),
        **_sum_faults(asked.components),
        **_dose_faults(asked.stabilisers),
        **_group_faults(asked.groups, asked.batches),
    }
    if faults:
        only = next(iter(faults.values()))
        raise Invalid(only if len(faults) == 1 else "Check the marked fields.", faults)


def _whole_faults(asked: RecipeGiven) -> dict[str, str]:
    faults = {}
    if not 0 < asked.target_moisture.value < 1:
        faults["target_moisture"] = "Between 0 and 100 %."
    if asked.moisture_basis not in MOISTURE_BASES:
        faults["moisture_basis"] = "Choose one from the list."
    if not 1 <= asked.batches <= MOST_BATCHES:
        faults["batches"] = f"From 1 to {MOST_BATCHES}."
    if asked.press_stress_mpa is None and asked.press_stroke_mm is None:
        faults["press_stress_mpa"] = "Say how hard it is pressed, or give the stroke."
    for name in ("press_stress_mpa", "press_stroke_mm"):
        given = getattr(asked, name)
        if given is not None and not given.value > 0:
            faults[name] = "This must be above 0."
    return faults


def _material_faults(
    what: str,
    parts: Sequence[ComponentGiven | StabiliserGiven],
    materials: Mapping[UUID, Material],
    kinds: frozenset[str],
) -> dict[str, str]:
    faults = {}
    for index, part in enumerate(parts):
        material = materials.get(part.material_id)
        if material is None or material.ended_at is not None or material.kind not in kinds:
            faults[f"{what}.{index}.material_id"] = "Choose one from the list."
        if not 0 < part.share.value <= 1:
            faults[f"{what}.{index}.share"] = "Above 0 and at most 100 %."
    return faults


def _twice(asked: RecipeGiven) -> dict[str, str]:
    numbered = [(f"components.{index}.material_id", part) for index, part in enumerate(asked.components)]
    numbered += [(f"stabilisers.{index}.material_id", part) for index, part in enumerate(asked.stabilisers)]  # type: ignore[misc]
    seen: set[UUID] = set()
    faults = {}
    for field, part in numbered:
        if part.material_id in seen:
            faults[field] = "This is in the recipe already."
        seen.add(part.material_id)
    return faults


def _sum_faults(components: Sequence[ComponentGiven]) -> dict[str, str]:
    if not components:
        return {"components.0.material_id": "Choose at least one soil."}
    total = sum(part.share.value for part in components)
    if abs(total - 1) <= SUM_WITHIN:
        return {}
    return {
        f"components.{len(components) - 1}.share": f"The shares must sum to 100 %; they sum to {100 * total:.6g} %."
    }


def _dose_faults(stabilisers: Sequence[StabiliserGiven]) -> dict[str, str]:
    faults = {
        f"stabilisers.{index}.basis": "Choose one from the list."
        for index, part in enumerate(stabilisers)
        if part.basis not in ("dry soil", "dry mix")
    }
    if faults or not stabilisers:
        return faults
    try:
        shares_on_both_bases([Stabiliser(str(i), part.share.value, part.basis) for i, part in enumerate(stabilisers)])  # type: ignore[arg-type]
    except Invalid as refusal:
        return {f"stabilisers.{len(stabilisers) - 1}.share": refusal.sentence}
    return {}


def _group_faults(groups: Sequence[GroupGiven], batches: int) -> dict[str, str]:
    if not groups:
        return {"groups.0.condition": "Say how at least one group of blocks is crushed."}
    faults: dict[str, str] = {}
    seen: set[str | tuple[str, float]] = set()
    for index, group in enumerate(groups):
        faults |= {f"groups.{index}.{name}": told for name, told in _one_group(group).items()}
        own = group.test or (group.condition, group.age_days.value)
        if own in seen:
            twice = (
                "There is a group for this test already."
                if group.test
                else "There is a group in this state at this age already."
            )
            faults[f"groups.{index}.age_days"] = twice
        seen.add(own)
    total = sum(group.blocks for group in groups)
    if total < batches:
        faults["batches"] = f"At most {total}: every batch gives a block."
    if total > MOST_BLOCKS:
        last = max((index for index, group in enumerate(groups) if group.test is None), default=0)
        faults[f"groups.{last}.blocks"] = f"At most {MOST_BLOCKS} blocks of one recipe; these are {total}."
    return faults


def _one_group(group: GroupGiven) -> dict[str, str]:
    faults = {}
    if group.condition not in CONDITIONS:
        faults["condition"] = "Choose one from the list."
    if not group.age_days.value > 0:
        faults["age_days"] = "This must be above 0."
    elif not 0 <= group.tolerance_hours.value < 24 * group.age_days.value:
        faults["tolerance_hours"] = "From 0 to less than the age itself."
    if group.test is not None and group.test not in TESTS:
        faults["test"] = "Choose one from the list."
    if group.test is not None and group.condition == "soaked":
        faults["condition"] = "A test has its own water: these blocks are not soaked before it."
    if group.blocks < 1:
        faults["blocks"] = "At least one block."
    return _soak_faults(group) | faults


def _soak_faults(group: GroupGiven) -> dict[str, str]:
    least, most = group.soak_hours, group.soak_hours_max
    if group.condition != "soaked":
        given = {"soak_hours": least, "soak_hours_max": most}
        return {name: "Only soaked blocks are in the water." for name, typed in given.items() if typed is not None}
    if least is None or not least.value > 0:
        return {"soak_hours": "Say how long it is in the water."}
    if most is not None and most.value < least.value:
        return {"soak_hours_max": "At least as long as the shortest."}
    if least.value >= 24 * group.age_days.value > 0:
        return {"soak_hours": "Less than the age of the block."}
    return {}
