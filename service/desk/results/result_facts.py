"""What a result says, number by number: the same shape for the page, the print, the program and the frozen data."""

import math
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal
from uuid import UUID

from service.desk.doorway import Language
from service.desk.results.block_test_facts import DemandFacts, EnduredFacts, SummaryFacts
from service.desk.results.recipe_facts import RecipeFacts
from service.phrase import Phrase
from service.trade.block.measurements import stands_out
from service.trade.block.shape_factors import ShapeFactor
from service.trade.block.test_conditions import Condition
from service.trade.strength.estimate_result import (
    CharacteristicBy,
    GroupStrength,
    LimitAnswer,
    OrderAnswer,
    PairAnswer,
    Scatter,
)
from service.trade.strength.wet_dry_ratio import Kept

Fate = Literal["counted", "left out", "spoiled", "lost", "other test", "waiting"]


@dataclass(frozen=True)
class JobFacts:
    """Whose soil, which question, and what is to be built."""

    id: UUID
    number: int
    customer: str
    site: str
    question: str
    question_kind: str
    wall_thickness_mm: float | None
    wall_height_m: float | None
    roof_line_load_kn_m: float | None
    machine_pressure_mpa: float | None
    machine_length_mm: float | None
    machine_width_mm: float | None
    machine_height_mm: float | None
    machine_density_kg_m3: float | None
    language: Language


@dataclass(frozen=True)
class Earlier:
    """What was typed of a block before it was corrected."""

    outcome: str
    gauge: str
    corrected_at: datetime
    because: str


@dataclass(frozen=True)
class StressFacts:
    """The stress on the face that a gauge reading comes to, and by which line."""

    stress_mpa: float
    graduation_mpa: float
    force_kn: float
    shift_mpa: float
    calibration: str
    in_range: bool | None
    after_end: bool
    zero_wandered: bool
    rate_mpa_s: float | None


@dataclass(frozen=True)
class ShapedFacts:
    """What one table of shape factors makes of a block's stress; nothing where the table is empty or a side unknown."""

    table: ShapeFactor
    height_mm: float | None
    width_mm: float
    factor: float | None
    stress_mpa: float | None


@dataclass(frozen=True)
class CrushedFacts:
    """What was typed at the press."""

    outcome: str
    gauge: str
    gauge_mpa: float | None
    length_mm: float | None
    width_mm: float | None
    crushed_at: datetime
    crushed_by: str
    age_days: float
    water_hours: float | None
    out_of_water_min: float | None
    orientation: str
    faces: str
    peak_read: str | None
    failure: str | None
    mass_kg: float | None
    remark: str | None
    stress: StressFacts | None
    shaped: tuple[ShapedFacts, ...]


@dataclass(frozen=True)
class ReadingFacts:
    """One block from mould to press: what was typed, what it comes to, and whether it counts."""

    block: str
    recipe: str
    batch: int
    condition: str
    soaked: bool
    fate: Fate
    because: str | None
    strays: bool
    height_mm: float | None
    wet_density_kg_m3: float | None
    dry_density_kg_m3: float | None
    density_off: float | None
    cracked_because: str | None
    crushed: CrushedFacts | None
    earlier: tuple[Earlier, ...]

    @property
    def turn(self) -> float:
        """When it was crushed, so that blocks can be put in the order in which they were; the others come last."""
        return self.crushed.crushed_at.timestamp() if self.crushed else math.inf

    @property
    def stands_out(self) -> bool:
        """Whether it is far denser or lighter than the other blocks of its batch."""
        return stands_out(self.density_off)


@dataclass(frozen=True)
class CalibrationFacts:
    """How force was had from the gauge: a calibration with its line, or the ram's geometry where there is none."""

    key: str
    id: UUID | None
    press: str
    gauge: str
    done_on: date | None
    valid_until: date | None
    reference: str | None
    reference_uncertainty: float | None
    coverage_factor: float | None
    zero_mpa: float
    slope_kn_per_mpa: float
    intercept_kn: float
    residual_sd_kn: float | None
    lowest_mpa: float | None
    highest_mpa: float | None
    points: int
    efficiency: float | None
    ram_diameter_mm: float | None
    rams: int | None
    readings: int
    after_end: int


