"""The pages of curing and crushing: the ladder of each, and what they show."""

import re
from datetime import timedelta
from typing import Any
from uuid import UUID, uuid4

import pytest

from tests.bench_rows import press_with_line, pressed_job
from tests.cast import Browser, Cast

DRY = {"condition": "air-dry"}
SOAKED = {"condition": "soaked", "soak_hours": 24.0}
HTMX = {"hx-request": "true", "hx-boosted": "true"}


def sentences(answer: Any) -> dict[str, str]:
    return dict(re.findall(r'data-error-of="([\w.]+)">([^<]+)<', answer.text))


@pytest.fixture
def ids(cast: Cast) -> dict[str, UUID]:
    """Return three dry blocks and three to be soaked, a week old."""
    made = pressed_job(cast, groups=(DRY, SOAKED))
    cast.clock.forward(days=7)
    return made


@pytest.fixture
def tess(cast: Cast, ids: dict[str, UUID]) -> Browser:
    """Return a browser that came in after that week: a session does not last so long."""
    return cast.browser("tess")


def opened(cast: Cast, tess: Browser, zero: str = "0.4 MPa") -> str:
    gauge = press_with_line(cast)
    assert tess.post("/crushing/sessions", {"gauge_id": str(gauge), "zero_before_mpa": zero}).status_code == 303
    found = re.search(r"/crushing/sessions/([0-9a-f-]{36})/close", tess.get("/crushing").text)
    assert found
    return found[1]


def broke(spell: str, **other: str) -> dict[str, str]:
    given = {
        "press_session_id": spell,
        "outcome": "broke",
        "gauge_mpa": "10.4",
        "gauge_mpa_unit": "MPa",
        "state": "air-dry",
        "orientation": "flat",
        "faces": "bare",
        "length_mm": "140 mm",
        "width_mm": "90 mm",
    }
    return {**given, **other}


def test_an_empty_shop_says_what_to_do_first(cast: Cast) -> None:
    tess = cast.browser("tess")
    assert "No block is curing." in tess.get("/curing").text
    crushing = tess.get("/crushing").text
    assert "No press that crushes is listed." in crushing
    assert "Nothing is due at the press" in crushing


def test_a_block_is_crushed_and_the_next_is_offered(cast: Cast, tess: Browser, ids: dict[str, UUID]) -> None:
    spell = opened(cast, tess)
    path = f"/blocks/{ids['1-A1-3']}"
    gone_on = tess.post(f"{path}/crushings", broke(spell)).headers["location"]
    following = re.fullmatch(rf"/blocks/([0-9a-f-]{{36}})\?after={ids['1-A1-3']}", gone_on)
    assert following and following[1] != str(ids["1-A1-3"])
    assert f'hx-get="{path}/outcome"' in tess.get(gone_on).text
    told = tess.get(f"{path}/outcome").text
    assert re.search(r"</span>:\s+broke at [0-9.]+ MPa on the gauge", told)
    assert "3.4 MPa (490 psi)" in told and f'href="{path}"' in told
    shown = tess.get(path).text
    # 10 MPa above the zero make 43 kN on 140 x 90 mm: 3.413 MPa, by hand; a step of 0.5 MPa is 0.17 MPa there.
    assert "3.4 MPa" in shown and "490 psi" in shown
    assert "Crush next: 1-A1-2" in shown
    assert "crushed</td>" in shown


def test_whoever_begins_at_the_press_of_one_job_stays_there(cast: Cast, tess: Browser, ids: dict[str, UUID]) -> None:
    path = f"/jobs/{ids['job']}/crushing"
    gauge = str(press_with_line(cast))
    assert f'name="job" value="{ids["job"]}"' in tess.get(path).text
    begun = tess.post("/crushing/sessions", {"gauge_id": gauge, "zero_before_mpa": "0 MPa", "job": str(ids["job"])})
    assert begun.headers["location"] == path


