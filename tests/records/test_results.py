"""Issued results: whose they are, which calibrations they rest on, which links open them."""

from datetime import date, timedelta
from typing import Any
from uuid import uuid4

import pytest

from service.errors import NotFound
from service.records import files, results
from service.records.presses import Calibration
from service.records.results import IssuedCalibration, IssuedResult
from tests.records.shop import PRESSED, SmallShop

DIGEST = "a" * 64


def issued(shop: SmallShop, number: int, **other: Any) -> IssuedResult:
    files.note(shop.session, sha256=DIGEST, media_type="text/html", size=1)
    given: dict[str, Any] = {
        "job_id": shop.job.id,
        "number": number,
        "issued_at": PRESSED,
        "issued_by": shop.olu.id,
        "remark": "",
        "data": "{}",
        "data_sha256": DIGEST,
        "engine": "1",
        "page_sha256": DIGEST,
        "pdf_sha256": DIGEST,
        "language": "en",
        "paper": "A4",
        "changes": "",
    }
    return IssuedResult(**{**given, **other})


@pytest.fixture
def twice(shop: SmallShop) -> SmallShop:
    """Return the small shop with results 1 and 2 issued, both resting on one calibration."""
    begun = date(2027, 1, 1)
    given = {"gauge_id": shop.gauge.id, "done_on": begun, "valid_from": begun, "reference": "Load cell"}
    shop.add(calibration=Calibration(valid_until=begun + timedelta(days=365), **given))
    shop.add(first=issued(shop, 1), second=issued(shop, 2, changes="Block 3 crushed."))
    for name in ("first", "second"):
        rests = IssuedCalibration(issued_result_id=shop.rows[name].id, calibration_id=shop.calibration.id)
        shop.add(**{f"{name}_rests": rests})
    return shop


def test_the_newest_result_of_a_job_comes_first(twice: SmallShop) -> None:
    assert results.issued_of_job(twice.session, twice.job.id) == [twice.second, twice.first]
    assert results.next_number(twice.session, twice.job.id) == 3
    assert results.next_number(twice.session, uuid4()) == 1


def test_another_customer_cannot_tell_that_the_result_exists(twice: SmallShop) -> None:
    look = (twice.session, twice.first.id)
    assert results.visible(*look, seen_by=twice.cy_customer.id) == (twice.first, twice.job)
    assert results.visible(*look, seen_by=None) == (twice.first, twice.job)
    with pytest.raises(NotFound) as strangers:
        results.visible(*look, seen_by=twice.dov_customer.id)
    with pytest.raises(NotFound) as missing:
        results.visible(twice.session, uuid4(), seen_by=twice.dov_customer.id)
    assert strangers.value.sentence == missing.value.sentence


def test_a_calibration_touches_the_results_that_rest_on_it_and_still_stand(twice: SmallShop) -> None:
    assert results.touched_by(twice.session, [twice.calibration.id]) == [
        (twice.first, twice.job),
        (twice.second, twice.job),
    ]
    twice.first.withdrawn_at, twice.first.withdrawn_because = PRESSED, "wrong gauge"
    twice.session.add(twice.first)
    assert results.touched_by(twice.session, [twice.calibration.id]) == [(twice.second, twice.job)]
    assert results.touched_by(twice.session, [uuid4()]) == []
