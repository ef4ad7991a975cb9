"""How little stabiliser will do: strength along the share as a picture, and the untested share worth pressing."""

from dataclasses import dataclass
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, look
from service.desk.results import _compute
from service.desk.results._compute import Asked
from service.desk.results._least import SeriesAnswer
from service.desk.results._series import Varied
from service.desk.results._survival import survival
from service.desk.results.result_facts import SurvivalFacts
from service.phrase import Phrase
from service.trade.strength.censored_readings import Outcome
from service.trade.strength.stabiliser_content import ContentAt


@dataclass(frozen=True)
class BlockAt:
    """One block in the picture."""

    share: float
    outcome: Outcome
    stress_mpa: float


@dataclass(frozen=True)
class Along:
    """Strength along the share in one condition, the blocks it rests on, and the limits there, by name."""

    condition: str
    soaked: bool
    at: tuple[ContentAt, ...]
    blocks: tuple[BlockAt, ...]
    limits: tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class SeriesView:
    """What was varied in which soil: sentences, pictures, and what one tap plans: a recipe, with which share or soils.

    ``take`` are the soils and sands of the recipe to plan, with their shares, where those are what differs.
    """

    varied: Varied
    soil: tuple[str, ...]
    material: str
    recipes: tuple[tuple[str, float], ...]
    sentences: tuple[Phrase, ...]
    pictures: tuple[Along, ...]
    untested_share: float | None
    planned_share: float | None
    like_recipe_id: UUID | None
    take: tuple[tuple[UUID, float], ...]


@dataclass(frozen=True)
class LeastView:
    """Every series of a job, and whether its recipes stand in the water."""

    series: tuple[SeriesView, ...]
    survival: tuple[SurvivalFacts, ...]


@look("result.least_share", by=STAFF)
def least_share(session: Session, caller: Caller, *, job_id: UUID) -> LeastView:
    """Return what recipes that differ in one stabiliser's share say of the shares between, and which stand in water."""
    asked = _compute.asked_of(session, caller, job_id)
    answers = _compute.series_answers(asked)
    by_dose = [one.series for one in answers if one.series.varied == "stabiliser"]
    survived = survival([one.label for one in asked.recipes], asked.found.blocks, by_dose)
    return LeastView(tuple(_view(one, asked) for one in answers), survived)


def _view(answer: SeriesAnswer, asked: Asked) -> SeriesView:
    series, said, untested, plan = answer.series, answer.said, answer.untested, answer.to_plan
    ids = {one.recipe.label: one.recipe.id for one in asked.found.whole}
    return SeriesView(
        varied=series.varied,
        soil=series.soil,
        material=series.material,
        recipes=series.shares,
        sentences=answer.sentences,
        pictures=_pictures(answer, asked) if said else (),
        untested_share=untested.share if untested else None,
        planned_share=plan.share if plan else None,
        like_recipe_id=ids.get(plan.richer) if plan else None,
        take=_take(asked, plan.richer, plan.share) if plan and series.varied == "sand" else (),
    )


def _take(asked: Asked, label: str, share: float) -> tuple[tuple[UUID, float], ...]:
    """Return the soils and sands of a recipe with another share of what was hauled in, the rest in proportion."""
    whole = next(one for one in asked.found.whole if one.recipe.label == label)
    parts = [part for part in whole.parts if part.role == "component"]
    added = {part.material_id: asked.found.materials[part.material_id][0].customer_id is None for part in parts}
    rest = sum(part.share for part in parts if not added[part.material_id])
    return tuple(
        (part.material_id, share if added[part.material_id] else (1 - share) * part.share / rest) for part in parts
    )


def _pictures(answer: SeriesAnswer, asked: Asked) -> tuple[Along, ...]:
    shares = dict(answer.series.shares)
    mine = [one for one in asked.found.blocks if one.reading and one.facts.recipe in shares]
    return tuple(
        Along(
            condition=condition,
            soaked=next(one.facts.soaked for one in mine if one.facts.condition == condition),
            at=tuple(one for one in (answer.said.at if answer.said else ()) if one.condition == condition),
            blocks=tuple(
                BlockAt(shares[one.facts.recipe], one.reading.outcome, one.reading.stress_mpa)
                for one in mine
                if one.reading and one.facts.condition == condition
            ),
            limits=tuple((one.name, one.limit_mpa) for one in answer.limits if one.condition == condition),
        )
        for condition in dict.fromkeys(one.facts.condition for one in mine)
    )