def test_the_page_carries_the_line_that_the_server_uses(cast: Cast, tess: Browser, ids: dict[str, UUID]) -> None:
    opened(cast, tess)
    shown = tess.get(f"/blocks/{ids['1-A1-1']}").text
    carried = {name: float(re.search(rf'data-{name}="([^"]+)"', shown)[1]) for name in ("slope", "intercept", "limit")}  # type: ignore[index]
    shift = float(re.search(r'name="shift_mpa" value="([^"]+)"', shown)[1])  # type: ignore[index]
    # Force is 1 kN and 4.2 kN for each MPa; the zero stood 0.4 above that of the calibration; 130 kN is the limit.
    assert carried["slope"] == pytest.approx(4200) and carried["intercept"] == pytest.approx(1000)
    assert shift == pytest.approx(0.4) and carried["limit"] == pytest.approx(129 / 4.2 + 0.4)
    assert (carried["slope"] * (10.4 - shift) + carried["intercept"]) / (140 * 90) == pytest.approx(3.4126984)


def test_no_stress_can_show_before_an_ending_is_chosen(cast: Cast, tess: Browser, ids: dict[str, UUID]) -> None:
    opened(cast, tess)
    shown = tess.get(f"/blocks/{ids['1-A1-1']}").text
    outcome, reason, stress = (
        shown.index(text) for text in ('name="outcome"', 'name="spoiled_because"', 'class="stress"')
    )
    assert outcome < reason < stress
    assert 'data-after="outcome"' in shown
    assert not re.search(r'name="outcome"[^>]*checked', shown)


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"gauge_mpa": "10,4"}, "gauge_mpa"),
        ({"gauge_mpa": ""}, "gauge_mpa"),
        ({"gauge_mpa": "nan"}, "gauge_mpa"),
        ({"gauge_mpa": "1e999"}, "gauge_mpa"),
        ({"gauge_mpa": "-3"}, "gauge_mpa"),
        ({"gauge_mpa": "12 furlong"}, "gauge_mpa"),
        ({"gauge_mpa": "41"}, "gauge_mpa"),
        ({"outcome": ""}, "outcome"),
        ({"outcome": "held"}, "held_because"),
        ({"outcome": "spoiled"}, "spoiled_because"),
        ({"outcome": "spoiled", "spoiled_because": "other"}, "spoiled_other"),
        ({"state": "damp"}, "state"),
        ({"length_mm": "0"}, "length_mm"),
        ({"mass_kg": "-1 kg"}, "mass_kg"),
        ({"crushed_at": "2027-02-30T10:00"}, "crushed_at"),
        ({"crushed_at": "2027-03-09T10:00"}, "crushed_at"),
        ({"remark": "x" * 501}, "remark"),
        ({"water_hours": "1" * 400}, "water_hours"),
    ],
)
def test_bad_input_names_its_field_and_what_was_typed_stays(
    cast: Cast, tess: Browser, ids: dict[str, UUID], change: dict[str, str], field: str
) -> None:
    spell = opened(cast, tess)
    path = f"/blocks/{ids['1-A1-1']}"
    answer = tess.post(f"{path}/crushings", broke(spell, **{"length_mm_unit": "mm", "water_hours_unit": "h", **change}))
    assert answer.status_code == 422
    assert list(sentences(answer)) == [field]
    assert 'value="140 mm"' in answer.text or field == "length_mm"
    told = tess.post(f"{path}/crushings", broke(spell, **change), headers=HTMX)
    assert told.status_code == 422 and field in told.json()["fields"]
    assert "Save reading" in tess.get(path).text


def test_a_second_push_changes_nothing_and_a_second_form_is_told_who_was_first(
    cast: Cast, tess: Browser, ids: dict[str, UUID]
) -> None:
    spell, path = opened(cast, tess), f"/blocks/{ids['1-A1-1']}"
    form = broke(spell, request_key=uuid4().hex)
    assert tess.post(f"{path}/crushings", form).status_code == 303
    assert tess.post(f"{path}/crushings", form).status_code == 303
    second = cast.browser("olu").post(f"{path}/crushings", broke(spell, gauge_mpa="12"))
    assert second.status_code == 409
    assert "Tess recorded “broke at 10.4 MPa on the gauge”" in second.text
    told = cast.browser("olu").post(f"{path}/crushings", broke(spell, gauge_mpa="12"), headers=HTMX)
    assert "Tess recorded" in told.json()["error"]


