"""Tests of a soil beyond sieve and cup: the hydrometer, the settling jar, and how heavily it lies."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, Done, act
from service.desk.intake._checks import columns_of, require_sides
from service.desk.intake._storing import About, begin, end, few_enough
from service.errors import Invalid
from service.records.base import Raw
from service.records.soil_tests import BulkTest, HydrometerReading, HydrometerTest, JarReading
from service.trade.soil.hydrometer import Blank, Reading, Settled, settling
from service.trade.soil.settling_jar import layers_in_jar
from service.typed import Typed

ML_PER_L = 1000.0
# A litre of what blocks are made of weighs more than foam and less than solid rock.
LEAST_KG_L, MOST_KG_L = 0.2, 3.0


@dataclass(frozen=True)
class ReadingGiven:
    """One reading of the hydrometer; without minutes it was read with no soil in the water."""

    reading: Typed
    temperature_c: Typed
    after_min: Typed | None = None


@dataclass(frozen=True)
class SuspensionGiven:
    """The specimen, the size below which it was taken, and what was put into the water."""

    dry_mass_g: Typed
    specific_gravity: Typed
    separation_mm: Typed
    dispersant: str
    meniscus: Typed | None = None
    volume_l: Typed | None = None


@act("test.hydrometer", by=STAFF)
def record_hydrometer(
    session: Session,
    caller: Caller,
    *,
    material_id: UUID,
    suspension: SuspensionGiven,
    blanks: Sequence[ReadingGiven],
    readings: Sequence[ReadingGiven],
    about: About = About(),
) -> Done:
    """Save readings of a hydrometer with those of the same water without soil."""
    few_enough([*blanks, *readings], "readings")
    if not suspension.dispersant.strip():
        raise Invalid("Name the dispersant.", {"dispersant": "The salt and how much of it."})
    head = {
        "dry_mass_g": suspension.dry_mass_g,
        "specific_gravity": suspension.specific_gravity,
        "separation_mm": suspension.separation_mm,
        "meniscus": suspension.meniscus,
        "volume_l": suspension.volume_l,
    }
    require_sides(head, positive=["dry_mass_g", "separation_mm", "volume_l"], not_negative=["meniscus"])
    settled = _settled(suspension, blanks, readings)
    test = begin(session, caller, material_id, "hydrometer", about)
    rows: list[Raw] = [HydrometerTest(test_id=test.id, dispersant=suspension.dispersant.strip(), **columns_of(head))]
    rows += [
        HydrometerReading(test_id=test.id, position=position, **columns_of(vars(one)))
        for position, one in enumerate([*blanks, *readings], start=1)
    ]
    return end(session, test, rows, about, {"sizes_mm": [one.size_mm for one in settled]})


def _settled(
    given: SuspensionGiven, blanks: Sequence[ReadingGiven], readings: Sequence[ReadingGiven]
) -> Sequence[Settled]:
    try:
        return settling(
            [_reading(one) for one in readings],
            blanks=[Blank(one.reading.value, one.temperature_c.value) for one in blanks],
            dry_mass_g=given.dry_mass_g.value,
            specific_gravity=given.specific_gravity.value,
            meniscus=given.meniscus.value if given.meniscus else 0.0,
            volume_ml=ML_PER_L * given.volume_l.value if given.volume_l else ML_PER_L,
        )
    except Invalid as fault:
        told = {name.replace(".minutes", ".after_min"): text for name, text in fault.fields.items()}
        raise Invalid(fault.sentence, told) from fault


def _reading(one: ReadingGiven) -> Reading:
    return Reading(one.after_min.value if one.after_min else 0.0, one.reading.value, one.temperature_c.value)


@act("test.jar", by=STAFF)
def record_jar(
    session: Session,
    caller: Caller,
    *,
    material_id: UUID,
    sand_mm: Typed,
    silt_mm: Typed,
    clay_mm: Typed,
    gravel_mm: Typed | None = None,
    about: About = About(),
) -> Done:
    """Keep how thick the layers in a settling jar were; rough, and nothing rests on it."""
    layers: Mapping[str, Typed | None] = {
        "gravel_mm": gravel_mm,
        "sand_mm": sand_mm,
        "silt_mm": silt_mm,
        "clay_mm": clay_mm,
    }
    found = layers_in_jar(**{name: typed.value for name, typed in layers.items() if typed is not None})
    test = begin(session, caller, material_id, "jar", about)
    rows: list[Raw] = [JarReading(test_id=test.id, **columns_of(layers))]
    return end(session, test, rows, about, {"clay_share": found.clay_share})


@act("test.bulk", by=STAFF)
def record_bulk(
    session: Session,
    caller: Caller,
    *,
    material_id: UUID,
    filled_kg: Typed,
    volume_l: Typed,
    damp: bool,
    vessel_kg: Typed | None = None,
    about: About = About(),
) -> Done:
    """Keep the mass of a vessel filled loosely, damp as it lies or dry."""
    vessel = {"filled_kg": filled_kg, "vessel_kg": vessel_kg, "volume_l": volume_l}
    require_sides(vessel, positive=["filled_kg", "volume_l"], not_negative=["vessel_kg"])
    kg_l = (filled_kg.value - (vessel_kg.value if vessel_kg else 0.0)) / volume_l.value
    if kg_l <= 0:
        raise Invalid("A filled vessel weighs more than an empty one.", {"filled_kg": "Above the empty vessel."})
    if not LEAST_KG_L <= kg_l <= MOST_KG_L:
        sentence = "No soil of this mass fills this vessel. Check both units."
        raise Invalid(sentence, {"volume_l": sentence})
    test = begin(session, caller, material_id, "bulk", about)
    rows: list[Raw] = [BulkTest(test_id=test.id, damp=damp, **columns_of(vessel))]
    return end(session, test, rows, about, {"kg_l": kg_l, "damp": damp})
