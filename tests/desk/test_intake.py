"""The intake keeps what was read, as it was typed, and works out from it what the tables only hold raw."""

from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from threading import Barrier
from uuid import UUID, uuid4

import pytest
from sqlmodel import Session, select

from service.desk import customers, people
from service.desk.doorway import Caller, Done
from service.desk.intake import cans, jobs, sacks, sheet, soil, soil_tests
from service.errors import Conflict, Forbidden, Invalid, NotFound
from service.records.jobs import JobCriterion
from service.typed import Typed
from tests.cast import Cast


def g(value: float) -> Typed:
    return Typed(value, f"{value:g}", "g")


def grams_as_kg(value: float) -> Typed:
    return Typed(value / 1000, f"{value:g}", "g")


def kg(value: float) -> Typed:
    return Typed(value, f"{value:g}", "kg")


def mm(value: float) -> Typed:
    return Typed(value, f"{value:g}", "mm")


ASKED = jobs.Question("North paddock", "How little cement will do?", "least stabiliser")
CAN = cans.CanGiven(wet_kg=kg(0.512), dry_kg=kg(0.478), can_kg=kg(0.051))


def open_job(cast: Cast, name: str = "cy", **more: object) -> UUID:
    return jobs.open_job(cast.tess, asked=ASKED, customer_id=cast.customers[name], **more).id


def take_in(cast: Cast, job_id: UUID, label: str = "J1-A", **more: object) -> Done:
    given: dict[str, object] = {"new_soil": "Red subsoil", **more}
    return sacks.take_in(cast.tess, job_id=job_id, sack=sacks.Sack(label, kg(25.0)), **given)


def soil_of(cast: Cast) -> UUID:
    return UUID(str(take_in(cast, open_job(cast)).details["material"]))


def test_jobs_are_numbered_one_after_the_other_and_a_new_customer_comes_with_his_job(cast):
    first = jobs.open_job(cast.tess, asked=ASKED, new_customer="Ada's Adobe")
    second = jobs.open_job(cast.tess, asked=ASKED, customer_id=first.details["customer"])
    assert (first.details["number"], second.details["number"]) == (1, 2)


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({}, "customer_id"),
        ({"new_customer": " "}, "customer_id"),
        ({"new_customer": "Ada", "criteria": ["no such rule"]}, "criteria"),
    ],
)
def test_a_job_without_a_customer_or_with_an_unknown_criterion_is_not_opened(cast, more, field):
    with pytest.raises(Invalid) as refused:
        jobs.open_job(cast.tess, asked=ASKED, **more)
    assert field in refused.value.fields
    assert jobs.form(cast.tess).customers == [
        (cast.customers["cy"], "Cy's Cob Yard"),
        (cast.customers["dov"], "Dov's Dry Walls"),
    ]


def test_a_block_of_the_customers_machine_has_three_sides_or_none(cast):
    asked = jobs.Question("Paddock", "Good?", "addition", measures=jobs.Measures(machine_length_mm=mm(290)))
    with pytest.raises(Invalid) as refused:
        jobs.open_job(cast.tess, asked=asked, customer_id=cast.customers["cy"])
    assert set(refused.value.fields) == {"machine_width_mm", "machine_height_mm"}


def test_two_jobs_opened_at_once_get_two_numbers(cast):
    both_look_first = Barrier(2)

    def begin(caller: Caller) -> int:
        both_look_first.wait()
        done = jobs.open_job(caller, asked=ASKED, customer_id=cast.customers["cy"])
        return int(done.details["number"])

    with ThreadPoolExecutor(2) as pool:
        assert sorted(pool.map(begin, [cast.tess, cast.olu])) == [1, 2]


