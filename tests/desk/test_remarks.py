"""Remarks on single blocks: density against the others of the batch, and Grubbs' test. Nothing is ever taken out."""

import pytest
from sqlmodel import Session, select

from service.desk.crushing import sheet
from service.desk.results import live
from service.records.batches import Batch
from service.records.blocks import Block
from tests.cast import Cast
from tests.trials import PEAKS, Tried, a_tried_job

# Every block weighs 2.60 kg in 140 x 90 x 100 mm but this one.
HEAVY_KG = 2.70


def weigh(cast: Cast, label: str, wet_mass_kg: float) -> None:
    with Session(cast.stores.write) as session:
        block = session.exec(select(Block).where(Block.label == label)).one()
        block.wet_mass_kg = wet_mass_kg
        session.commit()


def result(cast: Cast, tried: Tried):
    return live.live(cast.tess, job_id=tried.job_id).result


def test_a_block_more_than_3_percent_denser_than_the_others_is_remarked_on_and_counts(cast):
    tried = a_tried_job(cast)
    weigh(cast, "1-A1", HEAVY_KG)
    found = result(cast, tried)
    odd = [one for one in found.readings if one.stands_out]
    # 2.70 / 2.60 - 1 by hand; of the others of batch A each lies at the middle still.
    assert [one.block for one in odd] == ["1-A1"] and odd[0].density_off == pytest.approx(2.70 / 2.60 - 1, rel=1e-12)
    assert odd[0].wet_density_kg_m3 == pytest.approx(2.70 / 0.00126, rel=1e-12) and odd[0].fate == "counted"


def test_a_block_just_under_3_percent_is_not(cast):
    tried = a_tried_job(cast)
    weigh(cast, "1-A1", 2.60 * 1.0299)
    assert not any(one.stands_out for one in result(cast, tried).readings)


def test_the_page_of_the_block_says_it_too(cast):
    tried = a_tried_job(cast)
    weigh(cast, "1-A1", HEAVY_KG)
    assert sheet.sheet(cast.tess, block_id=tried.blocks["1-A1"]).stands_out
    assert not sheet.sheet(cast.tess, block_id=tried.blocks["1-A2"]).stands_out
    page = cast.browser("tess").get(f"/blocks/{tried.blocks['1-A1']}").text
    assert "3.8 % denser than the middle of the other blocks of its batch" in page


def test_a_reading_beyond_grubbs_distance_is_remarked_on_and_counts(cast):
    peaks = {"A": {**PEAKS["A"], "as cured": [12.4, 13.1, 11.9, 12.8, 5.0]}}
    (far,) = result(cast, a_tried_job(cast, peaks=peaks)).outliers
    # Printed tables of the two-sided test at 5 %: 1.715 for five.
    assert (far.block, far.of_blocks) == ("1-A5", 5) and far.critical == pytest.approx(1.715, abs=5e-4)
    assert far.distance > far.critical


def test_blocks_that_were_held_leave_nothing_for_grubbs_to_test(cast):
    peaks = {"B": {"as cured": [-28.0, -28.0, 5.0, -28.0, -28.0], "soaked": [15.0, 16.5, 14.5, 17.0, 15.5]}}
    assert result(cast, a_tried_job(cast, peaks=peaks)).outliers == ()


def test_both_remarks_stand_on_the_page_of_results(cast):
    tried = a_tried_job(cast, peaks={"A": {**PEAKS["A"], "as cured": [12.4, 13.1, 11.9, 12.8, 5.0]}})
    weigh(cast, "1-A1", HEAVY_KG)
    page = cast.browser("tess").get(f"/jobs/{tried.job_id}/results").text
    assert "Grubbs' test at 5 % allows 1.72." in page.replace("&#39;", "'")
    assert "All of these count." in page and "It counts all the same." in page


def test_the_page_of_the_batch_says_it_at_the_block(cast):
    a_tried_job(cast)
    weigh(cast, "1-A1", HEAVY_KG)
    with Session(cast.stores.write) as session:
        batch_id = session.exec(select(Block.batch_id).where(Block.label == "1-A1")).one()
        batch = session.get(Batch, batch_id)
        assert batch is not None
        batch.wetted_at = batch.mixed_at
        session.commit()
    page = cast.browser("tess").get(f"/batches/{batch_id}").text
    assert page.count("3.8 % denser than the middle of the other blocks of its batch") == 1
    assert "1-A2" in page and "lighter than the middle" not in page
