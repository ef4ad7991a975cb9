"""From what was typed at the press to stress: which calibration counted, and whether a reading counts."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from service.desk.results._scales import Scale, Scales
from service.desk.results.shape import CrushedFacts, Earlier, Fate, ReadingFacts, ShapedFacts, StressFacts
from service.errors import Invalid
from service.records.crushings import Crushing
from service.records.recipes import RecipeGroup
from service.records.result_queries import TriedBlock, TriedCrushing
from service.trade.block.curing_steps import Meant, left_out_because
from service.trade.block.durability_tests import USED_UP
from service.trade.block.measurements import block_volume_m3, densities_against_others, density_kg_m3, dry_density_kg_m3
from service.trade.block.shape_factors import ShapeFactor, shape_factor
from service.trade.block.test_conditions import Condition
from service.trade.press.gauge_to_stress import Peak, peak_stress, zero_moved
from service.trade.strength import censored_readings


@dataclass(frozen=True)
class ReadBlock:
    """A block with what it comes to; ``reading`` is what the engine takes, None where nothing counts."""

    facts: ReadingFacts
    reading: censored_readings.Reading | None
    scale: Scale | None
    scale_uncertainty: float | None

    @property
    def factors(self) -> dict[ShapeFactor, float | None]:
        """What each table of shape factors that was looked up has for this block."""
        return {one.table: one.factor for one in self.facts.crushed.shaped} if self.facts.crushed else {}


def condition_of(group: RecipeGroup) -> Condition:
    """Return the condition that the blocks of a group were meant for."""
    return Condition(group.condition, group.soak_hours, group.age_days)  # type: ignore[arg-type]


def read_blocks(
    tried: Sequence[TriedBlock],
    scales: Scales,
    *,
    labels: Mapping[UUID, str],
    moistures: Mapping[UUID, float],
    zone: str,
    tables: Sequence[ShapeFactor] = (),
) -> list[ReadBlock]:
    """Return every block with its stress, by the calibration of its day, and what ``tables`` make of it."""
    return [
        _read(one, scales.of(one.standing), labels=labels, moistures=moistures, zone=zone, tables=tables)
        for one in tried
    ]


def _read(
    tried: TriedBlock,
    scale: Scale | None,
    *,
    labels: Mapping[UUID, str],
    moistures: Mapping[UUID, float],
    zone: str,
    tables: Sequence[ShapeFactor],
) -> ReadBlock:
    standing = tried.standing
    peak = _peak(standing, scale) if standing and scale else None
    fate, because = _fate(tried, peak)
    wet, dry = _densities(tried, moistures.get(tried.batch.id))
    facts = ReadingFacts(
        block=tried.block.label,
        recipe=labels[tried.batch.recipe_id],
        batch=tried.batch.number,
        condition=condition_of(tried.group).name,
        soaked=tried.group.condition == "soaked",
        fate=fate,
        because=because,
        strays=False,
        height_mm=tried.height_mm,
        wet_density_kg_m3=wet,
        dry_density_kg_m3=dry,
        density_off=None,
        cracked_because=tried.block.cracked_because,
        crushed=_crushed(tried, standing, _stress(standing, peak, scale, zone=zone), tables) if standing else None,
        earlier=tuple(_earlier(one.crushing) for one in tried.crushings if one.crushing.ended_at),
    )
    reading = _reading(standing.crushing, peak) if standing and fate == "counted" else None
    return ReadBlock(facts, reading, scale, peak.scale_uncertainty if peak else None)


def _peak(standing: TriedCrushing, scale: Scale) -> Peak | None:
    """Return the stress of a crushing, or None where the gauge stood at its zero: nothing was pressed."""
    crushing, gauge = standing.crushing, standing.gauge
    if gauge is None or crushing.gauge_mpa is None or crushing.length_mm is None or crushing.width_mm is None:
        return None
    try:
        return peak_stress(
            scale.line,
            gauge_mpa=crushing.gauge_mpa,
            face_length_mm=crushing.length_mm,
            face_width_mm=crushing.width_mm,
            graduation_mpa=gauge.graduation_mpa,
            zero_mpa=standing.spell.zero_before_mpa if standing.spell else scale.zero_mpa,
            calibrated_zero_mpa=scale.zero_mpa,
        )
    except Invalid:
        return None


def _reading(crushing: Crushing, peak: Peak | None) -> censored_readings.Reading | None:
    if crushing.outcome == "fell apart":
        return censored_readings.fell_apart()
    if peak is None:
        return None
    if crushing.outcome == "held":
        return censored_readings.held(stress_mpa=peak.stress_mpa)
    return censored_readings.broke(stress_mpa=peak.stress_mpa, graduation_mpa=peak.graduation_mpa)


def _fate(tried: TriedBlock, peak: Peak | None) -> tuple[Fate, str | None]:
    """Return whether a block counts, and why not."""
    standing, group = tried.standing, tried.group
    if tried.block.lost_at is not None:
        return "lost", tried.block.lost_because
    if standing is None:
        return ("other test", USED_UP[tried.used_up]) if tried.used_up else ("waiting", None)
    crushing = standing.crushing
    if crushing.outcome == "spoiled":
        return "spoiled", crushing.spoiled_because
    if crushing.outcome == "fell apart":
        return "counted", None
    meant = Meant(group.condition, group.age_days, group.tolerance_hours, group.soak_hours, group.soak_hours_max)
    reasons = [
        phrase.english.format_map(phrase.values)
        for phrase in left_out_because(
            meant,
            pressed_at=tried.block.pressed_at,
            crushed_at=crushing.crushed_at,
            state=crushing.state,
            water_hours=_water_hours(tried, crushing),
        )
    ]
    if peak is None:
        reasons.append("the gauge reading gives no force above zero")
    said = "; ".join(reasons)
    return ("left out", said) if said else ("counted", None)


def _water_hours(tried: TriedBlock, crushing: Crushing) -> float | None:
    if crushing.water_hours is not None or tried.soaked_from is None:
        return crushing.water_hours
    return (crushing.crushed_at - tried.soaked_from) / timedelta(hours=1)


def _crushed(
    tried: TriedBlock, standing: TriedCrushing, stress: StressFacts | None, tables: Sequence[ShapeFactor]
) -> CrushedFacts:
    crushing = standing.crushing
    return CrushedFacts(
        outcome=crushing.outcome,
        gauge=_typed(crushing),
        gauge_mpa=crushing.gauge_mpa,
        length_mm=crushing.length_mm,
        width_mm=crushing.width_mm,
        crushed_at=crushing.crushed_at,
        crushed_by=standing.by.name,
        age_days=_days(crushing.crushed_at - tried.block.pressed_at),
        water_hours=_water_hours(tried, crushing),
        out_of_water_min=crushing.out_of_water_min,
        orientation=crushing.orientation,
        faces=crushing.faces,
        peak_read=crushing.peak_read,
        failure=crushing.failure,
        stress=stress,
        shaped=tuple(_shaped(table, tried, crushing, stress) for table in tables) if stress else (),
    )


def _shaped(table: ShapeFactor, tried: TriedBlock, crushing: Crushing, stress: StressFacts) -> ShapedFacts:
    """Return what a table makes of a stress, from the block's own measures as it stood under the press."""
    # Only a block that lies as it was pressed is as high as its corners were measured.
    height = crushing.height_mm or (tried.height_mm if crushing.orientation == "flat" else None)
    width = min(crushing.length_mm or 0.0, crushing.width_mm or 0.0)
    factor = shape_factor(table, height_mm=height, width_mm=width) if height else None
    return ShapedFacts(table, height, width, factor, stress.stress_mpa * factor if factor else None)