def test_a_reading_is_corrected_with_a_reason_and_the_old_one_shown(
    cast: Cast, tess: Browser, ids: dict[str, UUID]
) -> None:
    spell, path = opened(cast, tess), f"/blocks/{ids['1-A1-1']}"
    tess.post(f"{path}/crushings", broke(spell))
    crushing = re.search(r"/crushings/([0-9a-f-]{36})/corrections", tess.get(path).text)
    assert crushing
    form = broke(spell, form="correct", gauge_mpa="11.5")
    refused = tess.post(f"{path}/crushings/{crushing[1]}/corrections", form)
    assert (refused.status_code, list(sentences(refused))) == (422, ["because"])
    answer = tess.post(f"{path}/crushings/{crushing[1]}/corrections", {**form, "because": "read the wrong ring"})
    assert answer.status_code == 303
    shown = tess.get(path).text
    assert "Broke at 11.5 MPa" in shown and "Broke at 10.4 MPa" in shown and "read the wrong ring" in shown


def test_a_block_without_an_open_gauge_asks_for_its_zero_first(cast: Cast, tess: Browser, ids: dict[str, UUID]) -> None:
    gauge, path = press_with_line(cast), f"/blocks/{ids['1-A1-1']}"
    assert "Before you start: read the gauge unloaded" in tess.get(path).text
    form = {"form": "zero", "gauge_id": str(gauge), "zero_before_mpa": "39 MPa"}
    refused = tess.post(f"{path}/sessions", form)
    assert (refused.status_code, list(sentences(refused))) == (422, ["zero_before_mpa"])
    assert tess.post(f"{path}/sessions", {**form, "zero_before_mpa": "0.1 MPa"}).headers["location"] == path
    assert "Save reading" in tess.get(path).text


def test_the_readings_of_a_job_are_one_table(cast: Cast, tess: Browser, ids: dict[str, UUID]) -> None:
    spell = opened(cast, tess)
    tess.post(f"/blocks/{ids['1-A1-3']}/crushings", broke(spell))
    table = tess.get(f"/jobs/{ids['job']}/readings").text
    # 3.41 MPa, as above, and the gauge tells tenths; a block that waits has a row without a reading.
    assert ">3.4<" in table and 'href="/crushing?label=1-A1-3"' in table and "not crushed yet" in table


def test_after_the_last_block_of_a_job_its_readings_are_shown(cast: Cast, tess: Browser, ids: dict[str, UUID]) -> None:
    spell, gone_on = opened(cast, tess), f"/blocks/{ids['1-A1-3']}?after"
    while gone_on.startswith("/blocks/"):
        gone_on = tess.post(f"{gone_on.partition('?')[0]}/crushings", broke(spell)).headers["location"]
    assert gone_on == f"/jobs/{ids['job']}/readings"


def test_blocks_are_ticked_into_the_water_and_out_of_it(cast: Cast, tess: Browser, ids: dict[str, UUID]) -> None:
    wet = [str(ids[f"1-A1-{n}"]) for n in (4, 5)]
    shown = tess.get("/curing").text
    assert "They are in the water now" in shown and wet[0] in shown
    assert tess.post("/curing/soaks", {"block_ids": wet}).headers["location"] == "/curing"
    assert tess.post("/curing/soaks", {"block_ids": wet}).status_code == 409
    cast.clock.forward(hours=24)
    assert "They are out of the water now" in tess.get("/curing").text
    job = str(ids["job"])
    out = tess.post("/curing/soaks/end", {"block_ids": wet, "job": job})
    assert out.headers["location"] == f"/jobs/{job}/curing"