@dataclass(frozen=True)
class GroupFacts:
    """What the engine says of one recipe in one condition, beside what was counted."""

    said: GroupStrength
    soaked: bool
    highest_held_mpa: float | None
    spoiled: int
    lost: int
    left_out: int
    waiting: int

    @property
    def floor_mpa(self) -> float | None:
        """The strength that is sure at least where the middle was not measured; never above what was measured."""
        return None if self.middle_measured else self.measured(self.said.low_mpa)

    @property
    def middle_measured(self) -> bool:
        """Whether blocks broke, and measuring did not stop below the middle of what is believed."""
        middle = self.said.median_mpa
        return middle is not None and (self.beyond_mpa is None or middle <= self.beyond_mpa)

    @property
    def beyond_mpa(self) -> float | None:
        """The highest stress held, where the interval of a recipe that was partly broken reaches above it."""
        high, top = self.said.high_mpa, self.highest_held_mpa
        return top if high is not None and top is not None and high > top else None

    def measured(self, low_mpa: float | None) -> float | None:
        """Return a lower bound, cut to the highest stress held where the middle was not measured."""
        if low_mpa is None or self.middle_measured or self.highest_held_mpa is None:
            return low_mpa
        return min(low_mpa, self.highest_held_mpa)


@dataclass(frozen=True)
class StrayFacts:
    """A group in which a reading strays: as it stands, and as it would be without; the reading counts all the same."""

    with_it: GroupStrength
    without_it: GroupStrength | None
    blocks: tuple[str, ...]
    verdict: str | None
    verdict_without: str | None
    declined: str | None


@dataclass(frozen=True)
class OutlierFacts:
    """A reading beyond Grubbs' critical distance from the mean of its recipe and condition; it counts all the same."""

    recipe: str
    condition: str
    block: str
    of_blocks: int
    stress_mpa: float
    distance: float
    critical: float


@dataclass(frozen=True)
class KeptFacts:
    """How much of its strength a recipe keeps in the water."""

    recipe: str
    soaked: str
    dry: str
    kept: Kept


@dataclass(frozen=True)
class SurvivalFacts:
    """Blocks of one recipe in the water: how many survived, and the chance that the next does, at least, 95 % sure."""

    recipe: str
    condition: str
    survived: int
    blocks: int
    chance: float
    at_least: float


@dataclass(frozen=True)
class ValueFacts:
    """The characteristic value that a rule's own text makes of the readings; None where it has none for them."""

    recipe: str
    condition: str
    blocks: int
    value_mpa: float | None


@dataclass(frozen=True)
class CriterionFacts:
    """A rule that the job is held against, how its text was read, and what has to be said with it."""

    key: str
    name: str
    body: str
    edition: str
    clause: str
    standing: str
    confirmed_on: date | None
    counts: bool
    notes: tuple[Phrase, ...]
    shape: ShapeFactor
    characteristic_by: CharacteristicBy
    values: tuple[ValueFacts, ...]


@dataclass(frozen=True)
class AskedFacts:
    """A limit as the engine was asked, with the rule it comes from."""

    name: str
    criterion: str
    condition: str
    statistic: str
    limit_mpa: float
    blocks: int
    shape: ShapeFactor
    shape_standing: str
    by: CharacteristicBy


@dataclass(frozen=True)
class ModelFacts:
    """What was assumed before the first block was crushed, and how far the press may be off for all of them."""

    engine: str
    median_mpa: float
    log_sd: float
    scatter: float
    scatter_log_sd: float
    spread: float
    spread_log_sd: float
    batch_sd: float
    rests_on: str | None
    adopted_on: date | None
    scale_uncertainty: float
    assurance: float
    margin: float


@dataclass(frozen=True)
class Result:
    """The whole of a job's result."""

    shop: str
    job: JobFacts
    recipes: tuple[RecipeFacts, ...]
    conditions: tuple[Condition, ...]
    readings: tuple[ReadingFacts, ...]
    calibrations: tuple[CalibrationFacts, ...]
    criteria: tuple[CriterionFacts, ...]
    asked: tuple[AskedFacts, ...]
    endured: tuple[EnduredFacts, ...]
    endured_by: tuple[SummaryFacts, ...]
    demands: tuple[DemandFacts, ...]
    scatter: tuple[Scatter, ...]
    groups: tuple[GroupFacts, ...]
    strays: tuple[StrayFacts, ...]
    outliers: tuple[OutlierFacts, ...]
    kept: tuple[KeptFacts, ...]
    survival: tuple[SurvivalFacts, ...]
    limits: tuple[LimitAnswer, ...]
    pairs: tuple[PairAnswer, ...]
    order: tuple[OrderAnswer, ...]
    recommended: str | None
    answer: tuple[Phrase, ...]
    not_known: tuple[Phrase, ...]
    model: ModelFacts

    @property
    def begun(self) -> bool:
        """Whether a block was crushed that counts, or endured another test."""
        return bool(self.endured) or any(one.fate == "counted" for one in self.readings)

    @property
    def issuable(self) -> bool:
        """Whether there is anything to issue: the engine's answer to one reading at least."""
        return bool(self.groups)