def _stress(standing: TriedCrushing | None, peak: Peak | None, scale: Scale | None, *, zone: str) -> StressFacts | None:
    if standing is None or peak is None or scale is None:
        return None
    ends = scale.calibrated.calibration.valid_until if scale.calibrated else None
    return StressFacts(
        stress_mpa=peak.stress_mpa,
        graduation_mpa=peak.graduation_mpa,
        force_kn=peak.force_kn,
        shift_mpa=peak.shift_mpa,
        calibration=scale.key,
        in_range=peak.in_range,
        after_end=ends is not None and standing.crushing.crushed_at.astimezone(ZoneInfo(zone)).date() > ends,
        zero_wandered=_zero_wandered(standing),
    )


def _zero_wandered(standing: TriedCrushing) -> bool:
    """Return whether the gauge rested more than a mark elsewhere when it was closed than when it was opened."""
    spell, gauge = standing.spell, standing.gauge
    if spell is None or gauge is None or spell.zero_after_mpa is None:
        return False
    return zero_moved(
        before_mpa=spell.zero_before_mpa, after_mpa=spell.zero_after_mpa, graduation_mpa=gauge.graduation_mpa
    )


def _typed(crushing: Crushing) -> str:
    typed = crushing.as_read.get("gauge_mpa")
    return f"{typed['text']} {typed['unit']}".strip() if typed else ""


def _earlier(crushing: Crushing) -> Earlier:
    return Earlier(
        crushing.outcome, _typed(crushing), crushing.ended_at or crushing.created_at, crushing.ended_because or ""
    )


def _densities(tried: TriedBlock, moisture: float | None) -> tuple[float | None, float | None]:
    """Return wet and dry density, as far as the block was weighed and measured and its batch's moisture is known."""
    block = tried.block
    if block.wet_mass_kg is None or tried.height_mm is None:
        return None, None
    volume = block_volume_m3(length_mm=block.length_mm, width_mm=block.width_mm, heights_mm=[tried.height_mm])
    wet = density_kg_m3(mass_kg=block.wet_mass_kg, volume_m3=volume)
    if moisture is None:
        return wet, None
    return wet, dry_density_kg_m3(wet_mass_kg=block.wet_mass_kg, moisture=moisture, volume_m3=volume)


def beside_each_other(read: Sequence[ReadBlock]) -> list[ReadBlock]:
    """Return the blocks of a job, each with how far its density lies from the middle of the others of its batch."""
    off: dict[str, float | None] = {}
    for batch in dict.fromkeys((one.facts.recipe, one.facts.batch) for one in read):
        mine = [one.facts for one in read if (one.facts.recipe, one.facts.batch) == batch]
        # A batch has one moisture, so that the dry densities lie as far apart as the wet ones.
        far = densities_against_others([one.wet_density_kg_m3 for one in mine])
        off |= {one.block: one_off for one, one_off in zip(mine, far, strict=True)}
    return [replace(one, facts=replace(one.facts, density_off=off[one.facts.block])) for one in read]


def _days(span: timedelta) -> float:
    return span / timedelta(days=1)