def test_a_soaked_block_crushed_at_an_earlier_time_needs_no_hours_typed(
    cast: Cast, tess: Browser, ids: dict[str, UUID]
) -> None:
    path = f"/blocks/{ids['1-A1-4']}"
    went_in = cast.clock.now
    assert tess.post("/curing/soaks", {"block_ids": [str(ids["1-A1-4"])]}).status_code == 303
    cast.clock.forward(hours=6)
    spell = opened(cast, tess)
    shown = tess.get(path).text
    (hours,) = re.findall(r'name="water_hours"\s+value="([^"]*)"', shown)
    assert hours == "" and "Left empty, it comes from the times in the water." in shown
    # The form as it stands, with a time of yesterday: four hours and a half in the water.
    earlier = (went_in + timedelta(hours=4.5)).isoformat()
    told = broke(spell, state="soaked", water_hours=hours, water_hours_unit="h", crushed_at=earlier)
    assert tess.post(f"{path}/crushings", told).status_code == 303
    assert "4.5 h under water" in tess.get(path).text


def test_no_tick_is_a_sentence_at_the_ticks(tess: Browser, ids: dict[str, UUID]) -> None:
    answer = tess.post("/curing/soaks", {}, headers=HTMX)
    assert answer.json()["fields"] == {"block_ids": "Tick the blocks you are moving."}


def test_a_batch_is_covered_uncovered_and_corrected(tess: Browser, ids: dict[str, UUID]) -> None:
    path, batch = f"/curing/batches/{ids['batch']}", {"batch_ids": [str(ids["batch"])]}
    shown = tess.get("/curing").text
    assert "1 batch is not covered." in shown and "Nothing is to be done" not in shown
    assert tess.post("/curing/covers", batch).status_code == 303
    assert "The cover is off now" in tess.get("/curing").text
    assert tess.post("/curing/covers/end", batch).status_code == 303
    shown = tess.get("/curing").text
    times = re.search(r'href="(/curing\?page=1&amp;times=[^"#]+)#(cover-[^"]+)">Correct these times', shown)
    assert times and f'id="{times[2]}"' in shown and "Save correction" not in shown
    assert f'action="{path}/corrections"' in tess.get(times[1].replace("&amp;", "&")).text
    refused = tess.post(f"{path}/corrections", {"covered_at": "2027-03-07T08:00"}, headers=HTMX)
    assert list(refused.json()["fields"]) == ["because"]
    done = tess.post(f"{path}/corrections", {"covered_at": "2027-03-07T08:00", "because": "the day was wrong"})
    assert done.status_code == 303
    assert "Covered since yesterday 08:00" in tess.get("/curing").text


def test_a_first_covering_at_an_earlier_time_is_no_correction(tess: Browser, ids: dict[str, UUID]) -> None:
    batch = {"batch_ids": [str(ids["batch"])], "form": "cover"}
    shown = tess.get("/curing").text
    assert 'name="covered_at"' in shown and "Correct these times" not in shown
    early = tess.post("/curing/covers", {**batch, "covered_at": "2020-03-07T08:00"}, headers=HTMX)
    assert list(early.json()["fields"]) == ["covered_at"]
    assert tess.post("/curing/covers", {**batch, "covered_at": "2027-03-07T08:00"}).status_code == 303
    shown = tess.get("/curing").text
    assert "Covered since yesterday 08:00" in shown and "Correct these times" in shown


def test_a_lost_block_says_why_and_may_be_found_again(tess: Browser, ids: dict[str, UUID]) -> None:
    path = f"/blocks/{ids['1-A1-1']}"
    assert list(sentences(tess.post(f"{path}/losses", {"form": "lose"}))) == ["because"]
    assert tess.post(f"{path}/losses", {"form": "lose", "because": "dropped"}).status_code == 303
    assert "Damaged or missing since 8 Mar 2027, 09:00: dropped." in tess.get(path).text
    assert tess.post(f"{path}/found", {"because": "another one"}).status_code == 303
    assert "another one" in tess.get(path).text