def test_customers_are_paged_by_name_with_their_jobs_counted(cast):
    for number in range(30):
        people.add_customer(cast.tess, name=f"Walls {number:02}", contact=None, language=None)
    for _ in range(2):
        open_job(cast)
    first, second = (customers.customers(cast.tess, page=page) for page in (1, 2))
    assert (first.total, first.pages, len(first.lines), len(second.lines)) == (32, 2, 25, 7)
    assert [(one.name, one.jobs) for one in first.lines[:2]] == [("Cy's Cob Yard", 2), ("Dov's Dry Walls", 0)]
    cys = customers.customer(cast.tess, customer_id=cast.customers["cy"])
    assert [job.number for job in cys.jobs] == [2, 1]
    assert [reader.email for reader in cys.readers] == ["cy@shop.example"]


def test_a_criterion_is_copied_to_the_job_and_taken_away_again(cast):
    offered = [one.key for one in jobs.form(cast.tess).criteria]
    assert offered, "the published rules that were read are offered"
    job_id = open_job(cast, criteria=offered[:1])
    with Session(cast.stores.read) as session:
        (kept,) = session.exec(select(JobCriterion))
    assert kept.key == offered[0] and '"rules"' in kept.rules
    jobs.choose_criteria(cast.tess, job_id=job_id, criteria=[])
    assert sheet.sheet(cast.tess, job_id=job_id).criteria == []


def test_what_was_asked_is_corrected_with_a_reason_and_the_old_words_stay(cast):
    job_id = open_job(cast)
    wall = jobs.Measures(wall_thickness_mm=Typed(139.7, "5.5", "in"))
    asked = jobs.Question("South paddock", ASKED.question, ASKED.question_kind, date(2027, 4, 1), wall)
    jobs.correct_job(cast.olu, job_id=job_id, asked=asked, because="Misheard on the telephone.")
    view = sheet.asked(cast.tess, job_id=job_id)
    assert view.reading.values["site"] == "South paddock"
    assert view.reading.typed["wall_thickness_mm"] == {"text": "5.5", "unit": "in"}
    (correction,) = view.corrections
    assert (correction.by, correction.because) == ("Olu", "Misheard on the telephone.")
    assert {(one.column, one.before, one.after) for one in correction.changes} == {
        ("site", "North paddock", "South paddock"),
        ("promised_on", "nothing", "2027-04-01"),
        ("wall_thickness_mm", "nothing", "5.5 in"),
    }


def test_a_correction_without_a_reason_or_without_a_change_is_refused(cast):
    job_id = open_job(cast)
    other = jobs.Question("South", ASKED.question, ASKED.question_kind)
    for asked, because in ((other, " "), (ASKED, "No change at all.")):
        with pytest.raises(Invalid) as refused:
            jobs.correct_job(cast.tess, job_id=job_id, asked=asked, because=because)
        assert "because" in refused.value.fields


def test_a_job_is_closed_once_and_for_a_reason(cast):
    job_id = open_job(cast)
    with pytest.raises(Invalid):
        jobs.close_job(cast.tess, job_id=job_id, because=" ")
    jobs.close_job(cast.tess, job_id=job_id, because="The customer has sold the land.")
    with pytest.raises(Invalid, match="finished already"):
        jobs.close_job(cast.tess, job_id=job_id, because="Again.")


def test_the_labels_proposed_for_sacks_go_on_from_the_last(cast):
    job_id = open_job(cast)
    labels = []
    for _ in range(28):
        labels.append(sheet.sheet(cast.tess, job_id=job_id).next_label)
        take_in(cast, job_id, labels[-1])
    assert labels[:2] == ["J1-A", "J1-B"]
    assert labels[25:] == ["J1-Z", "J1-AA", "J1-AB"]


def test_no_two_sacks_of_the_shop_carry_one_label(cast):
    take_in(cast, open_job(cast), "K-7")
    with pytest.raises(Invalid) as refused:
        take_in(cast, open_job(cast, "dov"), " k-7 ")
    assert set(refused.value.fields) == {"label"}


def test_another_customers_soil_goes_into_no_sack_of_this_job(cast):
    dovs = take_in(cast, open_job(cast, "dov")).details["material"]
    with pytest.raises(NotFound):
        take_in(cast, open_job(cast), "J2-A", material_id=dovs, new_soil=None)


