"""Weighing a batch out: what the sheet asks for by hand calculation, what was weighed, and how it is corrected."""

from datetime import timedelta
from typing import Any

import pytest
from sqlmodel import Session

from service.desk.intake import cans, sacks
from service.desk.intake.cans import CanGiven
from service.desk.intake.sacks import Sack
from service.desk.mixing.begin_batch import start_form
from service.desk.mixing.sheets import batch, round_of
from service.desk.mixing.weighing import correct_weighing, exclude_can, weigh, weigh_can
from service.errors import Conflict, Forbidden, Invalid, NotFound
from service.records.batches import Batch, BatchPart
from service.records.corrections import corrections_of
from service.typed import Typed
from tests.cast import Cast
from tests.mixes import Ready, a_ready_job, kg, share


@pytest.fixture
def ready(cast: Cast) -> Ready:
    return a_ready_job(cast)


def sheet(ready: Ready, batch_id: Any) -> Any:
    return batch(ready.cast.tess, batch_id=batch_id)


def to_weigh(ready: Ready, batch_id: Any) -> dict[str, float]:
    return {part.material: part.planned_kg for part in sheet(ready, batch_id).parts}


def test_the_sheet_asks_for_what_a_pencil_asks_for(cast):
    ready = a_ready_job(cast)
    batch_id = ready.begin(ready.plan())
    # Five blocks and a trial: 6 x 2.394 kg x 1.05 = 15.0822 kg dry mix, over 1.06 are 14.22849 kg dry soil, at 4 %
    # 14.79763 kg damp -> 14.800; cement 0.853709 -> 0.855; water 1.50822 less 0.56914 in the soil = 0.93908 -> 0.940.
    assert to_weigh(ready, batch_id) == pytest.approx({"red silt": 14.8, "cement": 0.855})
    assert sheet(ready, batch_id).water_planned_kg == pytest.approx(0.94)
    with Session(ready.cast.stores.read) as session:
        assert session.get_one(Batch, batch_id).dry_soil_kg == pytest.approx(14.228491, abs=1e-6)


def test_a_share_of_the_dry_mix_and_damp_sand_are_reckoned_as_they_are(ready):
    batch_id = ready.begin(ready.plan(sand=0.25, dose=0.05, basis="dry mix"), test_charges=0)
    # 5 x 2.394 x 1.05 = 12.5685 kg mix; cement 0.05 of it = 0.628425 -> 0.630; soil 11.940075 kg dry, of which silt
    # 8.955056 x 1.04 = 9.313259 -> 9.315 and sand 2.985019 x 1.02 = 3.044719 -> 3.045; water 1.25685 less 0.358202
    # and 0.059700 = 0.838948 -> 0.840.
    assert to_weigh(ready, batch_id) == pytest.approx({"red silt": 9.315, "pit sand": 3.045, "cement": 0.63})
    assert sheet(ready, batch_id).water_planned_kg == pytest.approx(0.84)


def test_materials_stand_in_the_order_in_which_they_are_weighed(ready):
    batch_id = ready.begin(ready.plan(sand=0.25))
    assert [part.material for part in sheet(ready, batch_id).parts] == ["red silt", "pit sand", "cement"]


def test_what_was_weighed_gives_the_achieved_shares_on_both_bases(ready):
    batch_id = ready.begin(ready.plan())
    soil, cement = sheet(ready, batch_id).parts
    # 14.56 kg at 4 % hold 14 kg dry; 0.7 kg of cement on it is 5 % of the dry soil and 0.7/14.7 of the dry mix; water
    # 0.56 + 0.91 = 1.47 kg is 10 % of 14.7 kg and 10.5 % of 14 kg.
    weighed = [(soil.id, kg(14.56)), (cement.id, kg(0.7))]
    weigh(ready.cast.tess, batch_id=batch_id, weighed=weighed, water_kg=kg(0.91))
    got = {(line.name, line.basis): line.achieved for line in sheet(ready, batch_id).shares}
    assert got == pytest.approx({
        ("red silt", "blend"): 1.0, ("cement", "dry soil"): 0.05, ("cement", "dry mix"): 0.047619,
        ("Water", "dry mix"): 0.10, ("Water", "dry soil"): 0.105,
    }, abs=1e-6)  # fmt: skip


def test_pounds_are_kept_as_typed_and_in_kilograms(ready):
    batch_id = ready.begin(ready.plan(), scale_graduation_kg=Typed(0.0045359237, "0.01", "lb"))
    soil = sheet(ready, batch_id).parts[0]
    assert (sheet(ready, batch_id).scale.unit, sheet(ready, batch_id).scale.step) == ("lb", "0.01")
    # 14.79763 kg are 32.6232 lb, to the hundredth 32.62 lb = 14.796183 kg.
    assert soil.planned_kg == pytest.approx(14.7961831, abs=1e-7)
    weigh(ready.cast.tess, batch_id=batch_id, weighed=[(soil.id, Typed(14.7961831094, "32.62", "lb"))])
    with Session(ready.cast.stores.read) as session:
        kept = session.get_one(BatchPart, soil.id)
        assert kept.as_read["weighed_kg"] == {"text": "32.62", "unit": "lb"}