def test_a_label_leads_to_its_block(tess: Browser, ids: dict[str, UUID]) -> None:
    found = tess.get("/crushing", params={"label": "1-a1-2"}, follow_redirects=False)
    assert found.headers["location"] == f"/blocks/{ids['1-A1-2']}"
    assert "No block carries this label" in tess.get("/crushing", params={"label": "nothing"}).text


def test_cautions_stand_at_the_press(cast: Cast, tess: Browser, ids: dict[str, UUID]) -> None:
    opened(cast, tess)
    for path in ("/crushing", f"/blocks/{ids['1-A1-1']}"):
        shown = tess.get(path).text
        assert "Shut the guard before pumping" in shown and "still loaded" in shown and "oil leak" in shown
    # 129 kN over 4.2 kN for each MPa, and 0.4 for the zero: 31.1 on the dial.
    assert "Stop at 31 MPa" in tess.get(f"/blocks/{ids['1-A1-1']}").text


GETS = ("/curing", "/crushing", "/jobs/{job}/curing", "/jobs/{job}/crushing", "/blocks/{block}")
POSTS = (
    *("/curing/soaks", "/curing/soaks/end", "/curing/covers", "/curing/covers/end"),
    *("/curing/batches/{batch}/corrections", "/crushing/sessions", "/crushing/sessions/{batch}/close"),
    *("/crushing/sessions/{batch}/corrections", "/blocks/{block}/crushings", "/blocks/{block}/notes"),
    *("/blocks/{block}/crushings/{batch}/corrections", "/blocks/{block}/crushings/{batch}/withdrawals"),
    *("/blocks/{block}/sessions", "/blocks/{block}/losses", "/blocks/{block}/found"),
    "/blocks/{block}/soaks/{batch}/corrections",
)


@pytest.mark.parametrize("who", ["cy", "dov"])
def test_customers_see_none_of_it(cast: Cast, ids: dict[str, UUID], who: str) -> None:
    browser = cast.browser(who)
    names = {"job": ids["job"], "block": ids["1-A1-1"], "batch": ids["batch"]}
    assert {browser.get(path.format(**names)).status_code for path in GETS} == {403}
    assert {browser.post(path.format(**names)).status_code for path in POSTS} == {403}


def test_strangers_are_sent_to_sign_in(cast: Cast, ids: dict[str, UUID]) -> None:
    browser = cast.browser(None)
    names = {"job": ids["job"], "block": ids["1-A1-1"], "batch": ids["batch"]}
    for path in GETS:
        answer = browser.get(path.format(**names), follow_redirects=False)
        assert answer.headers["location"].startswith("/sign-in")


def test_what_is_not_there_is_not_found(tess: Browser) -> None:
    nothing = UUID(int=7)
    for path in ("/jobs/{0}/curing", "/jobs/{0}/crushing", "/blocks/{0}", "/blocks/not-an-id"):
        assert tess.get(path.format(nothing)).status_code == 404
    assert tess.post("/curing/covers", {"batch_ids": [str(nothing)]}).status_code == 404
    assert list(sentences(tess.post("/curing/covers", {"form": "cover"}))) == ["batch_ids"]


def test_a_page_asks_the_database_twelve_times_at_most_however_many_jobs(
    cast: Cast, tess: Browser, ids: dict[str, UUID], statements: list[str]
) -> None:
    spell = opened(cast, tess)
    crushed = f"/blocks/{ids['1-A1-2']}"
    tess.post(f"{crushed}/crushings", broke(spell))
    paths = ["/curing", "/crushing", f"/jobs/{ids['job']}/curing", f"/jobs/{ids['job']}/crushing"]
    paths += [f"/blocks/{ids['1-A1-1']}", crushed]

    def asked() -> list[int]:
        counts = []
        for path in paths:
            statements.clear()
            assert tess.get(path).status_code == 200
            counts.append(len(statements))
        return counts

    few = asked()
    assert max(few) <= 12
    for number in range(2, 22):
        pressed_job(cast, number=number, of="dov", groups=(DRY, SOAKED))
    assert asked() == few
