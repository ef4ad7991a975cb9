"""Planning recipes: refusals at their fields, what is remembered, when a recipe is fixed, whether the soil reaches."""

import math
from collections import Counter
from dataclasses import replace
from datetime import date
from typing import Any
from uuid import uuid4

import pytest

from service.desk.intake import sacks
from service.desk.plan._checks import check
from service.desk.plan.recipes import (
    ComponentGiven,
    GroupGiven,
    RecipeGiven,
    StabiliserGiven,
    add_recipe,
    change_recipe,
    drop_recipe,
)
from service.desk.plan.sheet import form, form_of, sheet
from service.errors import Conflict, Forbidden, Invalid, NotFound
from service.records.materials import Material
from tests.cast import Cast
from tests.mixes import DRY, WET, Ready, a_ready_job, days, hours, kg, mm, mpa, share


@pytest.fixture
def ready(cast: Cast) -> Ready:
    return a_ready_job(cast)


SOIL, SAND, CEMENT = (
    Material(kind="soil", name="red silt", customer_id=uuid4()),
    Material(kind="sand", name="pit sand"),
    Material(kind="cement", name="cement"),
)
MATERIALS = {one.id: one for one in (SOIL, SAND, CEMENT)}
ASKED = RecipeGiven(
    components=(ComponentGiven(SOIL.id, share(1.0)),),
    stabilisers=(StabiliserGiven(CEMENT.id, share(0.06)),),
    groups=(DRY, WET),
    target_moisture=share(0.10),
    mould_id=uuid4(),
    press_stress_mpa=mpa(4),
)


def told(**asked: Any) -> dict[str, str]:
    """Return the sentences at the fields of a recipe that is refused before anything is stored."""
    with pytest.raises(Invalid) as refused:
        check(replace(ASKED, **asked), MATERIALS)
    return refused.value.fields


def only_recipe(ready: Ready) -> Any:
    (line,) = sheet(ready.cast.tess, job_id=ready.job_id).recipes
    return line


def test_a_recipe_shows_every_share_on_both_bases(cast):
    ready = a_ready_job(cast)
    ready.plan(sand=0.25)
    line = only_recipe(ready)
    # Cement 6 % of the dry soil is 0.06/1.06 of the dry mix; the sand is 0.25/1.06 of it; water 0.10 x 1.06.
    shares = {part.name: (part.dry_soil, part.dry_mix) for part in line.parts}
    assert shares["cement"] == pytest.approx((0.06, 0.056604), abs=1e-6)
    assert shares["pit sand"] == pytest.approx((0.25, 0.235849), abs=1e-6)
    assert shares["red silt"] == pytest.approx((0.75, 0.707547), abs=1e-6)
    assert (line.target_moisture, line.moisture_other) == pytest.approx((0.10, 0.106))
    assert line.state == "planned"


def test_letters_are_proposed_in_order_and_an_own_one_is_kept(ready):
    ready.plan()
    ready.plan(label="x")
    ready.plan()
    assert [line.label for line in sheet(ready.cast.tess, job_id=ready.job_id).recipes] == ["A", "B", "X"]


def test_a_letter_that_is_taken_or_makes_labels_read_two_ways_is_refused(ready):
    ready.plan()
    for label in ("A1", "1", "ABC", "é", "A B", "a"):
        with pytest.raises(Invalid) as refused:
            ready.plan(label=label)
        assert set(refused.value.fields) == {"label"}


def test_shares_that_do_not_sum_to_one_are_told_at_the_last_of_them():
    parts = (ComponentGiven(SOIL.id, share(0.75)), ComponentGiven(SAND.id, share(0.2)))
    assert told(components=parts) == {"components.1.share": "The shares must sum to 100 %; they sum to 95 %."}


def test_three_shares_that_sum_to_one_but_for_the_last_binary_digit_are_a_whole():
    other = Material(kind="soil", name="grey clay")
    parts = tuple(
        ComponentGiven(one.id, share(part)) for one, part in ((SOIL, 0.1), (SAND, 0.2), (other, 0.7000000000000001))
    )
    check(replace(ASKED, components=parts), MATERIALS | {other.id: other})


def test_the_soil_of_another_customer_is_not_offered_and_not_taken(cast):
    cy, dov = a_ready_job(cast), a_ready_job(cast, name="dov")
    assert dov.soil not in [one.id for one in form(cast.tess, job_id=cy.job_id).soils]
    with pytest.raises(Invalid) as refused:
        cy.plan(components=(ComponentGiven(dov.soil, share(1.0)),))
    assert set(refused.value.fields) == {"components.0.material_id"}


