"""From what was typed at the press to stress: which calibration counted, and whether a reading counts."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from uuid import UUID

from service.desk.results._scales import Scale, Scales
from service.desk.results.result_facts import CrushedFacts, Earlier, Fate, ReadingFacts, ShapedFacts, StressFacts
from service.measured.crushed import gauge_typed, left_out, meant_of, name_of, peak_of, zero_wandered
from service.measured.density import densities
from service.measured.water import InWater, in_water
from service.records.crushings import Crushing
from service.records.result_queries import TriedBlock, TriedCrushing
from service.trade.block.durability_tests import USED_UP
from service.trade.block.measurements import densities_against_others
from service.trade.block.shape_factors import ShapeFactor, shape_factor
from service.trade.block.soak_and_crush_steps import Meant
from service.trade.press.gauge_to_stress import Peak
from service.trade.press.loading_rate import mean_rate
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


def read_blocks(
    tried: Sequence[TriedBlock],
    scales: Scales,
    *,
    labels: Mapping[UUID, str],
    moistures: Mapping[UUID, float],
    tables: Sequence[ShapeFactor] = (),
) -> list[ReadBlock]:
    """Return every block with its stress, by the calibration of its day, and what ``tables`` make of it."""
    groups = {one.group.id: one.group for one in tried}
    planned = {key: (name_of(group), meant_of(group)) for key, group in groups.items()}
    return [
        _read(one, scales, planned[one.group.id], labels=labels, moistures=moistures, tables=tables) for one in tried
    ]


def _read(
    tried: TriedBlock,
    scales: Scales,
    planned: tuple[str, Meant],
    *,
    labels: Mapping[UUID, str],
    moistures: Mapping[UUID, float],
    tables: Sequence[ShapeFactor],
) -> ReadBlock:
    condition, meant = planned
    standing = tried.standing
    water = in_water(standing.crushing, tried.stays) if standing else InWater(None, None)
    scale = scales.of(standing)
    peak = peak_of(standing.crushing, standing.gauge, standing.press_session, scale) if standing else None
    stress = _stress(standing, peak, scale, scales) if standing and peak and scale else None
    fate, because = _fate(tried, standing, meant, water, peak)
    wet, dry = densities(tried.block, tried.height_mm, moisture=moistures.get(tried.batch.id))
    facts = ReadingFacts(
        block=tried.block.label,
        recipe=labels[tried.batch.recipe_id],
        batch=tried.batch.number,
        condition=condition,
        soaked=tried.group.condition == "soaked",
        fate=fate,
        because=because,
        strays=False,
        height_mm=tried.height_mm,
        wet_density_kg_m3=wet,
        dry_density_kg_m3=dry,
        density_off=None,
        cracked_because=tried.block.cracked_because,
        crushed=_crushed(tried, standing, stress, water, tables) if standing else None,
        earlier=tuple(_earlier(one.crushing) for one in tried.crushings if one.crushing.ended_at),
    )
    reading = _reading(standing.crushing, peak) if standing and fate == "counted" else None
    return ReadBlock(facts, reading, scale, peak.scale_uncertainty if peak else None)


def _reading(crushing: Crushing, peak: Peak | None) -> censored_readings.Reading | None:
    if crushing.outcome == "fell apart":
        return censored_readings.fell_apart()
    if peak is None:
        return None
    if crushing.outcome == "held":
        return censored_readings.held(stress_mpa=peak.stress_mpa)
    return censored_readings.broke(stress_mpa=peak.stress_mpa, graduation_mpa=peak.graduation_mpa)


def _fate(
    tried: TriedBlock, standing: TriedCrushing | None, meant: Meant, water: InWater, peak: Peak | None
) -> tuple[Fate, str | None]:
    """Return whether a block counts, and why not."""
    if tried.block.lost_at is not None:
        return "lost", tried.block.lost_because
    if standing is None:
        if tried.used_up:
            return "other test", USED_UP[tried.used_up]
        return ("other test" if tried.group.test else "waiting"), None
    crushing = standing.crushing
    if crushing.outcome == "spoiled":
        return "spoiled", crushing.spoiled_because
    reasons = left_out(crushing, meant, pressed_at=tried.block.pressed_at, water=water, peak=peak)
    if not reasons:
        return "counted", None
    said = "; ".join(phrase.english.format_map(phrase.values) for phrase in reasons)
    return "left out", said


def _crushed(
    tried: TriedBlock,
    standing: TriedCrushing,
    stress: StressFacts | None,
    water: InWater,
    tables: Sequence[ShapeFactor],
) -> CrushedFacts:
    crushing = standing.crushing
    return CrushedFacts(
        outcome=crushing.outcome,
        gauge=gauge_typed(crushing),
        gauge_mpa=crushing.gauge_mpa,
        length_mm=crushing.length_mm,
        width_mm=crushing.width_mm,
        crushed_at=crushing.crushed_at,
        crushed_by=standing.by.name,
        age_days=_days(crushing.crushed_at - tried.block.pressed_at),
        water_hours=water.hours,
        out_of_water_min=crushing.out_of_water_min,
        orientation=crushing.orientation,
        faces=crushing.faces,
        peak_read=crushing.peak_read,
        failure=crushing.failure,
        mass_kg=crushing.mass_kg,
        remark=crushing.remark,
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


def _stress(standing: TriedCrushing, peak: Peak, scale: Scale, scales: Scales) -> StressFacts:
    return StressFacts(
        stress_mpa=peak.stress_mpa,
        graduation_mpa=peak.graduation_mpa,
        force_kn=peak.force_kn,
        shift_mpa=peak.shift_mpa,
        calibration=scale.key,
        in_range=peak.in_range,
        after_end=scale.over_on(scales.clock.day(standing.crushing.crushed_at)),
        zero_wandered=zero_wandered(standing.gauge, standing.press_session),
        rate_mpa_s=_rate(standing.crushing, peak.stress_mpa),
    )


def _rate(crushing: Crushing, stress_mpa: float) -> float | None:
    if crushing.loading_s is None:
        return None
    return mean_rate(stress_mpa=max(stress_mpa, 0.0), loading_s=crushing.loading_s)


def _earlier(crushing: Crushing) -> Earlier:
    return Earlier(
        crushing.outcome, gauge_typed(crushing), crushing.ended_at or crushing.created_at, crushing.ended_because or ""
    )


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
