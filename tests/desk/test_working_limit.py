"""The working limit of a press governs forming and crushing: planned, shown and taken only below it.

By hand: a ram of 76.2 mm with 95 % of its force makes 4.33235 kN for each MPa, so that 60 kN stand at 13.849 MPa.
On a face of 140 x 90 mm a stress of 4 MPa takes 50.4 kN, 11.633 MPa on the gauge; 5 MPa take 63 kN, above the limit.
"""

import re
from dataclasses import replace
from uuid import UUID

import pytest
from sqlmodel import Session

from service.desk.block_tests import recording
from service.desk.block_tests.given import Bending
from service.desk.crushing import press as press_sessions
from service.desk.crushing import reading, sheet
from service.desk.crushing.given import Given
from service.desk.mixing.at_press import press_form
from service.desk.mixing.pressing import Pressed, correct_block, try_charge
from service.desk.plan.recipes import change_recipe
from service.desk.plan.sheet import sheet as plan_sheet
from service.errors import Invalid
from service.records.presses import Gauge, Press
from service.typed import Typed
from service.words.sentences import say
from tests.bench_rows import press_with_line, pressed_job
from tests.cast import Cast
from tests.mixes import Ready, a_ready_job, kg, mm, mpa

LIMIT_MPA = 60 / (0.95 * 3.141592653589793 * 76.2**2 / 4 / 1000)
ABOVE = ["pressed_gauge_mpa", "above_limit"]


def limit(cast: Cast, gauge_id: UUID, **sides: float | None) -> None:
    with Session(cast.stores.write) as session:
        press = session.get_one(Press, session.get_one(Gauge, gauge_id).press_id)
        for name, value in sides.items():
            setattr(press, name, value)
        session.add(press)
        session.commit()


@pytest.fixture
def ready(cast: Cast) -> Ready:
    found = a_ready_job(cast)
    limit(cast, found.gauge, rating_kn=80.0, working_limit_kn=60.0)
    return found


def test_a_stress_beyond_the_working_limit_is_not_planned(ready: Ready) -> None:
    recipe_id = ready.plan(press_stress_mpa=mpa(4))
    for attempt in (
        lambda: ready.plan(press_stress_mpa=mpa(5)),
        lambda: change_recipe(ready.cast.tess, recipe_id=recipe_id, asked=ready.asked(press_stress_mpa=mpa(5))),
    ):
        # 60 kN on 140 x 90 mm are 4.7619 MPa; said rounded down.
        with pytest.raises(Invalid, match=r"below its working limit. The most is 4\.76 MPa\.") as refused:
            attempt()
        assert list(refused.value.fields) == ["press_stress_mpa"]


@pytest.mark.parametrize(("rating", "most"), [(60.0, LIMIT_MPA), (None, 40.0)])
def test_without_a_working_limit_the_rating_counts_and_without_that_the_dial(
    ready: Ready, rating: float | None, most: float
) -> None:
    limit(ready.cast, ready.gauge, rating_kn=rating, working_limit_kn=None)
    batch_id = ready.mix(ready.plan(press_stress_mpa=mpa(4)))
    (offer,) = press_form(ready.cast.tess, batch_id=batch_id).gauges
    assert offer.stop_mpa == pytest.approx(most, rel=1e-9)


def test_the_page_at_the_press_sends_nobody_above_a_limit_that_was_set_later(ready: Ready) -> None:
    batch_id = ready.mix(ready.plan(press_stress_mpa=mpa(4)))
    (offer,) = press_form(ready.cast.tess, batch_id=batch_id).gauges
    assert offer.target_gauge_mpa == pytest.approx(11.633, abs=5e-4) and not offer.beyond
    limit(ready.cast, ready.gauge, working_limit_kn=50.0)
    (offer,) = press_form(ready.cast.tess, batch_id=batch_id).gauges
    assert (offer.target_gauge_mpa, offer.beyond) == (None, True)
    assert offer.stop_mpa == pytest.approx(LIMIT_MPA * 50 / 60, rel=1e-9)
    remarks = [say(one) for one in plan_sheet(ready.cast.tess, job_id=ready.job_id).remarks]
    assert "Recipe A cannot be pressed here: no press makes its stress below its working limit." in remarks
    shown = ready.cast.browser("tess").get(f"/batches/{batch_id}/press").text
    assert "Pump to" not in shown and "needs more than this press may make" in shown


def test_a_trial_block_above_the_limit_is_refused_until_it_is_said_that_the_gauge_did_show_it(ready: Ready) -> None:
    batch_id = ready.mix(ready.plan())
    given = {"batch_id": batch_id, "charge_kg": kg(2.6), "height_mm": mm(100)}
    try_charge(ready.cast.tess, **given, pressed_gauge_mpa=mpa(13.8))
    with pytest.raises(Invalid) as refused:
        try_charge(ready.cast.tess, **given, pressed_gauge_mpa=mpa(13.9))
    assert list(refused.value.fields) == ABOVE
    done = try_charge(ready.cast.tess, **given, pressed_gauge_mpa=mpa(13.9), above_limit=True)
    assert done.details["above_limit"] is True


