"""A round of recipes in the demo: weighed, pressed, cured, soaked and crushed."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from random import Random
from typing import Any
from uuid import UUID

from service.demo import drawing
from service.demo.invented_days import Teller, typed
from service.desk import photos
from service.desk.block_tests import recording
from service.desk.block_tests.given import Bending, Eroding
from service.desk.block_tests.given import Given as TestGiven
from service.desk.crushing import press, reading
from service.desk.crushing.given import Given
from service.desk.curing import acts
from service.desk.mixing import sheets
from service.desk.mixing.begin_batch import start_batch
from service.desk.mixing.pressing import Pressed, press_block, try_charge
from service.desk.mixing.weighing import weigh
from service.paper.photo_files import take_in

SCALE = "0.005 kg"
DRY_BLOCK = "2.1 kg"
SAND_MOISTURE = "1.5 %"
COVERED_DAYS = 4


@dataclass(frozen=True)
class Made:
    """A block of the story: what it is for, its turn at the crushing and when it is due."""

    id: UUID
    batch_id: UUID
    condition: str
    crush_order: int
    pressed_at: datetime


def press_and_cure(teller: Teller, recipe_id: UUID, told: dict[str, Any], dice: Random) -> list[Made]:
    """Weigh, mix and press the batches of a recipe, a morning each, and cover them for some days."""
    made: list[Made] = []
    for number in range(told.get("batches", 1)):
        teller.at(told["mixed"], 8 + 3 * number)
        batch_id = _weighed(teller, recipe_id, told)
        made += _pressed(teller, batch_id, told, dice, most=told.get("pressed", 100) - len(made))
        teller.go_to(teller.clock.now + timedelta(minutes=10))
        acts.cover(teller.technician, batch_id=batch_id)
        uncover_at = teller.clock.now + timedelta(days=COVERED_DAYS)
        if uncover_at < teller.today:
            teller.go_to(uncover_at)
            acts.uncover(teller.technician, batch_id=batch_id)
    return made


def _weighed(teller: Teller, recipe_id: UUID, told: dict[str, Any]) -> UUID:
    fines = [
        (teller.ids[name], typed(SAND_MOISTURE, "moisture")) for name, _ in told["components"] if name == "Quarry fines"
    ]
    batch_id = start_batch(
        teller.technician,
        recipe_id=recipe_id,
        scale_graduation_kg=typed(SCALE, "small_mass"),
        dry_mass_per_block_kg=typed(DRY_BLOCK, "mass"),
        waste=typed("5 %", "share"),
        moistures=fines,
    ).id
    sheet = sheets.batch(teller.technician, batch_id=batch_id)
    teller.go_to(teller.clock.now + timedelta(minutes=25))
    weigh(
        teller.technician,
        batch_id=batch_id,
        weighed=[(part.id, typed(f"{part.planned_kg:.3f} kg", "mass")) for part in sheet.parts],
        water_kg=typed(f"{sheet.water_planned_kg:.3f} kg", "mass"),
        wetted_at=teller.clock.now,
    )
    return batch_id


def _pressed(teller: Teller, batch_id: UUID, told: dict[str, Any], dice: Random, *, most: int) -> list[Made]:
    teller.go_to(teller.clock.now + timedelta(minutes=8))
    charge = typed(f"{told['wet_kg'] + 0.01:.2f} kg", "mass")
    try_charge(
        teller.technician,
        batch_id=batch_id,
        charge_kg=charge,
        height_mm=typed("75.5 mm", "length"),
        wet_mass_kg=typed(f"{told['wet_kg']:.3f} kg", "mass"),
        pressed_gauge_mpa=typed("19 MPa", "pressure"),
        accepted=True,
    )
    made = []
    for place in sheets.batch(teller.technician, batch_id=batch_id).places[: max(most, 0)]:
        teller.go_to(teller.clock.now + timedelta(minutes=3))
        pressed = Pressed(
            charge_kg=charge,
            heights_mm=tuple(typed(f"{75 + dice.gauss(0, 0.4):.1f} mm", "length") for _ in range(4)),
            wet_mass_kg=typed(f"{told['wet_kg'] + dice.gauss(0, 0.006):.3f} kg", "mass"),
            press_gauge_id=teller.ids["forming dial"],
            pressed_gauge_mpa=typed("19 MPa", "pressure"),
            dwell_s=typed("5 s", "seconds"),
        )
        block_id = press_block(teller.technician, batch_id=batch_id, position=place.position, pressed=pressed).id
        made.append(Made(block_id, batch_id, place.condition, place.crush_order, teller.clock.now))
    return made


def crush(teller: Teller, told: dict[str, Any], blocks: list[Made]) -> None:
    """Soak and crush what has a reading in the story, each on its day."""
    readings = {condition: list(texts) for condition, texts in told.get("readings", {}).items()}
    ages = {condition: age for condition, age, *_ in told["groups"]}
    soaks = {condition: hours[0] for condition, _, _, *hours in told["groups"] if hours}
    wanted = []
    for block in sorted(blocks, key=lambda one: one.crush_order):
        if readings.get(block.condition):
            wanted.append((block, readings[block.condition].pop(0)))
    for batch_id in dict.fromkeys(block.batch_id for block, _ in wanted):
        _soak(
            teller,
            [block for block, _ in wanted if block.batch_id == batch_id and block.condition in soaks],
            ages,
            soaks,
        )
    if wanted:
        _crush_in_turn(teller, told, wanted, ages)
    crushed = {block.id for block, _ in wanted}
    _endure(teller, told, [block for block in blocks if block.id not in crushed and block.condition not in soaks])


def _soak(teller: Teller, wet: list[Made], ages: dict[str, int], soaks: dict[str, int]) -> None:
    if not wet:
        return
    due = min(block.pressed_at + timedelta(days=ages[block.condition]) for block in wet)
    teller.go_to(due - timedelta(hours=soaks[wet[0].condition] + 1))
    acts.put_to_soak(teller.technician, block_ids=[block.id for block in wet])


def _photograph(teller: Teller, block: Made, colour: str) -> None:
    """Photo a broken block, for its customer too."""
    picture = drawing.broken_block(colour, block.crush_order)
    photo_id = take_in(teller.technician, of="block", thing_id=block.id, content=picture)
    photos.show(teller.owner, photo_id=photo_id, shown=True)


def _crush_in_turn(teller: Teller, told: dict[str, Any], wanted: list[tuple[Made, str]], ages: dict[str, int]) -> None:
    teller.go_to(max(block.pressed_at + timedelta(days=ages[block.condition]) for block, _ in wanted))
    press_session = press.open_press_session(
        teller.technician, gauge_id=teller.ids["crushing dial"], zero_before_mpa=typed("0 MPa", "gauge_zero")
    ).id
    broken = next((block for block, text in wanted if text.startswith("broke")), None)
    for block, text in wanted:
        teller.go_to(teller.clock.now + timedelta(minutes=4))
        reading.record(teller.technician, block_id=block.id, given=_given(block, text, press_session))
        if "photographed" in told and block is broken:
            _photograph(teller, block, told["photographed"])
    press.close_press_session(
        teller.technician, press_session_id=press_session, zero_after_mpa=typed("0 MPa", "gauge_zero")
    )


def _endure(teller: Teller, told: dict[str, Any], left: list[Made]) -> None:
    """Bend and spray blocks that were pressed beyond those that are crushed."""
    given: list[TestGiven] = [
        Bending(
            outcome="broke",
            state="air-dry",
            force_kn=typed(force, "force"),
            span_mm=typed(span, "length"),
            width_mm=typed("100 mm", "length"),
            thickness_mm=typed("75 mm", "length"),
        )
        for force, span in told.get("bent", [])
    ]
    given += [
        Eroding(manner="spray", outcome="measured", water_min=typed(water, "minutes"), depth_mm=typed(depth, "length"))
        for water, depth in told.get("sprayed", [])
    ]
    for block, test in zip(left, given, strict=False):
        teller.go_to(teller.clock.now + timedelta(minutes=15))
        recording.record(teller.technician, block_id=block.id, given=test)


def _given(block: Made, text: str, press_session: UUID) -> Given:
    outcome, _, rest = text.partition(" ")
    wet = block.condition == "soaked"
    out_of_water = typed("10 min", "minutes") if wet and outcome != "fell" else None
    if outcome == "fell":
        return Given(outcome="fell apart", state=block.condition)
    if outcome == "spoiled:":
        return Given(outcome="spoiled", state=block.condition, spoiled_because=rest, out_of_water_min=out_of_water)
    return Given(
        outcome=outcome,
        state=block.condition,
        press_session_id=press_session,
        gauge_mpa=typed(f"{rest} MPa", "pressure"),
        peak_read="held needle",
        held_because="press limit" if outcome == "held" else None,
        failure="hourglass" if outcome == "broke" else None,
        out_of_water_min=out_of_water,
        # Pumped at a steady pace, whatever the block.
        loading_s=typed(f"{2.5 * float(rest):.0f} s", "seconds"),
    )