def test_a_sack_weighs_something_and_did_not_come_tomorrow(cast):
    job_id = open_job(cast)
    for sack, field in (
        (sacks.Sack("A-1", kg(0)), "mass_kg"),
        (sacks.Sack("A-1", kg(3), received_at=cast.clock() + timedelta(days=1)), "received_at"),
        (sacks.Sack("A-1", kg(3), retained="2 kg in a jar"), "retained_until"),
        (sacks.Sack("A 1;", kg(3)), "label"),
    ):
        with pytest.raises(Invalid) as refused:
            sacks.take_in(cast.tess, job_id=job_id, sack=sack, new_soil="Clay")
        assert set(refused.value.fields) == {field}


def test_a_sack_corrected_keeps_its_first_weighing_as_it_was_typed(cast):
    receipt_id = take_in(cast, open_job(cast)).id
    better = sacks.Sack("J1-A", Typed(24.94758035, "55", "lb"))
    sacks.correct_sack(cast.tess, receipt_id=receipt_id, sack=better, because="The scale was set to pounds.")
    view = sheet.sack(cast.tess, receipt_id=receipt_id)
    assert view.reading.values["mass_kg"] == pytest.approx(55 * 0.45359237)
    (change,) = view.corrections[0].changes
    assert (change.column, change.before, change.after) == ("mass_kg", "25 kg", "55 lb")


def test_oversize_is_size_mass_and_fate_together_and_no_more_than_the_sack(cast):
    receipt_id = take_in(cast, open_job(cast)).id
    with pytest.raises(Invalid) as refused:
        sacks.prepare(cast.tess, receipt_id=receipt_id, oversize_mm=mm(20))
    assert set(refused.value.fields) == {"oversize_kg", "oversize_became"}
    whole = {"oversize_mm": mm(20), "oversize_became": "thrown on the heap"}
    with pytest.raises(Invalid):
        sacks.prepare(cast.tess, receipt_id=receipt_id, oversize_kg=kg(26), **whole)
    sacks.prepare(cast.tess, receipt_id=receipt_id, oversize_kg=kg(1.2), pulverised=True, **whole)
    with pytest.raises(Invalid, match="reason"):
        sacks.prepare(cast.tess, receipt_id=receipt_id, pulverised=True)
    sacks.prepare(cast.tess, receipt_id=receipt_id, pulverised=True, because="Nothing was taken off this one.")
    view = sheet.sack(cast.tess, receipt_id=receipt_id)
    assert view.preparation and view.preparation.reading.values["oversize_kg"] is None
    assert [one.ended.because for one in view.former if one.ended] == ["Nothing was taken off this one."]


def test_moisture_is_the_mean_of_the_cans_that_stand(cast):
    # By hand: (0.512 - 0.478) / (0.478 - 0.051) = 0.034 / 0.427; (0.110 - 0.100) / 0.100 = 0.10.
    receipt_id = take_in(cast, open_job(cast)).id
    other = cans.CanGiven(wet_kg=grams_as_kg(110), dry_kg=grams_as_kg(100))
    cans.weigh_cans(cast.tess, receipt_id=receipt_id, cans=[CAN, other], method="oven")
    view = sheet.sack(cast.tess, receipt_id=receipt_id)
    assert view.moisture and view.moisture.moisture == pytest.approx((0.034 / 0.427 + 0.10) / 2)
    assert view.moisture.range == pytest.approx(0.10 - 0.034 / 0.427)
    cans.exclude_can(cast.tess, can_id=view.cans[1].id, because="It was dropped.")
    after = sheet.sack(cast.tess, receipt_id=receipt_id)
    assert after.moisture and after.moisture.moistures == pytest.approx([0.034 / 0.427])
    assert [one.ended.because for one in after.cans if one.ended] == ["It was dropped."]
    assert view.cans[1].reading.typed["wet_kg"] == {"text": "110", "unit": "g"}