def test_a_block_pressed_above_the_limit_is_refused_when_kept_and_when_corrected(ready: Ready) -> None:
    batch_id = ready.mix(ready.plan())
    how = Pressed(heights_mm=(mm(100),), wet_mass_kg=kg(2.6), press_gauge_id=ready.gauge, pressed_gauge_mpa=mpa(13.9))
    with pytest.raises(Invalid) as refused:
        ready.press(batch_id, 1, pressed=how)
    assert list(refused.value.fields) == ABOVE
    block_id = ready.press(batch_id, 1, pressed=replace(how, pressed_gauge_mpa=mpa(11.6)))
    with pytest.raises(Invalid) as refused:
        correct_block(ready.cast.tess, block_id=block_id, pressed=how, because="misread")
    assert list(refused.value.fields) == ABOVE
    correct_block(ready.cast.tess, block_id=block_id, pressed=replace(how, above_limit=True), because="misread")


def crushing(cast: Cast, zero: str = "0") -> tuple[UUID, UUID]:
    """Return a spell at a gauge whose line is 1 kN + 4.2 kN a MPa, with a limit of 130 kN: 30.714 MPa."""
    gauge_id = press_with_line(cast)
    return press_sessions.open_press_session(
        cast.tess, gauge_id=gauge_id, zero_before_mpa=Typed(float(zero), zero, "MPa")
    ).id, gauge_id


@pytest.mark.parametrize(("zero", "below", "beyond"), [("0", 30.7, 30.8), ("0.5", 31.2, 31.3), ("-0.5", 30.2, 30.3)])
def test_a_crushing_above_the_limit_is_refused_until_it_is_said_that_the_gauge_did_show_it(
    cast: Cast, zero: str, below: float, beyond: float
) -> None:
    ids = pressed_job(cast)
    cast.clock.forward(days=7)
    spell, _ = crushing(cast, zero)
    given = Given("held", "air-dry", press_session_id=spell, held_because="agreed stop", gauge_mpa=mpa(below))
    done = reading.record(cast.tess, block_id=ids["1-A1-1"], given=given)
    for attempt in (
        lambda one: reading.record(cast.tess, block_id=ids["1-A1-2"], given=one),
        lambda one: reading.correct(cast.tess, crushing_id=done.id, given=one, because="misread"),
    ):
        over = replace(given, gauge_mpa=mpa(beyond))
        with pytest.raises(Invalid) as refused:
            attempt(over)
        assert list(refused.value.fields) == ["gauge_mpa", "above_limit"]
        attempt(replace(over, above_limit=True))
    standing = sheet.sheet(cast.tess, block_id=ids["1-A1-2"]).standing
    assert standing is not None
    assert "This is above the working limit of the press, 130 kN." in [say(flag) for flag in standing.flags]


def test_a_bending_above_the_limit_is_refused(cast: Cast) -> None:
    ids = pressed_job(cast)
    cast.clock.forward(days=7)
    spell, _ = crushing(cast)
    given = Bending("broke", "air-dry", mm(120), mm(90), mm(100), press_session_id=spell, gauge_mpa=mpa(30.8))
    with pytest.raises(Invalid) as refused:
        recording.record(cast.tess, block_id=ids["1-A1-1"], given=given)
    assert list(refused.value.fields) == ["gauge_mpa", "above_limit"]
    recording.record(cast.tess, block_id=ids["1-A1-1"], given=replace(given, above_limit=True))


def test_the_stop_and_the_caution_stand_above_the_form_of_the_crushing(cast: Cast) -> None:
    ids = pressed_job(cast)
    cast.clock.forward(days=7)
    crushing(cast)
    page = cast.browser("tess").get(f"/blocks/{ids['1-A1-1']}").text
    stop, caution, form = page.index("Stop at"), page.index('aria-label="Caution"'), page.index('name="outcome"')
    assert caution < form and stop < form and "30.5 MPa" in page[stop:form]


def is_offered(page: str) -> bool:
    """Return whether the box is in sight; a page sent by htmx brings it hidden, to be shown by a refusal."""
    (attribute,) = re.findall(r'<div (hidden|)>\s*<div class="field tick">\s*<label>\s*<input id="above_limit"', page)
    return not attribute


def test_the_box_waits_at_the_press_and_at_a_test_charge_and_comes_with_a_refusal(ready: Ready) -> None:
    batch_id = ready.mix(ready.plan())
    browser = ready.cast.browser("tess")
    forms = {
        "test-charge": {"charge_kg": "2.6 kg", "height_mm": "100 mm"},
        "press": {"position": "1", "became": "whole", "wet_mass_kg": "2.6 kg", "heights_mm.0": "100 mm"},
    }
    for place, given in forms.items():
        path = f"/batches/{batch_id}/{place}"
        told = {**given, "pressed_gauge_mpa": "13.9 MPa", "press_gauge_id": str(ready.gauge)}
        assert is_offered(browser.get(path).text) is False
        refused = browser.post(path, told)
        assert refused.status_code == 422 and is_offered(refused.text)
        assert browser.post(path, {**told, "above_limit": "yes"}).status_code == 303


def test_a_refused_gauge_offers_the_box_that_it_did_show_it(cast: Cast) -> None:
    ids = pressed_job(cast)
    cast.clock.forward(days=7)
    spell, _ = crushing(cast)
    browser = cast.browser("tess")
    path = f"/blocks/{ids['1-A1-1']}"
    assert is_offered(browser.get(path).text) is False
    told = {
        "outcome": "broke",
        "state": "air-dry",
        "press_session_id": str(spell),
        "gauge_mpa": "31",
        "gauge_mpa_unit": "MPa",
        "orientation": "flat",
        "faces": "bare",
        "request_key": "over-1",
    }
    refused = browser.post(f"{path}/crushings", told)
    assert refused.status_code == 422 and is_offered(refused.text)
    assert browser.post(f"{path}/crushings", {**told, "above_limit": "yes"}).status_code == 303
