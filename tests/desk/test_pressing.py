"""Pressing blocks: places by lot, labels, the lost ones counted, densities by hand, corrections."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import timedelta
from itertools import product
from typing import Any

import pytest

from service.desk.mixing.at_press import block_form, press_form
from service.desk.mixing.pressing import Pressed, correct_block, lose_block, press_block, try_charge
from service.desk.mixing.sheets import batch
from service.desk.mixing.weighing import weigh
from service.desk.plan._checks import next_label
from service.desk.plan.sheet import sheet as plan_sheet
from service.errors import Conflict, Invalid, NotFound
from service.typed import Typed
from tests.cast import Cast
from tests.mixes import Ready, a_ready_job, kg, mm, mpa

WHOLE = Pressed(charge_kg=kg(2.62), heights_mm=(mm(99), mm(101), mm(100), mm(100)), wet_mass_kg=kg(2.6))


@pytest.fixture
def ready(cast: Cast) -> Ready:
    return a_ready_job(cast)


def blocks(ready: Ready, batch_id: Any) -> Any:
    return batch(ready.cast.tess, batch_id=batch_id).blocks


def refused_at(ready: Ready, batch_id: Any, **given: Any) -> set[str]:
    asked: dict[str, Any] = {"position": 1, "pressed": WHOLE, **given}
    with pytest.raises(Invalid) as refused:
        press_block(ready.cast.tess, batch_id=batch_id, **asked)
    return set(refused.value.fields)


def test_a_block_takes_the_place_that_was_drawn_and_carries_its_label(cast):
    ready = a_ready_job(cast)
    first, second = ready.mix(recipe_id := ready.plan()), ready.mix(recipe_id)
    drawn = plan_sheet(ready.cast.tess, job_id=ready.job_id).recipes[0].drawn
    for place in drawn:
        ready.press(first if place.batch == 1 else second, place.position)
    got = [
        (number, place.position, place.name, place.crush_order, place.block.label)
        for number, batch_id in ((1, first), (2, second))
        for place in batch(ready.cast.tess, batch_id=batch_id).places
    ]
    assert got == [
        (one.batch, one.position, one.name, one.crush_order, f"1-A{one.batch}-{one.position}") for one in drawn
    ]


def test_densities_are_those_of_a_pencil(ready):
    recipe_id = ready.plan()
    batch_id = ready.begin(recipe_id)
    soil, cement = batch(ready.cast.tess, batch_id=batch_id).parts
    # As achieved: 14.56 kg at 4 % and 0.7 kg of cement make 14.7 kg dry; 0.56 + 0.91 kg of water are 10 % of it.
    weighed = [(soil.id, kg(14.56)), (cement.id, kg(0.7))]
    weigh(ready.cast.tess, batch_id=batch_id, weighed=weighed, water_kg=kg(0.91))
    ready.cast.clock.forward(minutes=17)
    press_block(ready.cast.tess, batch_id=batch_id, position=1, pressed=WHOLE)
    (block,) = blocks(ready, batch_id)
    # 2.60 kg in 0.140 x 0.090 x 0.100 m = 0.00126 m3 are 2063.49 kg/m3 wet and over 1.10 dry 1875.90.
    assert block.wet_density_kg_m3 == pytest.approx(2063.492, abs=1e-3)
    assert block.dry_density_kg_m3 == pytest.approx(1875.902, abs=1e-3)
    assert block.minutes == pytest.approx(17)


def test_nothing_is_pressed_before_everything_is_weighed(ready):
    batch_id = ready.begin(ready.plan())
    with pytest.raises(Conflict, match="water last"):
        press_block(ready.cast.tess, batch_id=batch_id, position=1, pressed=WHOLE)
    with pytest.raises(Conflict, match="water last"):
        try_charge(ready.cast.tess, batch_id=batch_id, charge_kg=kg(2.6), height_mm=mm(100))


def test_what_is_missing_or_wrong_is_told_at_its_field(ready):
    batch_id = ready.mix(ready.plan())
    before = ready.cast.clock.now - timedelta(minutes=1)
    after = ready.cast.clock.now + timedelta(hours=1)
    assert refused_at(ready, batch_id, pressed=Pressed()) == {"wet_mass_kg", "heights_mm.0"}
    assert refused_at(ready, batch_id, pressed=replace(WHOLE, wet_mass_kg=kg(0))) == {"wet_mass_kg"}
    assert refused_at(ready, batch_id, pressed=replace(WHOLE, heights_mm=(mm(100), mm(0)))) == {"heights_mm.1"}
    assert refused_at(ready, batch_id, pressed=replace(WHOLE, pressed_gauge_mpa=mpa(11))) == {"press_gauge_id"}
    assert refused_at(ready, batch_id, pressed=replace(WHOLE, press_gauge_id=ready.soil)) == {"press_gauge_id"}
    assert refused_at(ready, batch_id, position=6) == {"position"}
    assert refused_at(ready, batch_id, pressed_at=before) == {"pressed_at"}
    assert refused_at(ready, batch_id, pressed_at=after) == {"pressed_at"}
    assert blocks(ready, batch_id) == []


def test_pounds_written_as_kilograms_and_inches_as_millimetres_are_noticed(ready):
    batch_id = ready.mix(ready.plan())
    # 5.73 "kg" in 0.00126 m3 would be 4548 kg/m3, and 3.94 "mm" of height 52,000: no soil is.
    faults = {"wet_mass_kg", "heights_mm.0"}
    assert refused_at(ready, batch_id, pressed=replace(WHOLE, wet_mass_kg=kg(5.73))) == faults
    assert refused_at(ready, batch_id, pressed=replace(WHOLE, heights_mm=(mm(3.94),))) == faults
    with pytest.raises(Invalid) as refused:
        try_charge(ready.cast.tess, batch_id=batch_id, charge_kg=kg(2.6), height_mm=mm(3.94), wet_mass_kg=kg(2.6))
    assert set(refused.value.fields) == {"wet_mass_kg", "height_mm"}
    block_id = ready.press(batch_id, 1)
    with pytest.raises(Invalid):
        correct_block(
            ready.cast.tess, block_id=block_id, pressed=replace(WHOLE, wet_mass_kg=kg(5.73)), because="other scale"
        )


def test_a_place_is_taken_once_and_the_second_is_told_by_which_block(cast):
    ready = a_ready_job(cast)
    batch_id = ready.mix(ready.plan())
    ready.press(batch_id, 2)
    with pytest.raises(Conflict, match="Block 1-A1-2"):
        ready.press(batch_id, 2)
    assert press_form(ready.cast.tess, batch_id=batch_id).place.position == 1


def test_of_two_who_press_one_place_at_the_same_moment_one_wins_and_the_other_is_told(cast):
    ready = a_ready_job(cast)
    batch_id = ready.mix(ready.plan())

    def attempt(_: int) -> str:
        try:
            ready.press(batch_id, 1)
        except Conflict:
            return "told"
        return "won"

    with ThreadPoolExecutor(max_workers=4) as people:
        assert sorted(people.map(attempt, range(4))) == ["told", "told", "told", "won"]
    assert len(blocks(ready, batch_id)) == 1


def test_a_lost_block_is_counted_and_pressed_again_only_when_that_is_asked_for(ready):
    batch_id = ready.mix(ready.plan())
    for position in (1, 3, 4, 5):
        ready.press(batch_id, position)
    ready.press(batch_id, 2, pressed=Pressed(), lost_because="crumbled at ejection")
    asked = press_form(ready.cast.tess, batch_id=batch_id)
    assert (asked.place, asked.pressed, asked.drawn) == (None, 5, 5)
    (spare,) = asked.open_for_lost
    assert (spare.position, spare.in_place_of) == (6, "1-A1-2")
    ready.press(batch_id, 6)
    places = {place.position: place for place in batch(ready.cast.tess, batch_id=batch_id).places}
    lost, again = places[2], places[6]
    assert lost.block.lost_because == "crumbled at ejection"
    assert (again.name, again.crush_order, again.block.label) == (lost.name, lost.crush_order, "1-A1-6")


def test_a_block_lost_later_is_counted_once_with_a_reason(ready):
    batch_id = ready.mix(ready.plan())
    block_id = ready.press(batch_id, 1)
    with pytest.raises(Invalid):
        lose_block(ready.cast.tess, block_id=block_id, because="")
    lose_block(ready.cast.tess, block_id=block_id, because="dropped on the way to the rack")
    assert blocks(ready, batch_id)[0].lost_because == "dropped on the way to the rack"
    with pytest.raises(Conflict):
        lose_block(ready.cast.tess, block_id=block_id, because="again")


def test_a_trial_block_gives_the_next_charge_and_the_accepted_one_is_offered(ready):
    batch_id = ready.mix(ready.plan())
    # 2.70 kg came out 104 mm high, the mould is 100 mm: 2.70 x 100/104 = 2.596154 kg.
    try_charge(ready.cast.tess, batch_id=batch_id, charge_kg=kg(2.7), height_mm=mm(104), wet_mass_kg=kg(2.69))
    first = press_form(ready.cast.tess, batch_id=batch_id)
    assert first.test_charges[0].next_charge_kg == pytest.approx(2.596154, abs=1e-6)
    # 2.69 kg in 0.0126 m2 x 0.104 m.
    assert first.test_charges[0].wet_density_kg_m3 == pytest.approx(2.69 / 0.0013104)
    assert not first.charge_settled
    given: dict[str, Any] = {"charge_kg": kg(2.6), "height_mm": mm(100), "accepted": True}
    try_charge(ready.cast.tess, batch_id=batch_id, **given)
    settled = press_form(ready.cast.tess, batch_id=batch_id)
    assert settled.charge_settled
    assert settled.remembered.charge_kg == {"text": "2.6", "unit": "kg"}


def test_what_was_entered_for_the_last_block_is_offered_for_the_next_word_for_word(ready):
    batch_id = ready.mix(ready.plan())
    pressed = replace(
        WHOLE,
        charge_kg=Typed(2.62, "2620", "g"),
        press_gauge_id=ready.gauge,
        pressed_gauge_mpa=mpa(11.5),
        dwell_s=Typed(3, "3", "s"),
        mould_release="thin oil",
    )
    ready.press(batch_id, 1, pressed=pressed)
    ready.press(batch_id, 2, pressed=Pressed(), lost_because="stuck in the mould")
    kept = press_form(ready.cast.tess, batch_id=batch_id).remembered
    assert kept.charge_kg == {"text": "2620", "unit": "g"}
    assert (kept.pressed_gauge_mpa["text"], kept.dwell_s["text"]) == ("11.5", "3")
    assert (kept.press_gauge_id, kept.mould_release) == (ready.gauge, "thin oil")


def test_what_was_typed_in_two_units_comes_back_whole_and_leaves_the_field_its_unit(ready):
    batch_id = ready.mix(ready.plan())
    # 5 lb 11 1/2 oz are 91.5 oz, 2.5940 kg.
    both = Typed(2.5940, "5 lb 11 1/2", "oz")
    ready.press(batch_id, 1, pressed=replace(WHOLE, charge_kg=both, wet_mass_kg=both))
    kept = press_form(ready.cast.tess, batch_id=batch_id).remembered
    assert kept.charge_kg == {"text": "5 lb 11 1/2 oz", "unit": ""}
    assert kept.wet_mass_unit == ""


def test_ounces_typed_once_do_not_stay_beside_the_mass(ready):
    batch_id = ready.mix(ready.plan())
    for position, mass in enumerate((Typed(2.594, "91.5", "oz"), Typed(2.58, "91", "oz")), start=1):
        ready.press(batch_id, position, pressed=replace(WHOLE, wet_mass_kg=mass))
        kept = press_form(ready.cast.tess, batch_id=batch_id).remembered
        assert kept.wet_mass_unit == ("" if position == 1 else "oz")


def test_the_gauge_to_pump_to_follows_from_ram_and_face(ready):
    batch_id = ready.mix(ready.plan())
    (gauge,) = press_form(ready.cast.tess, batch_id=batch_id).gauges
    # 4 MPa on 140 x 90 mm are 50.4 kN; over 0.95 of the ram's 4560.367 mm2 that is 11.6335 MPa.
    assert gauge.target_gauge_mpa == pytest.approx(11.6335, abs=1e-3)
    assert not gauge.calibrated


def test_a_corrected_block_keeps_what_was_typed_first(cast):
    ready = a_ready_job(cast)
    batch_id = ready.mix(ready.plan())
    block_id = ready.press(batch_id, 1, pressed=WHOLE)
    better = replace(WHOLE, wet_mass_kg=kg(2.65), heights_mm=(mm(99), mm(102), mm(100), mm(100)))
    correct_block(ready.cast.tess, block_id=block_id, pressed=better, because="read from the wrong scale")
    got = [(one.what, one.was, one.became) for one in batch(ready.cast.tess, batch_id=batch_id).changes]
    assert sorted(got) == [
        ("Block 1-A1-1, corner 2, height", "101 mm", "102 mm"),
        ("Block 1-A1-1, mass", "2.6 kg", "2.65 kg"),
    ]
    assert block_form(ready.cast.tess, block_id=block_id).typed["wet_mass_kg"]["text"] == "2.65"


def test_a_correction_that_changes_nothing_or_drops_a_corner_is_refused(ready):
    batch_id = ready.mix(ready.plan())
    block_id = ready.press(batch_id, 1, pressed=WHOLE)
    given: dict[str, Any] = {"block_id": block_id, "because": "looked again"}
    with pytest.raises(Invalid, match="Nothing changed"):
        correct_block(ready.cast.tess, pressed=WHOLE, **given)
    with pytest.raises(Invalid) as refused:
        correct_block(ready.cast.tess, pressed=replace(WHOLE, heights_mm=(mm(99),)), **given)
    assert set(refused.value.fields) == {"heights_mm.1"}
    with pytest.raises(Invalid) as refused:
        correct_block(ready.cast.tess, pressed=replace(WHOLE, wet_mass_kg=None), **given)
    assert set(refused.value.fields) == {"wet_mass_kg"}
    with pytest.raises(NotFound):
        correct_block(ready.cast.tess, pressed=WHOLE, block_id=ready.soil, because="none")


def test_labels_never_meet_whatever_the_letters_and_numbers(ready):
    letters: set[str] = set()
    for _ in range(40):
        letters.add(next_label(letters))
    labels = [
        f"{job}-{letter}{number}-{position}"
        for job, letter, number, position in product((1, 11, 111), sorted(letters), (1, 2, 11, 12), (1, 11, 111))
    ]
    assert len(set(labels)) == len(labels)
