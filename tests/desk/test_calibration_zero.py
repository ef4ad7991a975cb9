"""A gauge that rests elsewhere than at zero and was calibrated so: its line holds for that zero."""

from datetime import timedelta
from uuid import UUID

import pytest
from sqlmodel import Session, select

from service.desk import presses
from service.desk.crushing import press as press_sessions
from service.desk.crushing import reading, sheet
from service.desk.crushing.given import Given
from service.desk.results import live
from service.errors import Invalid
from service.records.presses import Calibration
from service.typed import Typed
from tests.bench_rows import press_with_line, pressed_job
from tests.cast import Cast
from tests.mixes import mpa
from tests.rows import forget_results
from tests.trials import POINTS, a_tried_job
from tests.trials import calibrate as calibrate_anew


def calibrate(cast: Cast, gauge_id: UUID, zero_mpa: Typed | None, at: tuple[float, ...] = (5.0, 15.0, 25.0)) -> None:
    """Calibrate a dial that shows 0.5 MPa more than there is, at 4.2 kN for each MPa."""
    today = cast.tess.clock.today
    presses.add_calibration(
        cast.olu,
        gauge_id=gauge_id,
        done_on=today,
        valid_from=today,
        valid_until=today + timedelta(days=300),
        reference="load cell 3",
        reference_uncertainty=None,
        points=[(mpa(0.5 + gauge), Typed(4.2 * gauge, f"{4.2 * gauge:g}", "kN")) for gauge in at],
        zero_mpa=zero_mpa,
    )


def test_a_gauge_calibrated_at_its_own_zero_shows_the_true_force(cast: Cast) -> None:
    ids = pressed_job(cast)
    cast.clock.forward(days=7)
    gauge_id = press_with_line(cast)
    calibrate(cast, gauge_id, mpa(0.5))
    spell = press_sessions.open_press_session(cast.tess, gauge_id=gauge_id, zero_before_mpa=mpa(0.5)).id
    given = Given("broke", "air-dry", press_session_id=spell, gauge_mpa=mpa(10.5))
    reading.record(cast.tess, block_id=ids["1-A1-1"], given=given)
    standing = sheet.sheet(cast.tess, block_id=ids["1-A1-1"]).standing
    # By hand: 10.5 on the dial are 10 MPa, and 42 kN.
    assert standing is not None and standing.force_kn == pytest.approx(42.0, rel=1e-9)


def test_a_certificate_of_k_2_counts_half_of_what_it_states(cast: Cast) -> None:
    tried = a_tried_job(cast)
    before = live.live(cast.olu, job_id=tried.job_id).result.model.scale_uncertainty
    today = cast.olu.clock.today
    with Session(cast.stores.write) as session:
        old = session.exec(select(Calibration.id)).one()
        calibrate_anew(session, tried.gauge_id, POINTS, replaces_id=old, certified=(0.02, 2.0))
        session.commit()
    forget_results()
    result = live.live(cast.olu, job_id=tried.job_id).result
    # GUM 6.2.1, U = k u: 2 % with k = 2 is the same standard uncertainty as the 1 % that stood there.
    assert result.model.scale_uncertainty == pytest.approx(before, rel=1e-12)
    assert (result.calibrations[0].reference_uncertainty, result.calibrations[0].coverage_factor) == (0.02, 2.0)
    with pytest.raises(Invalid) as refused:
        presses.add_calibration(
            cast.olu,
            gauge_id=tried.gauge_id,
            done_on=today,
            valid_from=today,
            valid_until=today + timedelta(days=300),
            reference="load cell 3",
            reference_uncertainty=Typed(0.01, "1", "%"),
            coverage_factor=Typed(0.5, "0.5", "of 1"),
            points=[(mpa(gauge), Typed(4.2 * gauge, f"{4.2 * gauge:g}", "kN")) for gauge in (5.0, 15.0, 25.0)],
        )
    assert list(refused.value.fields) == ["coverage_factor"]


def test_a_zero_far_off_is_refused_at_its_field(cast: Cast) -> None:
    gauge_id = press_with_line(cast)
    with pytest.raises(Invalid) as refused:
        calibrate(cast, gauge_id, mpa(5.0))
    assert list(refused.value.fields) == ["zero_mpa"]


@pytest.mark.parametrize("last", [39.6, 48.0], ids=["beyond the dial", "above the rating"])
def test_a_point_that_the_press_may_not_make_is_refused(cast: Cast, last: float) -> None:
    # The dial ends at 40 MPa; at 4.2 kN for each MPa the rating of 200 kN is at 47.6 MPa.
    gauge_id = press_with_line(cast, **({"full_scale_mpa": 60.0} if last > 40 else {}))
    with pytest.raises(Invalid) as refused:
        calibrate(cast, gauge_id, None, (5.0, 15.0, last))
    assert list(refused.value.fields) == ["points"]


def test_the_form_of_a_calibration_asks_for_its_zero(cast: Cast) -> None:
    press_with_line(cast)
    page = cast.browser("olu").get("/presses").text
    assert 'name="zero_mpa"' in page and 'name="coverage_factor"' in page
