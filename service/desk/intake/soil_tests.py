"""Tests of a soil: sieves, cup, threads, shrinkage box and signs, each kept and corrected as a whole."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, Done, act
from service.desk.intake._checks import columns_of, needs_reason, require_sides
from service.desk.intake._storing import About, begin, end, few_enough
from service.errors import Invalid, NotFound, of_its_address
from service.records import versions
from service.records.base import Raw
from service.records.soil_tests import (
    CupTest,
    FlowReading,
    ShrinkageTest,
    SieveReading,
    SieveTest,
    SoilSign,
    SoilTest,
    ThreadReading,
)
from service.trade.soil.grading import Sieve, sieve_curve
from service.trade.soil.moisture import moisture_of_can
from service.trade.soil.plasticity import FlowPoint, linear_shrinkage, liquid_limit
from service.typed import Typed

__all__ = [
    "About",
    "CupGiven",
    "SieveGiven",
    "ThreadGiven",
    "exclude_test",
    "record_flow",
    "record_shrinkage",
    "record_sieves",
    "record_sign",
    "record_threads",
]

GRAMS_PER_KG = 1000.0
# What a sign may be of, and the kind of test it is looked for with.
CUES = {"organic": "organics", "salts": "sulfates", "pollution": "pollution", "black cotton": "black cotton"}
KIND_OF_CUE = {"organic": "organic", "salts": "salts", "pollution": "salts", "black cotton": "organic"}


@dataclass(frozen=True)
class SieveGiven:
    """What one sieve kept, dry."""

    size_mm: Typed
    retained_g: Typed


@dataclass(frozen=True)
class CupGiven:
    """One closing of the groove: blows, and the can with the soil at the groove."""

    blows: int
    wet_g: Typed
    dry_g: Typed
    can_g: Typed | None = None


@dataclass(frozen=True)
class ThreadGiven:
    """One thread that crumbled: the can with its crumbs."""

    wet_g: Typed
    dry_g: Typed
    can_g: Typed | None = None


@act("test.sieves", by=STAFF)
def record_sieves(
    session: Session,
    caller: Caller,
    *,
    material_id: UUID,
    sieves: Sequence[SieveGiven],
    dry_mass_g: Typed,
    pan_g: Typed | None = None,
    washed_dry_mass_g: Typed | None = None,
    about: About = About(),
) -> Done:
    """Keep a sieving; the curve and the loss follow from it."""
    few_enough(sieves, "sieves")
    whole = {"dry_mass_g": dry_mass_g, "washed_dry_mass_g": washed_dry_mass_g, "pan_g": pan_g}
    require_sides(whole, positive=["dry_mass_g", "washed_dry_mass_g"])
    curve = sieve_curve(
        sieves=[Sieve(one.size_mm.value, one.retained_g.value) for one in sieves],
        pan_g=pan_g.value if pan_g is not None else 0.0,
        dry_mass_g=dry_mass_g.value,
        washed_dry_mass_g=washed_dry_mass_g.value if washed_dry_mass_g is not None else None,
    )
    test = begin(session, caller, material_id, "sieve", about)
    rows: list[Raw] = [SieveTest(test_id=test.id, **columns_of(whole))]
    rows += [SieveReading(test_id=test.id, **columns_of(vars(one))) for one in sieves]
    return end(session, test, rows, about, {"loss_share": curve.loss_share})


@act("test.flow", by=STAFF)
def record_flow(
    session: Session,
    caller: Caller,
    *,
    material_id: UUID,
    flow: Sequence[CupGiven],
    oven_dried: bool = False,
    about: About = About(),
) -> Done:
    """Save blow counts of the groove in the cup; the liquid limit, fresh or after the oven, follows from them."""
    few_enough(flow, "flow")
    waters = _waters(flow, "flow")
    limit = liquid_limit([FlowPoint(cup.blows, water) for cup, water in zip(flow, waters, strict=True)])
    test = begin(session, caller, material_id, "flow", about)
    rows: list[Raw] = [CupTest(test_id=test.id, oven_dried=oven_dried, as_read={})]
    rows += [
        FlowReading(test_id=test.id, position=position, blows=cup.blows, **_in_can(cup))
        for position, cup in enumerate(flow, start=1)
    ]
    return end(session, test, rows, about, {"liquid_limit": limit.liquid_limit, "oven_dried": oven_dried})


@act("test.threads", by=STAFF)
def record_threads(
    session: Session,
    caller: Caller,
    *,
    material_id: UUID,
    threads: Sequence[ThreadGiven],
    non_plastic: bool = False,
    about: About = About(),
) -> Done:
    """Save threads that crumbled, or that the soil gives none; the plastic limit follows from them."""
    few_enough(threads, "threads")
    if non_plastic and threads:
        raise Invalid(
            "This soil gives no thread, so leave the weights empty.", {"non_plastic": "Either this or threads."}
        )
    if not non_plastic and not threads:
        raise Invalid("At least one thread is needed.", {"threads": "Weigh a thread, or say that it gives none."})
    waters = _waters(threads, "threads")
    test = begin(session, caller, material_id, "thread", about, non_plastic=non_plastic)
    rows: list[Raw] = [
        ThreadReading(test_id=test.id, position=position, **_in_can(thread))
        for position, thread in enumerate(threads, start=1)
    ]
    return end(session, test, rows, about, {"non_plastic": non_plastic, "waters": waters})


@act("test.shrinkage", by=STAFF)
def record_shrinkage(
    session: Session,
    caller: Caller,
    *,
    material_id: UUID,
    box_length_mm: Typed,
    box_width_mm: Typed,
    box_depth_mm: Typed,
    shrinkage_mm: Typed,
    about: About = About(),
) -> Done:
    """Keep how much shorter the mud in the box dried."""
    box = {
        "box_length_mm": box_length_mm,
        "box_width_mm": box_width_mm,
        "box_depth_mm": box_depth_mm,
        "shrinkage_mm": shrinkage_mm,
    }
    require_sides(box, positive=["box_length_mm", "box_width_mm", "box_depth_mm"], not_negative=["shrinkage_mm"])
    share = linear_shrinkage(box_length_mm=box_length_mm.value, shrinkage_mm=shrinkage_mm.value)
    test = begin(session, caller, material_id, "shrinkage", about)
    rows: list[Raw] = [ShrinkageTest(test_id=test.id, **columns_of(box))]
    return end(session, test, rows, about, {"shrinkage": share})


@act("test.sign", by=STAFF)
def record_sign(
    session: Session,
    caller: Caller,
    *,
    material_id: UUID,
    kind: str,
    positive: bool,
    sign: str,
    about: About = About(),
) -> Done:
    """Save what was seen as a sign of organics, salts, pollution or black cotton, and whether it was there."""
    if kind not in CUES:
        raise Invalid("Choose a kind of sign from the list.", {"kind": "Choose one from the list."})
    if not sign.strip():
        raise Invalid("Say what was looked for.", {"sign": "Smell, dark water, a white crust, a strip or a kit."})
    test = begin(session, caller, material_id, KIND_OF_CUE[kind], about)
    rows: list[Raw] = [SoilSign(test_id=test.id, positive=positive, sign=sign, cue=CUES[kind], as_read={})]
    return end(session, test, rows, about, {"positive": positive})


@act("test.set_aside", by=STAFF)
def exclude_test(
    session: Session, caller: Caller, *, test_id: UUID, because: str, material_id: UUID | None = None
) -> Done:
    """Let a test no longer count, with a reason; it stays to be seen."""
    test = session.get(SoilTest, test_id)
    if test is None:
        raise NotFound("There is no such test.")
    of_its_address(test.material_id, material_id)
    reason = needs_reason(because)
    versions.end(session, test, at=caller.stores.clock(), by=caller.doer, because=reason)
    return Done("soil_test", test.id, {"because": reason})


def _in_can(row: CupGiven | ThreadGiven) -> dict[str, Any]:
    return columns_of({"wet_g": row.wet_g, "dry_g": row.dry_g, "can_g": row.can_g})


def _waters(rows: Sequence[CupGiven | ThreadGiven], group: str) -> list[float]:
    """Return water over dry soil in each can; soil soft enough to be worked is never dry."""
    waters = [_water(row, f"{group}.{place}") for place, row in enumerate(rows)]
    dry = [f"{group}.{place}.wet_g" for place, water in enumerate(waters) if water <= 0]
    if dry:
        raise Invalid("A thread has water: check the masses.", dict.fromkeys(dry, "Above the mass once dried."))
    return waters


def _water(row: CupGiven | ThreadGiven, under: str) -> float:
    """Return water over dry soil in a can weighed in grams, its faults placed at the fields of its row."""
    grams = {"wet": row.wet_g.value, "dry": row.dry_g.value, "can": row.can_g.value if row.can_g is not None else 0.0}
    try:
        return moisture_of_can(**{f"{what}_kg": mass / GRAMS_PER_KG for what, mass in grams.items()})
    except Invalid as fault:
        told = {f"{under}.{field.removesuffix('_kg')}_g": text for field, text in fault.fields.items()}
        raise Invalid(fault.sentence, told) from fault
