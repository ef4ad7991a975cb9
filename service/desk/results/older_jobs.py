"""The imported jobs of a customer: what their readings came to, recipe by recipe, beside the pits that came since."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, look
from service.desk.results._imported import imported_facts
from service.desk.results.result_facts import ReadingFacts
from service.errors import NotFound
from service.records import customers as customer_records
from service.records import imports

# More than these nobody compares; the newest come first.
SHOWN = 20


@dataclass(frozen=True)
class OlderGroup:
    """The blocks of one recipe in one state: how many, how they ended, and the stresses of those that broke."""

    recipe: str
    condition: str
    blocks: int
    held: int
    fell_apart: int
    broke: int
    mean_mpa: float | None
    lowest_mpa: float | None
    step_mpa: float


@dataclass(frozen=True)
class OlderJob:
    """An imported job, by the name that it has in its file."""

    name: str
    site: str | None
    file: str
    groups: tuple[OlderGroup, ...]


@dataclass(frozen=True)
class OlderJobs:
    """The newest imported jobs of a customer out of all."""

    jobs: list[OlderJob]
    total: int


@look("import.of_customer", by=STAFF)
def of_customer(session: Session, caller: Caller, *, customer_id: UUID) -> OlderJobs:
    """Return what the imported readings of a customer came to; files that do not count are left out."""
    if customer_records.customer(session, customer_id) is None:
        raise NotFound("There is no such customer.")
    job_ids, total = imports.jobs_of_customer(session, customer_id, most=SHOWN)
    found = imported_facts(session, job_ids=job_ids) if job_ids else []
    jobs = [OlderJob(one.job.name, one.job.site, one.file.name, _groups(facts)) for one, facts in found]
    return OlderJobs(jobs, total)


def _groups(facts: Sequence[ReadingFacts]) -> tuple[OlderGroup, ...]:
    alike: dict[tuple[str, str], list[ReadingFacts]] = {}
    for one in facts:
        if one.fate == "counted":
            alike.setdefault((one.recipe, one.condition), []).append(one)
    return tuple(_group(recipe, condition, mine) for (recipe, condition), mine in alike.items())


def _group(recipe: str, condition: str, mine: Sequence[ReadingFacts]) -> OlderGroup:
    ended = [one.crushed.outcome for one in mine if one.crushed]
    told = [one.crushed.stress for one in mine if one.crushed and one.crushed.outcome == "broke"]
    stresses = [one.stress_mpa for one in told if one]
    return OlderGroup(
        recipe=recipe,
        condition=condition,
        blocks=len(mine),
        held=ended.count("held"),
        fell_apart=ended.count("fell apart"),
        broke=ended.count("broke"),
        mean_mpa=fmean(stresses) if stresses else None,
        lowest_mpa=min(stresses, default=None),
        step_mpa=max((one.graduation_mpa for one in told if one), default=0.0),
    )
