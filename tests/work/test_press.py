"""What `press` answers, key by key, against the hand calculation beside it."""

import pytest

from service.errors import Invalid
from service.work.press import NO_LIMIT
from tests.work.test_answers import answer


def test_press_by_geometry() -> None:
    # Hand: pi x 76.2^2 / 4 = 4560.367 mm2; x 0.95 x 30 / 1000 = 129.9705 kN; / 12600 mm2 = 10.31512 MPa.
    given = {
        "ram_diameter_mm": 76.2,
        "efficiency": 0.95,
        "face_length_mm": 140,
        "face_width_mm": 90,
        "gauge_mpa": 30,
    }
    found = answer("press", given)
    assert found == {
        "gauge_mpa": 30.0,
        "force_kn": pytest.approx(129.9705, abs=1e-4),
        "stress_mpa": pytest.approx(10.31512, abs=1e-5),
        "gauge_per_stress": pytest.approx(30 / 10.31512, abs=1e-5),
        "calibrated": False,
        "scale_uncertainty": 0.05,
        "stop_gauge_mpa": None,
        "remark": NO_LIMIT,
    }


def test_press_stops_at_its_working_limit_and_answers_nothing_above_it() -> None:
    # Hand: a ram of 4560.367 mm2, 95 %, makes 4.332349 kN for each MPa above its zero of 0.5 MPa: 100 kN at
    # 23.5822 MPa. 8 MPa on 140 x 90 mm are 100.8 kN, 7.9 are 99.54.
    press = {"ram_diameter_mm": 76.2, "efficiency": 0.95, "zero_mpa": 0.5, "working_limit_kn": 100}
    given = press | {"face_length_mm": 140, "face_width_mm": 90}
    found = answer("press", given | {"stress_mpa": 7.9})
    assert found["stop_gauge_mpa"] == pytest.approx(23.5822, abs=1e-4) and "remark" not in found
    at_the_limit = answer("press", given | {"gauge_mpa": found["stop_gauge_mpa"]})
    assert at_the_limit["force_kn"] == pytest.approx(100)
    for above in ({"stress_mpa": 8.0}, {"gauge_mpa": 23.6}):
        with pytest.raises(Invalid) as refusal:
            answer("press", given | above)
        assert set(refusal.value.fields) == set(above) and "working limit" in refusal.value.sentence


def test_press_gives_the_climb_of_the_gauge_at_a_rate_of_loading() -> None:
    # Hand: slope 4 kN for each MPa; 0.05 MPa/s on 200 x 200 mm are 2 kN/s and 0.5 MPa/s on the gauge. The other way
    # round 500 N/s are 0.125 MPa/s on the gauge and 0.0125 MPa/s on the face.
    points = [{"gauge_mpa": g, "force_kn": f} for g, f in ((0, 1), (10, 41), (20, 81))]
    given = {"points": points, "face_length_mm": 200, "face_width_mm": 200, "gauge_mpa": 10}
    names = ("load_rate_kn_s", "stress_rate_mpa_s", "gauge_rate_mpa_s")
    by_stress, by_force = (answer("press", given | one) for one in ({names[1]: 0.05}, {names[0]: 0.5}))
    assert [by_stress[name] for name in names] == pytest.approx([2.0, 0.05, 0.5])
    assert [by_force[name] for name in names] == pytest.approx([0.5, 0.0125, 0.125])
    assert not set(names) & set(answer("press", given))


def test_press_by_calibration_from_a_stress() -> None:
    # Hand: points 0, 43, 80 kN at 0, 10, 20 MPa: slope 4, intercept 1, residual sd sqrt 6. 2.05 MPa on 200 x 200 mm
    # are 82 kN: gauge 20.25, past the last point; the line there: sqrt 6 x sqrt(1/3 + 10.25^2 / 200) over 82.
    points = [{"gauge_mpa": g, "force_kn": f} for g, f in ((0, 0), (10, 43), (20, 80))]
    found = answer("press", {"points": points, "face_length_mm": 200, "face_width_mm": 200, "stress_mpa": 2.05})
    assert found == {
        "gauge_mpa": pytest.approx(20.25, rel=1e-12),
        "force_kn": pytest.approx(82.0, rel=1e-12),
        "stress_mpa": 2.05,
        "gauge_per_stress": pytest.approx(20.25 / 2.05, rel=1e-12),
        "calibrated": True,
        "scale_uncertainty": pytest.approx((6 * (1 / 3 + 10.25**2 / 200)) ** 0.5 / 82, rel=1e-12),
        "slope_kn_per_mpa": pytest.approx(4.0, rel=1e-12),
        "intercept_kn": pytest.approx(1.0, rel=1e-12),
        "residual_sd_kn": pytest.approx(6**0.5, rel=1e-12),
        "in_range": False,
        "stop_gauge_mpa": None,
        "remark": NO_LIMIT,
    }