def test_masses_come_in_parts_and_the_batch_is_mixed_once_all_are_in(ready):
    batch_id = ready.begin(ready.plan())
    soil, cement = sheet(ready, batch_id).parts
    weigh(ready.cast.tess, batch_id=batch_id, weighed=[(soil.id, kg(14.8))])
    assert sheet(ready, batch_id).mixed_at is None
    wetted = ready.cast.clock.now - timedelta(minutes=5)
    weigh(ready.cast.tess, batch_id=batch_id, weighed=[(cement.id, kg(0.855))], water_kg=kg(0.94), wetted_at=wetted)
    assert (sheet(ready, batch_id).mixed_at, sheet(ready, batch_id).wetted_at) == (wetted, wetted)


def test_what_was_weighed_is_not_weighed_again_but_corrected(ready):
    batch_id = ready.mix(ready.plan())
    soil = sheet(ready, batch_id).parts[0]
    with pytest.raises(Invalid) as refused:
        weigh(ready.cast.tess, batch_id=batch_id, weighed=[(soil.id, kg(14.9))], water_kg=kg(1))
    assert set(refused.value.fields) == {f"weighed_kg.{soil.id}", "water_kg"}


def test_a_correction_keeps_the_old_mass_beside_the_reason(cast):
    ready = a_ready_job(cast)
    batch_id = ready.mix(ready.plan())
    soil = sheet(ready, batch_id).parts[0]
    given: dict[str, Any] = {"batch_id": batch_id, "weighed": [(soil.id, kg(14.9))]}
    with pytest.raises(Invalid):
        correct_weighing(ready.cast.tess, because=" ", **given)
    correct_weighing(ready.cast.tess, because="the pan was not tared", **given)
    (change,) = sheet(ready, batch_id).changes
    assert (change.what, change.was, change.became) == ("red silt, weighed", "14.8 kg", "14.9 kg")
    assert change.because == "the pan was not tared"
    with pytest.raises(Invalid, match="Nothing changed"):
        correct_weighing(ready.cast.tess, because="once more", **given)


def test_the_time_of_wetting_is_corrected_with_a_reason(ready):
    batch_id = ready.mix(ready.plan())
    earlier = ready.cast.clock.now - timedelta(minutes=20)
    correct_weighing(ready.cast.tess, batch_id=batch_id, because="written down late", wetted_at=earlier)
    assert sheet(ready, batch_id).wetted_at == earlier
    with Session(ready.cast.stores.read) as session:
        assert len(corrections_of(session, [batch_id])) == 1


def test_a_time_to_come_a_part_of_nobody_and_a_mass_of_nothing_are_refused(ready):
    batch_id = ready.begin(ready.plan())
    soil = sheet(ready, batch_id).parts[0]
    later = ready.cast.clock.now + timedelta(hours=1)
    with pytest.raises(Invalid) as refused:
        weigh(ready.cast.tess, batch_id=batch_id, water_kg=kg(1), wetted_at=later)
    assert set(refused.value.fields) == {"wetted_at"}
    with pytest.raises(Invalid) as refused:
        weigh(
            ready.cast.tess,
            batch_id=batch_id,
            weighed=[(ready.soil, kg(1)), (soil.id, kg(0))],
        )
    assert len(refused.value.fields) == 2
    with pytest.raises(Invalid):
        weigh(ready.cast.tess, batch_id=batch_id)
    assert sheet(ready, batch_id).water_kg is None


def test_soil_without_a_can_needs_its_moisture_written(cast):
    ready = a_ready_job(cast)
    sand_sack = Sack(label="S-1", mass_kg=kg(20))
    sacks.take_in(cast.tess, job_id=ready.job_id, sack=sand_sack, material_id=ready.sand)
    recipe_id = ready.plan(sand=0.25)
    with pytest.raises(Invalid) as refused:
        ready.begin(recipe_id, moistures=[])
    assert set(refused.value.fields) == {f"moistures.{ready.sand}"}
    ready.begin(recipe_id, moistures=[(ready.sand, share(0.02))])


def test_soil_wetter_than_the_mix_is_refused_and_no_batch_begins(ready):
    recipe_id = ready.plan()
    with pytest.raises(Invalid, match="dry it to"):
        ready.begin(recipe_id, moistures=[(ready.soil, share(0.15))])
    assert start_form(ready.cast.tess, recipe_id=recipe_id).number == 1


def test_a_batch_larger_than_one_sack_is_taken_out_of_two_each_with_its_own_water(cast):
    ready = a_ready_job(cast, sack_kg=10.4)
    second = sacks.take_in(
        cast.tess, job_id=ready.job_id, sack=Sack(label="J1-B", mass_kg=kg(20)), material_id=ready.soil
    )
    can = CanGiven(kg(1.16), kg(1.1), kg(0.1))
    cans.weigh_cans(cast.tess, receipt_id=second.id, cans=[can], method="oven")
    batch_id = ready.begin(ready.plan())
    lines = [(part.sack, part.moisture, part.planned_kg) for part in sheet(ready, batch_id).parts if part.sack]
    # 14.22849 kg dry are needed; the first sack has 10.4/1.04 = 10 kg, so 4.22849 x 1.06 = 4.482200 come out of the
    # second, which holds 6 %.
    assert [sack for sack, _, _ in lines] == ["J1-A", "J1-B"]
    assert [kilograms for *_, kilograms in lines] == pytest.approx([10.4, 4.48])
    assert [water for _, water, _ in lines] == pytest.approx([0.04, 0.06])
    # Water: 1.50822 less 0.4 and 0.253709 = 0.854511 -> 0.855.
    assert sheet(ready, batch_id).water_planned_kg == pytest.approx(0.855)


