"""Which share of sand would bring a soil into an envelope: proposed from the curves, decided by nobody."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, look
from service.desk.plan._checks import COMPONENTS
from service.errors import Invalid
from service.measured.curve import curve_of
from service.records import criteria as criteria_records
from service.records import jobs as job_records
from service.records import sack_stock
from service.records.materials import Material
from service.records.soil_tests import WholeTest, standing_tests
from service.trade.soil.blend import Soil, best_blend
from service.trade.soil.grading import Curve, Passing
from service.trade.soil.grading_envelopes import Envelope
from service.trade.soil.soil_limits import bands_with


@dataclass(frozen=True)
class Graded:
    """A soil or sand that has a curve."""

    id: UUID
    name: str
    curve: Curve


@dataclass(frozen=True)
class Share:
    """How much of one goes in, and between which shares the blend is as good."""

    material_id: UUID
    name: str
    share: float
    least: float
    most: float


@dataclass(frozen=True)
class Proposal:
    """The blend that is least outside the grading envelope."""

    shares: tuple[Share, ...]
    worst_excess: float
    feasible: bool
    passing: tuple[Passing, ...]


@dataclass(frozen=True)
class BlendSheet:
    """What can be blended, what was chosen, and the proposal; without one, why."""

    job_id: UUID
    materials: list[Graded]
    without_curve: list[str]
    chosen: list[Graded]
    envelopes: tuple[Envelope, ...]
    envelope: Envelope
    proposal: Proposal | None
    missing: str

    @property
    def taken(self) -> str:
        """Return the address of the recipe's form filled with the proposed shares, each to a tenth of a percent."""
        parts = self.proposal.shares if self.proposal else ()
        tenths = _whole_tenths([one.share for one in parts])
        asked = "&".join(
            f"take={one.material_id}:{tenth / 10:g}" for one, tenth in zip(parts, tenths, strict=True) if tenth
        )
        return f"/jobs/{self.job_id}/plan/new?{asked}"


def _whole_tenths(shares: Sequence[float]) -> list[int]:
    """Return shares in tenths of a percent that sum to the whole: what rounding leaves over goes to the largest."""
    tenths = [round(1000 * share) for share in shares]
    if tenths:
        tenths[tenths.index(max(tenths))] += 1000 - sum(tenths)
    return tenths


@look("plan.blend", by=STAFF)
def blend(
    session: Session, caller: Caller, *, job_id: UUID, chosen: Sequence[UUID] = (), envelope: str = ""
) -> BlendSheet:
    """Return the shares of the chosen soils and sands that fit an envelope best."""
    job = job_records.visible(session, job_id, seen_by=caller.seen_by)
    usable = [one for one in sack_stock.materials_of(session, customer_id=job.customer_id) if one.ended_at is None]
    # The customer's own soil first: of two blends that fit alike, the one with the most of it is taken.
    mine = sorted((one for one in usable if one.kind in COMPONENTS), key=lambda one: one.customer_id is None)
    curves = _curves(session, mine)
    offered = [Graded(one.id, one.name, curves[one.id]) for one in mine if one.id in curves]
    taken = [one for one in offered if one.id in chosen] if chosen else _first_two(offered, mine)
    own = {one.key: json.loads(one.values) for one in criteria_records.own_bands(session)}
    envelopes = bands_with(own).envelopes
    held_to = next((one for one in envelopes if one.key == envelope), None) or _reached(envelopes, taken)
    proposal, missing = _proposed(taken, held_to)
    without = [one.name for one in mine if one.id not in curves]
    return BlendSheet(job_id, offered, without, taken, envelopes, held_to, proposal, missing)


def _first_two(offered: Sequence[Graded], mine: Sequence[Material]) -> list[Graded]:
    kinds = {one.id: one.kind for one in mine}
    first = [one for one in offered if kinds[one.id] == "soil"][:1]
    sand = [one for one in offered if kinds[one.id] == "sand"][:1]
    return [*first, *sand] if first and sand else list(offered[:2])


def _reached(envelopes: Sequence[Envelope], taken: Sequence[Graded]) -> Envelope:
    """Return the newest envelope that every curve reaches, else the first."""
    reached = [
        one
        for one in envelopes
        if all(soil.curve.share_at(bound.size_mm) is not None for bound in one.bounds for soil in taken)
    ]
    return next((one for one in reversed(reached) if one.standing == "own"), (*reached, *envelopes)[0])


def _proposed(taken: Sequence[Graded], envelope: Envelope) -> tuple[Proposal | None, str]:
    if len(taken) < 2:
        return None, "Two soils or sands with a sieving are needed."
    try:
        found = best_blend(soils=[Soil(str(one.id), one.curve) for one in taken], envelope=envelope.bounds)
    except Invalid as fault:
        said = [text for name, text in fault.fields.items() if name.startswith("soils.")]
        return None, " ".join(dict.fromkeys(said)) or fault.sentence
    shares = tuple(Share(one.id, one.name, found.shares[str(one.id)], *found.range[str(one.id)]) for one in taken)
    return Proposal(shares, found.worst_excess, found.feasible, found.passing), ""


def _curves(session: Session, mine: Sequence[Material]) -> dict[UUID, Curve]:
    newest: dict[tuple[UUID, str], WholeTest] = {
        (one.test.material_id, one.test.kind): one for one in standing_tests(session, [one.id for one in mine])
    }
    found = {
        material_id: curve_of(whole, newest.get((material_id, "hydrometer")))
        for (material_id, kind), whole in newest.items()
        if kind == "sieve"
    }
    return {material_id: one.curve for material_id, one in found.items() if one is not None}