@pytest.mark.parametrize(
    ("asked", "field"),
    [
        ({"components": ()}, "components.0.material_id"),
        ({"components": (ComponentGiven(CEMENT.id, share(1.0)),), "stabilisers": ()}, "components.0.material_id"),
        ({"components": (ComponentGiven(SOIL.id, share(1.5)),)}, "components.0.share"),
        ({"stabilisers": (StabiliserGiven(SAND.id, share(0.06)),)}, "stabilisers.0.material_id"),
        ({"stabilisers": (StabiliserGiven(CEMENT.id, share(0.0)),)}, "stabilisers.0.share"),
        ({"stabilisers": (StabiliserGiven(CEMENT.id, share(1.0), "dry mix"),)}, "stabilisers.0.share"),
        ({"stabilisers": (StabiliserGiven(CEMENT.id, share(0.06), "blend"),)}, "stabilisers.0.basis"),
        ({"stabilisers": (StabiliserGiven(CEMENT.id, share(0.03)),) * 2}, "stabilisers.1.material_id"),
        ({"target_moisture": share(0)}, "target_moisture"),
        ({"moisture_basis": "wet mix"}, "moisture_basis"),
        ({"press_stress_mpa": None}, "press_stress_mpa"),
        ({"press_stress_mpa": mpa(0)}, "press_stress_mpa"),
        ({"batches": 0}, "batches"),
        ({"batches": 11}, "batches"),
        ({"groups": ()}, "groups.0.condition"),
        ({"groups": (replace(DRY, blocks=0),)}, "groups.0.blocks"),
        ({"groups": (replace(DRY, blocks=61),)}, "groups.0.blocks"),
        ({"groups": (replace(DRY, condition="wettish"),)}, "groups.0.condition"),
        ({"groups": (replace(DRY, age_days=days(0)),)}, "groups.0.age_days"),
        ({"groups": (replace(DRY, tolerance_hours=hours(168)),)}, "groups.0.tolerance_hours"),
        ({"groups": (replace(DRY, soak_hours=hours(4)),)}, "groups.0.soak_hours"),
        ({"groups": (replace(WET, soak_hours=None, soak_hours_max=None),)}, "groups.0.soak_hours"),
        ({"groups": (replace(WET, soak_hours_max=hours(2)),)}, "groups.0.soak_hours_max"),
        ({"groups": (replace(WET, soak_hours=hours(200), soak_hours_max=None),)}, "groups.0.soak_hours"),
        ({"groups": (DRY, DRY)}, "groups.1.age_days"),
    ],
)
def test_what_cannot_be_mixed_is_told_at_its_field(asked, field):
    assert field in told(**asked)


def test_one_fault_is_told_at_one_field_and_two_at_two():
    assert set(told(target_moisture=share(0))) == {"target_moisture"}
    assert set(told(target_moisture=share(0), batches=0)) == {"target_moisture", "batches"}


def test_a_recipe_may_give_a_stroke_in_place_of_a_stress(ready):
    ready.plan(press_stress_mpa=None, press_stroke_mm=mm(60))
    assert only_recipe(ready).press_stroke_mm == 60


def test_the_lot_gives_every_group_its_blocks_and_stays_the_same(ready):
    ready.plan(groups=(DRY, WET, GroupGiven("soaked", days(28), 3, hours(12), hours(24))))
    first, again = only_recipe(ready), only_recipe(ready)
    assert first.drawn == again.drawn
    assert Counter(place.name for place in first.drawn) == {
        "as cured, 7 days": 5, "soaked 4 h, 7 days": 5, "soaked 24 h, 28 days": 3,
    }  # fmt: skip
    assert first.blocks_of_batches == (7, 6)


def test_what_was_used_for_the_last_recipe_is_offered_for_the_next(ready):
    ready.plan(dose=0.05, basis="dry mix")
    ready.cast.clock.forward(minutes=1)
    asked = form(ready.cast.tess, job_id=ready.job_id)
    assert asked.label == "B"
    assert [(part.name, part.share, part.basis) for part in asked.shown.parts] == [
        ("red silt", 1.0, "blend"), ("cement", 0.05, "dry mix"),
    ]  # fmt: skip


