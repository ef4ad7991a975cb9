"""The round of a job at the mixer: its recipes with their batches, and where the work goes on."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from sqlmodel import Session

from service.records import batch_queries
from service.records import batches as records
from service.records import recipes as recipe_records
from service.records.recipes import WholeRecipe
from service.trade.block.random_order import blocks_of_batches


@dataclass(frozen=True)
class BatchStep:
    """A batch in the round of a job: how far it is."""

    id: UUID | None
    number: int
    planned: int
    pressed: int
    lost: int
    mixed_at: datetime | None
    weighed: bool


@dataclass(frozen=True)
class RecipeStep:
    """A recipe in the round of a job, with its batches, begun or not."""

    id: UUID
    label: str
    mix_on: date | None
    in_force: bool
    steps: list[BatchStep]

    @property
    def to_begin(self) -> bool:
        """Whether a batch of it is still to be begun."""
        return self.in_force and any(step.id is None for step in self.steps)


@dataclass(frozen=True)
class Round:
    """The recipes of a job at the mixer, and what is next."""

    job_id: UUID
    recipes: list[RecipeStep]
    next_path: str
    next_word: str


def job_round(session: Session, job_id: UUID) -> Round:
    """Return the recipes of a job with their batches and what is next."""
    planned = recipe_records.recipes_of_job(session, job_id)
    begun: dict[UUID, list[records.WholeBatch]] = {}
    for one in records.batches_of_job(session, job_id):
        begun.setdefault(one.batch.recipe_id, []).append(one)
    counts = batch_queries.pressed_counts(session, job_id)
    replaced = {one.recipe.replaces_id for one in planned}
    steps = [
        _recipe_step(one, begun.get(one.recipe.id, []), counts, replaced=one.recipe.id in replaced) for one in planned
    ]
    return Round(job_id, steps, *_next(job_id, steps))


def _recipe_step(
    whole: WholeRecipe, begun: Sequence[records.WholeBatch], counts: Sequence[tuple[UUID, bool]], *, replaced: bool
) -> RecipeStep:
    recipe = whole.recipe
    sizes = blocks_of_batches(blocks=sum(group.blocks for group in whole.groups), batches=recipe.batches)
    by_number = {one.batch.number: one for one in begun}
    steps = [_batch_step(number, size, by_number.get(number), counts) for number, size in enumerate(sizes, start=1)]
    return RecipeStep(recipe.id, recipe.label, recipe.mix_on, recipe.dropped_at is None and not replaced, steps)


def _batch_step(
    number: int, size: int, whole: records.WholeBatch | None, counts: Sequence[tuple[UUID, bool]]
) -> BatchStep:
    if whole is None:
        return BatchStep(None, number, size, 0, 0, None, weighed=False)
    batch = whole.batch
    mine = [lost for batch_id, lost in counts if batch_id == batch.id]
    return BatchStep(batch.id, number, size, len(mine), sum(mine), batch.mixed_at, weighed=batch.mixed_at is not None)


def _next(job_id: UUID, recipes: Sequence[RecipeStep]) -> tuple[str, str]:
    """Return where the next thing to do is, and in words what it is."""
    for recipe in recipes:
        for step in recipe.steps:
            if step.id is not None and not step.weighed:
                return f"/batches/{step.id}", f"Weigh out batch {step.number} of recipe {recipe.label}"
            if step.id is not None and step.pressed < step.planned:
                return f"/batches/{step.id}/press", f"Press batch {step.number} of recipe {recipe.label}"
    waiting = next((recipe for recipe in recipes if recipe.to_begin), None)
    if waiting is not None:
        number = next(step.number for step in waiting.steps if step.id is None)
        return f"/recipes/{waiting.id}/mix", f"Start batch {number} of recipe {waiting.label}"
    if recipes:
        return f"/jobs/{job_id}/curing", "Go to curing"
    return f"/jobs/{job_id}/plan/new", "Plan a recipe"