def test_an_almost_empty_sack_is_left_alone(cast):
    ready = a_ready_job(cast, sack_kg=0.3)
    second = sacks.take_in(
        cast.tess, job_id=ready.job_id, sack=Sack(label="J1-B", mass_kg=kg(40)), material_id=ready.soil
    )
    cans.weigh_cans(cast.tess, receipt_id=second.id, cans=[CanGiven(kg(1.04), kg(1.0))], method="oven")
    batch_id = ready.begin(ready.plan())
    assert [part.sack for part in sheet(ready, batch_id).parts if part.role == "component"] == ["J1-B"]


def test_batches_are_begun_in_order_and_no_more_than_planned(ready):
    recipe_id = ready.plan()
    ready.begin(recipe_id)
    assert start_form(ready.cast.tess, recipe_id=recipe_id).number == 2
    ready.begin(recipe_id)
    with pytest.raises(Conflict, match="Every batch"):
        ready.begin(recipe_id)


def test_the_next_batch_remembers_the_scale_and_reckons_with_the_blocks_that_were_pressed(ready):
    recipe_id = ready.plan()
    ready.press(ready.mix(recipe_id), 1)
    asked = start_form(ready.cast.tess, recipe_id=recipe_id)
    assert (asked.scale_text, asked.scale_unit) == ("0.005", "kg")
    # One block of 2.60 kg with 10 % water over its dry mix: 2.60/1.10 = 2.363636 kg dry.
    assert (asked.block_kg, asked.block_kg_from) == (pytest.approx(2.363636, abs=1e-6), "blocks")


def test_a_can_of_the_mix_checks_the_water_and_is_set_aside_with_a_reason(ready):
    batch_id = ready.mix(ready.plan())
    given: dict[str, Any] = {"batch_id": batch_id, "wet_kg": kg(0.320), "dry_kg": kg(0.300), "can_kg": kg(0.100)}
    can = weigh_can(ready.cast.tess, **given)
    # 0.020 kg of water over 0.200 kg dry.
    assert [line.moisture for line in sheet(ready, batch_id).cans] == pytest.approx([0.10])
    with pytest.raises(Invalid) as refused:
        weigh_can(ready.cast.tess, **{**given, "dry_kg": kg(0.330)})
    assert set(refused.value.fields) == {"wet_kg"}
    exclude_can(ready.cast.tess, can_id=can.id, because="opened in the rain")
    assert sheet(ready, batch_id).cans == []
    with pytest.raises(Conflict):
        exclude_can(ready.cast.tess, can_id=can.id, because="again")


def test_the_round_says_what_is_next(ready):
    def next_word() -> str:
        return round_of(ready.cast.tess, job_id=ready.job_id).next_word

    assert next_word() == "Plan a recipe"
    recipe_id = ready.plan(batches=1)
    assert next_word() == "Start batch 1 of recipe A"
    batch_id = ready.begin(recipe_id)
    assert next_word() == "Weigh out batch 1 of recipe A"
    soil, cement = sheet(ready, batch_id).parts
    weigh(ready.cast.tess, batch_id=batch_id, weighed=[(soil.id, kg(14.8)), (cement.id, kg(0.9))], water_kg=kg(1))
    assert next_word() == "Press batch 1 of recipe A"
    for position in range(1, 11):
        ready.press(batch_id, position)
    assert next_word() == "Go to curing"


def test_a_batch_belongs_to_the_shop_and_one_that_is_not_there_is_not_found(ready):
    batch_id = ready.begin(ready.plan())
    with pytest.raises(Forbidden):
        batch(ready.cast.cy, batch_id=batch_id)
    with pytest.raises(NotFound):
        batch(ready.cast.tess, batch_id=ready.soil)
    with pytest.raises(NotFound):
        ready.begin(ready.soil)


def test_a_scale_with_steps_of_nothing_and_a_block_of_nothing_are_refused(ready):
    recipe_id = ready.plan()
    with pytest.raises(Invalid) as refused:
        ready.begin(recipe_id, scale_graduation_kg=kg(0), dry_mass_per_block_kg=kg(0))
    assert set(refused.value.fields) == {"scale_graduation_kg", "dry_mass_per_block_kg"}
    with pytest.raises(Invalid, match="mass of cement rounds to 0"):
        ready.begin(recipe_id, scale_graduation_kg=kg(5))
    with pytest.raises(Invalid) as refused:
        ready.begin(recipe_id, test_charges=6)
    assert set(refused.value.fields) == {"test_charges"}