def test_a_can_is_corrected_once_and_the_second_correction_is_told_so(cast):
    receipt_id = take_in(cast, open_job(cast)).id
    cans.weigh_cans(cast.tess, receipt_id=receipt_id, cans=[CAN], method="oven")
    (first,) = sheet.sack(cast.tess, receipt_id=receipt_id).cans
    right = cans.CanGiven(wet_kg=kg(0.521), dry_kg=kg(0.478), can_kg=kg(0.051))
    cans.correct_can(cast.tess, can_id=first.id, can=right, method="oven", because="Two digits swapped.")
    with pytest.raises(Conflict):
        cans.correct_can(cast.olu, can_id=first.id, can=CAN, method="oven", because="Swapped?")
    view = sheet.sack(cast.tess, receipt_id=receipt_id)
    assert view.moisture and view.moisture.moisture == pytest.approx(0.043 / 0.427)


def test_a_can_that_gained_mass_in_the_oven_is_refused_at_its_row(cast):
    receipt_id = take_in(cast, open_job(cast)).id
    wrong = cans.CanGiven(wet_kg=kg(0.4), dry_kg=kg(0.478))
    with pytest.raises(Invalid) as refused:
        cans.weigh_cans(cast.tess, receipt_id=receipt_id, cans=[CAN, wrong], method="oven")
    assert set(refused.value.fields) == {"cans.1.wet_kg"}
    assert sheet.sack(cast.tess, receipt_id=receipt_id).cans == []


def test_the_soil_page_reads_its_curve_off_the_newest_standing_sieving(cast):
    # By hand: 100 g, 20 washed out, 50 kept on 1 mm, 28 in the pan: 98 g accounted for, 48/98 pass; loss 2/80.
    material_id = soil_of(cast)
    given = {"dry_mass_g": g(100), "washed_dry_mass_g": g(80), "material_id": material_id}
    kept = [soil_tests.SieveGiven(mm(1), g(50))]
    first = soil_tests.record_sieves(cast.tess, sieves=kept, pan_g=g(28), **given)
    view = soil.soil(cast.tess, material_id=material_id)
    assert view.grading and view.grading.curve.points[0].share == pytest.approx(48 / 98)
    assert view.grading.loss_share == pytest.approx(2 / 80) and view.grading.washed
    about = soil_tests.About(replaces_id=first.id, because="The pan was read without its brush.")
    soil_tests.record_sieves(cast.tess, sieves=kept, pan_g=g(30), about=about, **given)
    after = soil.soil(cast.tess, material_id=material_id)
    assert after.grading and after.grading.loss_share == 0
    assert [one.ended.because for one in after.former if one.ended] == ["The pan was read without its brush."]
    assert len(after.standing["sieve"]) == 1


def test_limits_need_both_the_cup_and_the_threads(cast):
    # By hand: (137 - 100) / 100 at 25 blows is the liquid limit, 0.37; threads at 0.17; index 0.20 above the A-line.
    material_id = soil_of(cast)
    soil_tests.record_flow(cast.tess, material_id=material_id, flow=[soil_tests.CupGiven(25, g(137), g(100))])
    half = soil.soil(cast.tess, material_id=material_id).plasticity
    assert half.limits is None and half.flow and half.flow.liquid_limit == pytest.approx(0.37)
    threads = [soil_tests.ThreadGiven(g(22.7), g(21), g(11)), soil_tests.ThreadGiven(g(23.4), g(20))]
    soil_tests.record_threads(cast.tess, material_id=material_id, threads=threads)
    whole = soil.soil(cast.tess, material_id=material_id).plasticity.limits
    assert whole and whole.plasticity_index == pytest.approx(0.20) and whole.above_a_line


@pytest.mark.parametrize(
    ("flow", "field"),
    [
        ([], "flow"),
        ([soil_tests.CupGiven(20, g(140), g(100)), soil_tests.CupGiven(30, g(136), g(100))], "flow"),
        ([soil_tests.CupGiven(25, g(90), g(100))], "flow.0.wet_g"),
        ([soil_tests.CupGiven(25, g(90), g(50), g(50))], "flow.0.dry_g"),
        ([soil_tests.CupGiven(4, g(140), g(100))], "flow.0.blows"),
        ([soil_tests.CupGiven(25, g(100), g(100))], "flow.0.wet_g"),
    ],
)
def test_a_cup_that_cannot_be_is_refused_at_its_field(cast, flow, field):
    material_id = soil_of(cast)
    with pytest.raises(Invalid) as refused:
        soil_tests.record_flow(cast.tess, material_id=material_id, flow=flow)
    assert set(refused.value.fields) == {field}
    assert soil.soil(cast.tess, material_id=material_id).standing == {}