def test_another_customers_job_remembers_numbers_and_shop_materials_but_no_soil_of_his(cast):
    a_ready_job(cast).plan()
    dov = a_ready_job(cast, name="dov")
    shown = form(cast.tess, job_id=dov.job_id).shown
    assert [part.name for part in shown.parts] == ["cement"]
    assert shown.press_stress_mpa == 4


def test_a_recipe_is_changed_in_its_place_until_a_batch_exists(cast):
    ready = a_ready_job(cast)
    recipe_id = ready.plan()
    seed = only_recipe(ready).draw_seed
    change_recipe(ready.cast.tess, recipe_id=recipe_id, asked=ready.asked(dose=0.04, groups=(WET,), batches=1))
    line = only_recipe(ready)
    assert (line.id, line.label, line.draw_seed) == (recipe_id, "A", seed)
    assert [part.share for part in line.parts] == [1.0, 0.04]
    assert [group.name for group in line.groups] == ["soaked 4 h, 7 days"]
    ready.begin(recipe_id)
    with pytest.raises(Conflict, match="Plan another to replace it"):
        change_recipe(ready.cast.tess, recipe_id=recipe_id, asked=ready.asked())


def test_a_mixed_recipe_is_replaced_once_and_stays_to_be_seen(ready):
    recipe_id = ready.plan()
    with pytest.raises(Conflict, match="Change it instead"):
        add_recipe(ready.cast.tess, job_id=ready.job_id, asked=ready.asked(), replaces_id=recipe_id)
    ready.begin(recipe_id)
    add_recipe(ready.cast.tess, job_id=ready.job_id, asked=ready.asked(dose=0.05), replaces_id=recipe_id)
    old, new = sheet(ready.cast.tess, job_id=ready.job_id).recipes
    assert (old.state, old.replaced_by, new.replaces) == ("replaced", "B", "A")
    with pytest.raises(Conflict, match="already"):
        add_recipe(ready.cast.tess, job_id=ready.job_id, asked=ready.asked(), replaces_id=recipe_id)
    with pytest.raises(Conflict, match="Recipe B"):
        ready.begin(recipe_id)


def test_the_form_of_a_replacement_takes_the_next_letter_and_that_of_a_change_its_own(ready):
    recipe_id = ready.plan()
    assert form_of(ready.cast.tess, recipe_id=recipe_id).label == "A"
    assert form_of(ready.cast.tess, recipe_id=recipe_id, in_its_place=True).label == "B"


def test_a_recipe_is_dropped_once_with_a_reason(ready):
    recipe_id = ready.plan()
    with pytest.raises(Invalid) as refused:
        drop_recipe(ready.cast.tess, recipe_id=recipe_id, because=" ")
    assert set(refused.value.fields) == {"because"}
    drop_recipe(ready.cast.tess, recipe_id=recipe_id, because="no sand to be had")
    assert (only_recipe(ready).state, only_recipe(ready).dropped_because) == ("dropped", "no sand to be had")
    with pytest.raises(Conflict):
        drop_recipe(ready.cast.tess, recipe_id=recipe_id, because="again")
    with pytest.raises(Conflict):
        ready.begin(recipe_id)


def test_the_soil_needed_stands_against_the_soil_in_hand(cast):
    ready = a_ready_job(cast, sack_kg=30.0)
    sacks.prepare(
        cast.tess, receipt_id=ready.sack, oversize_mm=mm(5), oversize_kg=kg(1.4), oversize_became="thrown out"
    )
    ready.plan(dose=0.06)
    found = sheet(cast.tess, job_id=ready.job_id)
    soil = next(line for line in found.materials if line.name == "red silt")
    # Needed: 10 blocks and a test charge for each of 2 batches, 12 x 2.394 kg x 1.05 / 1.06 = 28.45698 kg dry.
    # In hand: (30 - 1.4)/1.04 = 27.5 kg dry.
    assert soil.needed_kg == pytest.approx(28.45698, abs=1e-4)
    assert soil.in_hand_kg == pytest.approx(27.5)
    assert soil.short_kg == pytest.approx(0.95698, abs=1e-4)
    assert found.density_is_working
    assert next(line for line in found.materials if line.name == "cement").in_hand_kg is None


