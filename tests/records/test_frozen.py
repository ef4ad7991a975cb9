"""What was read, written down or issued cannot be changed, not even by a statement that goes round the desks."""

from datetime import date
from typing import Any

import pytest
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError

from service.records import audit_log, corrections, files, versions
from service.records.presses import Calibration, CalibrationPoint
from service.records.results import IssuedCalibration, IssuedResult
from service.records.soil_tests import (
    BulkTest,
    CupTest,
    HydrometerReading,
    HydrometerTest,
    JarReading,
    SoilSign,
    SoilTest,
)
from tests.records.shop import PRESSED, SmallShop

# A statement against a row of each kind of frozen table, and what it tries.
CHANGES = {
    "trail": "UPDATE trail SET act = 'nothing happened'",
    "correction": "UPDATE correction SET because = 'no reason'",
    "issued_result": "UPDATE issued_result SET data = '{}'",
    "issued_calibration": "UPDATE issued_calibration SET created_at = '2027-01-01 00:00:00+00'",
    "calibration": "UPDATE calibration SET reference = 'another cell'",
    "calibration_point": "UPDATE calibration_point SET force_kn = 1",
    "crushing": "UPDATE crushing SET gauge_mpa = 12",
    "soil_test": "UPDATE soil_test SET kind = 'jar'",
    "soil_sign": "UPDATE soil_sign SET sign = 'none'",
    "hydrometer_test": "UPDATE hydrometer_test SET meniscus = 2",
    "hydrometer_reading": "UPDATE hydrometer_reading SET reading = 30",
    "jar_reading": "UPDATE jar_reading SET clay_mm = 0",
    "bulk_test": "UPDATE bulk_test SET volume_l = 2",
    "cup_test": "UPDATE cup_test SET oven_dried = NOT oven_dried",
}


@pytest.fixture
def written(shop: SmallShop) -> SmallShop:
    """Return the small shop with a row in each of the tables above."""
    session = shop.session
    page = "a" * 64
    files.note(session, sha256=page, media_type="text/html", size=10)
    shop.add(
        calibration=Calibration(
            gauge_id=shop.gauge.id,
            done_on=date(2027, 1, 4),
            valid_from=date(2027, 1, 4),
            valid_until=date(2028, 1, 4),
            reference="Load cell",
        ),
        crushed=shop.crushing(shop.block_1),
        soil_test=SoilTest(material_id=shop.soil.id, kind="organic", done_at=PRESSED, done_by=shop.tess.id, as_read={}),
        issued=IssuedResult(
            job_id=shop.job.id,
            number=1,
            issued_at=PRESSED,
            issued_by=shop.olu.id,
            remark="",
            data='{"answer":1}',
            data_sha256=page,
            engine="1",
            page_sha256=page,
            pdf_sha256=page,
            language="en",
            paper="A4",
            changes="",
        ),
    )
    shop.add(
        point=CalibrationPoint(
            calibration_id=shop.calibration.id, position=1, gauge_mpa=5.0, force_kn=21.9, as_read={}
        ),
        rests_on=IssuedCalibration(issued_result_id=shop.issued.id, calibration_id=shop.calibration.id),
        sign=SoilSign(test_id=shop.soil_test.id, positive=True, sign="smells of earth mould", as_read={}),
        suspension=HydrometerTest(
            test_id=shop.soil_test.id,
            dry_mass_g=50,
            specific_gravity=2.65,
            separation_mm=2,
            dispersant="5 g of sodium hexametaphosphate",
            as_read={},
        ),
        blank=HydrometerReading(test_id=shop.soil_test.id, position=1, reading=5, temperature_c=20, as_read={}),
        jar=JarReading(test_id=shop.soil_test.id, sand_mm=65, silt_mm=15, clay_mm=20, as_read={}),
        bulk=BulkTest(test_id=shop.soil_test.id, filled_kg=1.3, volume_l=1, damp=True, as_read={}),
        cup=CupTest(test_id=shop.soil_test.id, oven_dried=False, as_read={}),
    )
    corrections.amend(
        session, shop.sack, {"mass_kg": 22.5}, as_read={}, at=PRESSED, by=shop.tess.id, because="scale not zeroed"
    )
    append(shop)
    session.commit()
    return shop


def append(shop: SmallShop, **details: Any) -> int:
    return audit_log.append(
        shop.session,
        at=PRESSED,
        person_id=shop.tess.id,
        device_id=None,
        via="page",
        request_id="r1",
        act="crushing.record",
        subject_kind="crushing",
        subject_id=shop.block_1.id,
        details=details,
    )


@pytest.mark.parametrize("table", CHANGES)
def test_a_written_row_is_not_changed(written: SmallShop, table: str) -> None:
    with pytest.raises(IntegrityError, match="never changed"):
        written.session.connection().execute(text(CHANGES[table]))


@pytest.mark.parametrize("table", CHANGES)
def test_a_written_row_is_not_deleted(written: SmallShop, table: str) -> None:
    with pytest.raises(IntegrityError, match="never changed"):
        written.session.connection().execute(text(f"DELETE FROM {table}"))


def test_a_crushing_may_be_ended_and_nothing_else_of_it_moves(written: SmallShop) -> None:
    versions.end(written.session, written.crushed, at=PRESSED, by=written.tess.id, because="the wrong block was typed")
    assert (written.crushed.gauge_mpa, written.crushed.ended_because) == (9.0, "the wrong block was typed")


def test_an_issued_result_may_be_withdrawn_and_keeps_its_data(written: SmallShop) -> None:
    written.issued.withdrawn_at = PRESSED
    written.issued.withdrawn_because = "the wrong customer"
    written.session.add(written.issued)
    written.session.commit()
    assert written.issued.data == '{"answer":1}'