def test_a_soil_that_gives_no_thread_is_said_to_give_none(cast):
    material_id = soil_of(cast)
    with pytest.raises(Invalid):
        soil_tests.record_threads(cast.tess, material_id=material_id, threads=[])
    soil_tests.record_threads(cast.tess, material_id=material_id, threads=[], non_plastic=True)
    soil_tests.record_flow(cast.tess, material_id=material_id, flow=[soil_tests.CupGiven(25, g(120), g(100))])
    limits = soil.soil(cast.tess, material_id=material_id).plasticity.limits
    assert limits and limits.non_plastic and limits.plasticity_index == 0


def test_the_box_tells_the_shrinkage_and_cannot_shrink_away(cast):
    # By hand: 30 mm of 600 mm are 5 %.
    material_id = soil_of(cast)
    box = {"box_length_mm": mm(600), "box_width_mm": mm(40), "box_depth_mm": mm(40), "material_id": material_id}
    with pytest.raises(Invalid) as refused:
        soil_tests.record_shrinkage(cast.tess, shrinkage_mm=mm(600), **box)
    assert set(refused.value.fields) == {"shrinkage_mm"}
    soil_tests.record_shrinkage(cast.tess, shrinkage_mm=mm(30), **box)
    assert soil.soil(cast.tess, material_id=material_id).shrinkage == pytest.approx(0.05)


def test_a_sign_found_is_told_on_the_job_and_on_the_soil(cast):
    job_id = open_job(cast)
    material_id = UUID(str(take_in(cast, job_id).details["material"]))
    soil_tests.record_sign(cast.tess, material_id=material_id, kind="salts", positive=True, sign="white crust")
    soil_tests.record_sign(cast.tess, material_id=material_id, kind="organic", positive=False, sign="smell when damp")
    (line,) = sheet.sheet(cast.tess, job_id=job_id).soils
    assert (line.found, line.tests) == (["white crust"], {"salts", "organic"})
    view = soil.soil(cast.tess, material_id=material_id)
    assert view.signs_found == ["white crust"]
    soil_tests.exclude_test(cast.tess, test_id=view.standing["salts"][0].id, because="It was flour.")
    assert soil.soil(cast.tess, material_id=material_id).signs_found == []


def test_a_test_replaces_only_one_of_the_same_soil_and_kind(cast):
    job_id = open_job(cast)
    one = UUID(str(take_in(cast, job_id).details["material"]))
    other = UUID(str(take_in(cast, job_id, "J1-B", new_soil="Grey clay").details["material"]))
    done = soil_tests.record_sign(cast.tess, material_id=one, kind="salts", positive=True, sign="crust")
    about = soil_tests.About(replaces_id=done.id, because="Wrong sack.")
    with pytest.raises(NotFound):
        soil_tests.record_sign(cast.tess, material_id=other, kind="salts", positive=False, sign="crust", about=about)
    with pytest.raises(NotFound):
        soil_tests.record_sign(cast.tess, material_id=one, kind="organic", positive=False, sign="smell", about=about)


def test_a_customer_takes_nothing_in_and_nobody_reads_what_is_not_there(cast):
    with pytest.raises(Forbidden):
        sheet.sheet(cast.cy, job_id=open_job(cast))
    for ask in (
        lambda: sheet.sheet(cast.tess, job_id=uuid4()),
        lambda: sheet.sack(cast.tess, receipt_id=uuid4()),
        lambda: soil.soil(cast.tess, material_id=uuid4()),
    ):
        with pytest.raises(NotFound):
            ask()