def test_a_short_sack_says_what_to_cut_and_what_was_weighed_out_is_gone(cast):
    ready = a_ready_job(cast, sack_kg=30.0)
    ready.plan()
    ready.plan(dose=0.0)
    found = sheet(cast.tess, job_id=ready.job_id)
    soil = next(line for line in found.materials if line.name == "red silt")
    # Needed with two test charges a recipe 12 x 2.371415 + 12 x 2.5137 = 58.62138 kg, in hand 30/1.04 = 28.84615:
    # 29.77523 short. Four dry blocks and four soaked ones may go: two of each group; 4 x 2.371415 + 4 x 2.5137 =
    # 19.54046; 10.23477 is missing even then.
    assert soil.short_kg == pytest.approx(29.77523, abs=1e-3)
    assert [(cut.recipe, cut.condition, cut.blocks_to) for cut in soil.cuts] == [
        ("A", "as cured, 7 days", 3), ("B", "as cured, 7 days", 3),
        ("A", "soaked 4 h, 7 days", 3), ("B", "soaked 4 h, 7 days", 3),
    ]  # fmt: skip
    assert soil.still_short_kg == pytest.approx(10.23477, abs=1e-3)


def test_what_a_batch_takes_is_gone_from_the_sack_and_from_what_is_needed(ready):
    recipe_id = ready.plan()
    ready.mix(recipe_id)
    soil = next(line for line in sheet(ready.cast.tess, job_id=ready.job_id).materials if line.name == "red silt")
    # 14.800 kg were weighed out of 60 kg; five blocks and a test charge are left to mix.
    assert soil.sacks[0].left_kg == pytest.approx(45.2)
    assert soil.needed_kg == pytest.approx(6 * 2.371415, abs=1e-4)


def test_a_customer_plans_nothing_and_sees_no_plan(ready):
    with pytest.raises(Forbidden):
        sheet(ready.cast.cy, job_id=ready.job_id)
    with pytest.raises(Forbidden):
        add_recipe(ready.cast.cy, job_id=ready.job_id, asked=ready.asked())


def test_a_job_that_is_not_there_has_no_plan(ready):
    with pytest.raises(NotFound):
        sheet(ready.cast.tess, job_id=ready.soil)


def test_a_recipe_with_a_day_of_mixing_of_its_own_gets_a_remark_until_another_shares_it(ready):
    monday, tuesday = date(2027, 3, 1), date(2027, 3, 2)
    ready.plan(mix_on=monday)
    assert sheet(ready.cast.tess, job_id=ready.job_id).remarks == ()
    ready.plan(mix_on=monday, dose=0.04)
    ready.plan(mix_on=tuesday, dose=0.08)
    (remark,) = sheet(ready.cast.tess, job_id=ready.job_id).remarks
    assert (remark.english[:28], remark.values["recipes"]) == ("{recipes} is planned for a d", ("C",))
    page = ready.cast.browser("tess").get(f"/jobs/{ready.job_id}/plan").text
    assert "C is planned for a day of its own." in page
    ready.plan(mix_on=date(2027, 3, 3), dose=0.03)
    (remark,) = sheet(ready.cast.tess, job_id=ready.job_id).remarks
    assert (remark.english[:27], remark.values["recipes"]) == ("{recipes} are planned for d", ("C", "D"))
    ready.plan(mix_on=date(2027, 3, 3), dose=0.035)
    ready.plan(mix_on=tuesday, dose=0.05)
    assert sheet(ready.cast.tess, job_id=ready.job_id).remarks == ()


def test_before_anything_is_mixed_the_plan_says_what_so_many_blocks_can_tell_apart(ready):
    ready.plan()
    found = sheet(ready.cast.tess, job_id=ready.job_id).detectable_difference
    of_one, of_two = (dict(found.shares[mixes]) for mixes in (1, 2))
    # By hand, five blocks, scatter 15 %, mixes 5 %: (1.6449 + 0.8416) sqrt(2 (0.15^2/5 + 0.05^2)) = 0.2942 on the log.
    assert of_one[5] == pytest.approx(math.exp(0.2942) - 1, abs=0.001)
    # From two mixes: 2.4865 sqrt(2 (0.0045 + 0.00125)) = 0.2666.
    assert of_two[5] == pytest.approx(math.exp(0.2666) - 1, abs=0.001)
    assert (found.planned, found.rests_on) == ((5,), None)
    page = ready.cast.browser("tess").get(f"/jobs/{ready.job_id}/plan").text
    assert "With 1 batch of each: 2 blocks" in page and "5 blocks 34 %" in page
    assert "without a published source" in page
