"""Whether recipes survive in the water: counted, and the chance that the next block does."""

from collections.abc import Sequence
from functools import lru_cache

from service.desk.results._readings import ReadBlock
from service.desk.results._series import Series
from service.desk.results.result_facts import SurvivalFacts
from service.trade.strength.standing_in_water import Soaked, Stands, standing


def survival(
    labels: Sequence[str], blocks: Sequence[ReadBlock], by_dose: Sequence[Series]
) -> tuple[SurvivalFacts, ...]:
    """Return what survived, series by series; a recipe of no series speaks for itself alone."""
    in_water = [one for one in blocks if one.reading and one.facts.soaked]
    alone = [{label: 0.0} for label in labels if not any(label in series.labels for series in by_dose)]
    found: dict[tuple[str, str], SurvivalFacts] = {}
    for shares in [*(dict(series.shares) for series in by_dose), *alone]:
        for condition in dict.fromkeys(one.facts.condition for one in in_water if one.facts.recipe in shares):
            mine = [one for one in in_water if one.facts.condition == condition]
            counts = {label: [one.reading.outcome for one in mine if one.reading and one.facts.recipe == label]
                      for label in shares}  # fmt: skip
            rows = {
                label: Soaked(shares[label], len(outcomes) - outcomes.count("fell apart"), outcomes.count("fell apart"))
                for label, outcomes in counts.items()
                if outcomes
            }
            for (label, row), stands in zip(rows.items(), _standing(tuple(rows.values())), strict=True):
                blocks_in_all = row.stood + row.fell
                facts = SurvivalFacts(label, condition, row.stood, blocks_in_all, stands.chance, stands.at_least)
                found.setdefault((label, condition), facts)
    return tuple(found.values())


@lru_cache(maxsize=256)
def _standing(rows: tuple[Soaked, ...]) -> tuple[Stands, ...]:
    return standing(rows)
