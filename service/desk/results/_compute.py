"""One job's result worked out afresh from its records: nothing of it is stored, so nothing of it can be stale."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import Caller, Language
from service.desk.results import _block_tests, _costs, _criteria, _engine, _recipes, _robustness, _words
from service.desk.results._compositions import compositions_of
from service.desk.results._least import SeriesAnswer, answered
from service.desk.results._readings import ReadBlock, beside_each_other, read_blocks
from service.desk.results._scales import Scale, Scales, scales_in_words
from service.desk.results._series import Series, rows_of, sand_series_of, series_of, water_series_of
from service.desk.results._survival import survival
from service.desk.results.recipe_facts import MixFacts, RecipeFacts
from service.desk.results.result_facts import GroupFacts, JobFacts, ModelFacts, ReadingFacts, Result
from service.measured.crushed import condition_of
from service.phrase import Phrase
from service.records import presses, recipes, result_queries
from service.records.recipes import WholeRecipe
from service.records.shop import Prior as AdoptedPrior
from service.shop_clock import ShopClock
from service.trade.block.test_conditions import Condition
from service.trade.sentences.durability import missed, unsaid
from service.trade.strength.estimate_result import Group, Limit, Settings, StrengthAnswer
from service.trade.strength.measured_pairs import as_measured


@dataclass(frozen=True)
class Evidence:
    """All that was asked of the records for one result."""

    setting: result_queries.Setting
    whole: list[WholeRecipe]
    tried: list[result_queries.TriedBlock]
    materials: _recipes.Materials
    criteria: tuple[_criteria.Chosen, ...]
    blocks: list[ReadBlock]
    tests: tuple[_block_tests.TestedBlock, ...]
    mixes: Mapping[UUID, list[MixFacts]]
    moistures: Mapping[UUID, float]


@dataclass(frozen=True)
class Asked:
    """What the engine was asked of a job, and what it said or why it declined."""

    found: Evidence
    conditions: tuple[Condition, ...]
    recipes: tuple[RecipeFacts, ...]
    groups: tuple[Group, ...]
    limits: tuple[Limit, ...]
    costs: Mapping[str, Decimal]
    settings: Settings
    said: StrengthAnswer
    refusal: str | None


def asked_of(session: Session, caller: Caller, job_id: UUID) -> Asked:
    """Return what the records of a job have the engine asked, and its answer."""
    found = _gather(session, caller, job_id)
    conditions = tuple(dict.fromkeys(condition_of(one.group) for one in found.tried if one.group.test is None))
    settings = _engine.settings_of(
        found.setting.prior, found.blocks, assurance=caller.shop.assurance, margin=caller.shop.margin
    )
    recipe_facts = _costs.against_native([_one_recipe(one, found) for one in _shown(found)])
    limits = _criteria.limits(found.criteria, conditions)
    tried = {block.facts.recipe for block in found.blocks if block.reading is not None}
    costs, groups = _costs_known(recipe_facts), _engine.groups_of(found.blocks, compositions_of(recipe_facts, tried))
    said, refusal = _engine.asked(groups, limits, costs, settings)
    return Asked(found, conditions, recipe_facts, groups, limits, costs, settings, said, refusal)


def work_out(session: Session, caller: Caller, job_id: UUID) -> Result:
    """Return the result of a job as its records stand now, in nine statements."""
    asked = asked_of(session, caller, job_id)
    found, conditions, recipe_facts = asked.found, asked.conditions, asked.recipes
    limits, settings, said = asked.limits, asked.settings, asked.said
    readings = _engine.with_strays(found.blocks, settings)
    groups = _group_facts(said, readings)
    unmeasured = {(one.said.recipe, one.said.condition) for one in groups if not one.middle_measured}
    said = replace(said, pairs=as_measured(said.pairs, unmeasured))
    demands = _block_tests.demanded(found.criteria, found.tests, [one.label for one in recipe_facts])
    judged = _block_tests.judged(demands)
    words = _words.words_of(
        question=found.setting.job.question_kind,  # type: ignore[arg-type]
        recipe_facts=recipe_facts,
        conditions=conditions,
        limits=limits,
        said=said,
        readings=readings,
        settings=settings,
        calibrated=all(one.scale is None or one.scale.calibrated is not None for one in found.blocks if one.reading),
    )
    least = _least_of(asked) if found.setting.job.question_kind == "least stabiliser" else ()
    return Result(
        shop=caller.shop.name,
        job=_job_facts(found, caller.shop.language),
        recipes=tuple(_with_wall(one, found, groups) for one in recipe_facts),
        conditions=conditions,
        readings=readings,
        calibrations=scales_in_words(_lines_used(found)),
        criteria=_criteria.with_values(found.criteria, asked.groups, conditions),
        asked=_criteria.asked(found.criteria, conditions),
        endured=tuple(one.facts for one in found.tests),
        endured_by=_block_tests.summaries(found.tests),
        demands=demands,
        scatter=said.scatter,
        groups=groups,
        strays=_robustness.strays(found.blocks, readings, said, asked.groups, limits, asked.costs, settings),
        outliers=_robustness.outliers(found.blocks),
        kept=_robustness.kept(groups, asked.groups, settings),
        survival=survival([one.label for one in recipe_facts], found.blocks, series_of(recipe_facts)),
        limits=said.limits,
        pairs=said.pairs,
        order=said.order,
        recommended=words.recommended,
        answer=(*(words.sentences if asked.refusal is None else (Phrase(asked.refusal),)), *least, *missed(judged)),
        not_known=(
            *_words.doubts(found.blocks),
            *_words.unexpected(asked.groups, settings),
            *_robustness.sitting_alone(found.tried, found.blocks, clock=caller.clock),
            *words.not_known,
            *unsaid(judged),
        ),
        model=_model(settings, found.setting.prior, caller.clock),
    )


def series_answers(asked: Asked) -> tuple[SeriesAnswer, ...]:
    """Return what the shares between the recipes of a job say: of a stabiliser, then of added sand, then of water."""
    every = (*series_of(asked.recipes), *sand_series_of(asked.recipes), *water_series_of(asked.recipes))
    return _answers(asked, every)


def _answers(asked: Asked, every: Sequence[Series]) -> tuple[SeriesAnswer, ...]:
    return tuple(
        answered(
            series,
            rows_of(series, asked.found.blocks),
            asked.groups,
            asked.limits,
            asked.settings,
            asked.said.order,
            asked.costs,
        )
        for series in every
    )


def _least_of(asked: Asked) -> tuple[Phrase, ...]:
    """Return the sentences on an untested share between two recipes, where there is one worth pressing."""
    found = _answers(asked, series_of(asked.recipes))
    return tuple(phrase for one in found if one.untested for phrase in one.sentences)


def _gather(session: Session, caller: Caller, job_id: UUID) -> Evidence:
    setting = result_queries.setting(session, job_id)
    whole = recipes.recipes_of_job(session, job_id)
    tried = result_queries.tried_blocks(session, job_id)
    clock = caller.clock
    used = {part.material_id for one in whole for part in one.parts}
    materials = result_queries.materials_priced(session, used, on=clock.today)
    gauges = {one.standing.gauge.id for one in tried if one.standing and one.standing.gauge}
    gauges |= {one.bent.gauge.id for one in tried if one.bent and one.bent.gauge}
    scales = Scales(presses.calibrations_of(session, gauges), clock=clock)
    mixes, moistures = _recipes.mixed(whole, tried, result_queries.batches_with_parts(session, [job_id]), materials)
    labels = {one.recipe.id: one.recipe.label for one in whole}
    criteria = _criteria.chosen(result_queries.criteria_checked(session, job_id), clock)
    tables = _criteria.tables(criteria)
    return Evidence(
        setting=setting,
        whole=whole,
        tried=tried,
        materials=materials,
        criteria=criteria,
        blocks=beside_each_other(read_blocks(tried, scales, labels=labels, moistures=moistures, tables=tables)),
        tests=_block_tests.tested_blocks(tried, scales, labels=labels),
        mixes=mixes,
        moistures=moistures,
    )


def read_of(session: Session, caller: Caller, job_id: UUID) -> list[ReadBlock]:
    """Return every block of a job with what it comes to, without asking the engine."""
    return _gather(session, caller, job_id).blocks


def _lines_used(found: Evidence) -> Iterator[tuple[Scale | None, bool]]:
    """Yield the line of every stress and of every bending, and whether its calibration had run out."""
    for block in found.blocks:
        stress = block.facts.crushed.stress if block.facts.crushed else None
        if stress is not None:
            yield block.scale, stress.after_end
    for test in found.tests:
        yield test.scale, test.facts.after_end


def _group_facts(said: StrengthAnswer, readings: Sequence[ReadingFacts]) -> tuple[GroupFacts, ...]:
    facts = []
    for group in said.groups:
        mine = [one for one in readings if (one.recipe, one.condition) == (group.recipe, group.condition)]
        fates = [one.fate for one in mine]
        facts.append(
            GroupFacts(
                said=group,
                soaked=mine[0].soaked,
                highest_held_mpa=max(_held(mine), default=None),
                spoiled=fates.count("spoiled"),
                lost=fates.count("lost"),
                left_out=fates.count("left out"),
                waiting=fates.count("waiting"),
            )
        )
    return tuple(facts)


def _held(readings: Sequence[ReadingFacts]) -> list[float]:
    crushed = [one.crushed for one in readings if one.fate == "counted" and one.crushed]
    return [one.stress.stress_mpa for one in crushed if one.outcome == "held" and one.stress]


def _costs_known(recipes_shown: Sequence[RecipeFacts]) -> dict[str, Decimal]:
    known = ((one.label, one.cost.cost_per_block) for one in recipes_shown if one.cost)
    return {label: cost for label, cost in known if cost is not None}


def _shown(found: Evidence) -> list[WholeRecipe]:
    """Return the recipes of which blocks were pressed, and those still in force."""
    replaced = {one.recipe.replaces_id for one in found.whole}
    pressed = {one.batch.recipe_id for one in found.tried}
    return [
        one
        for one in found.whole
        if one.recipe.id in pressed or (one.recipe.dropped_at is None and one.recipe.id not in replaced)
    ]


def _one_recipe(whole: WholeRecipe, found: Evidence) -> RecipeFacts:
    recipe = whole.recipe
    mine = [block.facts for block in found.blocks if block.facts.recipe == recipe.label]
    fates = [one.fate for one in mine]
    density = _recipes.density_of(mine)
    parts = _recipes.part_facts(whole, found.materials)
    return RecipeFacts(
        id=recipe.id,
        label=recipe.label,
        name=_recipes.tried_recipe(recipe.label, parts).phrase(),
        parts=parts,
        target_moisture=recipe.target_moisture,
        moisture_basis=recipe.moisture_basis,
        press_stress_mpa=recipe.press_stress_mpa,
        press_stroke_mm=recipe.press_stroke_mm,
        mixes=tuple(found.mixes.get(recipe.id, ())),
        pressed=len(mine),
        lost=fates.count("lost"),
        spoiled=fates.count("spoiled"),
        left_out=fates.count("left out"),
        dry_density_kg_m3=density,
        cost=_costs.cost_facts(
            whole,
            found.materials,
            found.setting.job,
            tried=found.tried,
            moistures=found.moistures,
            dry_density_kg_m3=density,
        ),
        wall=None,
        dropped_because=recipe.dropped_because,
    )


def _with_wall(recipe: RecipeFacts, found: Evidence, groups: Sequence[GroupFacts]) -> RecipeFacts:
    mine = [one for one in groups if one.said.recipe == recipe.label]
    wall = _recipes.wall_facts(found.setting.job, dry_density_kg_m3=recipe.dry_density_kg_m3, groups=mine)
    return replace(recipe, wall=wall)


def _job_facts(found: Evidence, language: Language) -> JobFacts:
    job, customer = found.setting.job, found.setting.customer
    return JobFacts(
        id=job.id,
        number=job.number,
        customer=customer.name,
        site=job.site,
        question=job.question,
        question_kind=job.question_kind,
        wall_thickness_mm=job.wall_thickness_mm,
        wall_height_m=job.wall_height_m,
        roof_line_load_kn_m=job.roof_line_load_kn_m,
        machine_pressure_mpa=job.machine_pressure_mpa,
        machine_length_mm=job.machine_length_mm,
        machine_width_mm=job.machine_width_mm,
        machine_height_mm=job.machine_height_mm,
        machine_density_kg_m3=job.machine_density_kg_m3,
        language=customer.language or language,  # type: ignore[arg-type]
    )


def _model(settings: Settings, adopted: AdoptedPrior | None, clock: ShopClock) -> ModelFacts:
    return ModelFacts(
        engine=_engine.ENGINE,
        median_mpa=settings.prior.median_mpa,
        log_sd=settings.prior.log_sd,
        scatter=settings.prior.scatter,
        scatter_log_sd=settings.prior.scatter_log_sd,
        spread=settings.prior.spread,
        spread_log_sd=settings.prior.spread_log_sd,
        batch_sd=settings.batch_sd,
        rests_on=adopted.rests_on if adopted else None,
        adopted_on=clock.day(adopted.adopted_at) if adopted else None,
        scale_uncertainty=settings.scale_uncertainty,
        assurance=settings.assurance,
        margin=settings.margin,
    )
