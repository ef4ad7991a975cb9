"""The intake in a browser: a job is begun, sacks are taken in, and every slip is told at its field."""

import re
from typing import Any
from uuid import UUID, uuid4

import pytest
from sqlmodel import Session

from service.desk.intake import jobs, sacks, sheet
from service.records import audit_log
from service.typed import Typed
from tests.cast import Cast

JOB = {"site": "North paddock", "question": "How little cement will do?", "question_kind": "least stabiliser"}
SACK = {"label": "J1-A", "mass_kg": "25.4", "mass_kg_unit": "kg", "new_soil": "Red subsoil"}
CANS = {
    "method": "oven",
    "temperature_c": "110",
    "temperature_c_unit": "°C",
    "mass_unit": "g",
    "cans.0.wet_kg": "110",
    "cans.0.dry_kg": "100",
    "cans.2.wet_kg": "5.1 oz",
    "cans.2.dry_kg": "4.9 oz",
    "cans.2.can_kg": "0.9 oz",
}
HTMX = {"hx-request": "true", "hx-boosted": "true"}


def open_job(cast: Cast, name: str = "cy") -> UUID:
    return jobs.open_job(cast.tess, asked=jobs.Question(**JOB), customer_id=cast.customers[name]).id


def take_in(cast: Cast, job_id: UUID | None = None, label: str = "J1-A") -> UUID:
    sack = sacks.Sack(label, Typed(25.4, "25.4", "kg"))
    return sacks.take_in(cast.tess, job_id=job_id or open_job(cast), sack=sack, new_soil="Red subsoil").id


def entry(page: str, name: str) -> str:
    found = re.search(rf'<(?:input|select|textarea)[^>]*name="{re.escape(name)}"[^>]*>', page)
    assert found, f"{name} is not on the page"
    return found.group()


def sentence(page: str, name: str) -> str:
    """Return what stands at a field, whichever form of the page it belongs to."""
    found = re.findall(rf'data-error-of="{re.escape(name)}">([^<]*)</p>', page)
    return "".join(found)


def test_a_job_is_begun_for_a_new_customer_and_leads_to_its_intake(cast):
    tess = cast.browser("tess")
    sent = {**JOB, "new_customer": "Ada’s Adobe", "wall_height_m": "8", "wall_height_m_unit": "ft"}
    answer = tess.post("/jobs", sent)
    assert answer.status_code == 303
    page = tess.get(answer.headers["location"]).text
    assert "Ada’s Adobe" in page and "No sacks yet." in page and 'value="J1-A"' in page


def test_an_older_customer_is_not_in_the_list_and_is_chosen_on_their_own_page(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("service.records.customers.OFFERED", 1)
    older, newer = cast.customers["cy"], cast.customers["dov"]
    for path, name in (("/jobs/new", "tess"), ("/people", "olu")):
        browser = cast.browser(name)
        assert f'value="{newer}"' in browser.get(path).text and f'value="{older}"' not in browser.get(path).text
        assert f'href="{path}?customer={older}"' in browser.get(f"/customers/{older}").text
        assert re.search(f'value="{older}"\\s+selected', browser.get(f"{path}?customer={older}").text)
    assert "An older customer is not listed here" in cast.browser("tess").get("/jobs/new").text


def test_a_criterion_chosen_for_a_job_stands_on_its_intake(cast):
    tess = cast.browser("tess")
    offered = jobs.form(cast.tess).criteria[0]
    sent = {**JOB, "customer_id": str(cast.customers["cy"]), f"criteria.{offered.key}": "yes"}
    path = tess.post("/jobs", sent).headers["location"]
    assert offered.name in tess.get(path).text
    tess.post(path.replace("intake", "codes"), {})
    assert offered.name not in tess.get(path).text


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"site": ""}, "site"),
        ({"question_kind": "anything"}, "question_kind"),
        ({"wall_height_m": "2,4", "wall_height_m_unit": "m"}, "wall_height_m"),
        ({"wall_height_m": "0", "wall_height_m_unit": "m"}, "wall_height_m"),
        ({"machine_length_mm": "290", "machine_length_mm_unit": "mm"}, "machine_width_mm"),
        ({"promised_on": "tomorrow"}, "promised_on"),
        ({"customer_id": "", "site": ""}, "new_customer"),
        ({"customer_id": "nobody"}, "customer_id"),
        ({"question": "x" * 401}, "question"),
    ],
)
def test_a_slip_in_a_new_job_is_told_at_its_field_and_what_was_typed_stays(cast, wrong, field):
    sent = {**JOB, "customer_id": str(cast.customers["cy"]), **wrong}
    answer = cast.browser("tess").post("/jobs", sent)
    assert answer.status_code == 422
    assert sentence(answer.text, field)
    assert 'aria-invalid="true"' in answer.text
    if "site" not in wrong:
        assert 'value="North paddock"' in entry(answer.text, "site")


def test_htmx_gets_the_sentences_as_data(cast):
    answer = cast.browser("tess").post("/jobs", {**JOB, "site": ""}, headers=HTMX)
    assert answer.status_code == 422
    assert answer.json()["fields"]["site"] == "Fill this in."


def test_the_form_sent_twice_opens_one_job(cast):
    tess = cast.browser("tess")
    sent = {**JOB, "customer_id": str(cast.customers["cy"]), "request_key": uuid4().hex}
    first, second = tess.post("/jobs", sent), tess.post("/jobs", sent)
    assert first.headers["location"] == second.headers["location"]
    assert "Job 2" not in tess.get("/").text


def test_a_sack_is_taken_in_and_shows_what_was_typed(cast):
    tess, job_id = cast.browser("tess"), open_job(cast)
    more = {"pit": "P1", "topsoil_stripped": "yes", "depth_m": "3", "depth_m_unit": "ft", "smell": "none"}
    more |= {"dug_by": "a neighbour", "dug_on": "2027-02-27"}
    kept = {"retained": "2 kg in a bucket", "retained_until": "2027-09-01"}
    answer = tess.post(f"/jobs/{job_id}/intake", {**SACK, **more, **kept})
    assert answer.status_code == 303
    page = tess.get(answer.headers["location"]).text
    assert "25.4 kg" in page and "2 kg in a bucket" in page and "0.914 m" in page
    assert "a neighbour" in page and "on 27 Feb 2027" in page
    intake = tess.get(f"/jobs/{job_id}/intake").text
    assert "J1-A" in intake and 'value="J1-B"' in intake and "Weigh cans of J1-A" in intake


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"mass_kg": ""}, "mass_kg"),
        ({"mass_kg": "0"}, "mass_kg"),
        ({"mass_kg": "-3"}, "mass_kg"),
        ({"mass_kg_unit": "stone"}, "mass_kg"),
        ({"label": "a label; with signs"}, "label"),
        ({"new_soil": "", "mass_kg": ""}, "new_soil"),
        ({"received_at": "2031-01-01T10:00"}, "received_at"),
        ({"retained": "2 kg"}, "retained_until"),
        ({"dug_on": "2031-01-01"}, "dug_on"),
    ],
)
def test_a_slip_in_a_sack_is_told_at_its_field(cast, wrong, field):
    job_id = open_job(cast)
    take_in(cast, job_id, "J1-Z")
    answer = cast.browser("tess").post(f"/jobs/{job_id}/intake", {**SACK, **wrong, "form": "sack"})
    assert answer.status_code == 422
    assert sentence(answer.text, field)
    assert len(sheet.sheet(cast.tess, job_id=job_id).sacks) == 1


def test_cans_typed_with_gaps_are_kept_and_the_mean_is_shown(cast):
    # By hand: 10/100 = 10 %; (5.1 - 4.9)/(4.9 - 0.9) = 0.2/4 = 5 %; mean 7.5 %, 5 points apart.
    tess, receipt_id = cast.browser("tess"), take_in(cast)
    assert tess.post(f"/sacks/{receipt_id}/cans", CANS).status_code == 303
    page = tess.get(f"/sacks/{receipt_id}").text
    assert "7.5 %" in page and "5 points" in page and "5.1 oz" in page


def test_a_can_that_gained_mass_is_told_at_the_row_it_was_typed_in(cast):
    tess, receipt_id = cast.browser("tess"), take_in(cast)
    answer = tess.post(f"/sacks/{receipt_id}/cans", {**CANS, "cans.2.wet_kg": "4.8 oz", "form": "cans"})
    assert answer.status_code == 422
    assert sentence(answer.text, "cans.2.wet_kg") and not sentence(answer.text, "cans.0.wet_kg")
    assert 'value="4.8 oz"' in entry(answer.text, "cans.2.wet_kg")


def test_half_a_can_is_not_dropped_in_silence(cast):
    tess, receipt_id = cast.browser("tess"), take_in(cast)
    answer = tess.post(f"/sacks/{receipt_id}/cans", {**CANS, "cans.0.wet_kg": "", "form": "cans"})
    assert sentence(answer.text, "cans.0.wet_kg") == "Fill this in."


def test_a_can_is_corrected_with_a_reason_and_the_old_one_stays_in_sight(cast):
    tess, receipt_id = cast.browser("tess"), take_in(cast)
    tess.post(f"/sacks/{receipt_id}/cans", CANS)
    can = sheet.sack(cast.tess, receipt_id=receipt_id).cans[0]
    right = {"wet_kg": "112", "wet_kg_unit": "g", "dry_kg": "100", "dry_kg_unit": "g", "method": "oven"}
    form = {"form": f"can-{can.id}"}
    refused = tess.post(f"/sacks/{receipt_id}/cans/{can.id}", {**right, **form, "because": ""})
    assert refused.status_code == 422 and sentence(refused.text, "because") == "Fill this in."
    told = tess.post(f"/sacks/{receipt_id}/cans/{can.id}", {**right, "because": "Smudged."})
    assert told.status_code == 303
    page = tess.get(f"/sacks/{receipt_id}").text
    assert "110 g" in page and "112 g" in page and "Smudged." in page
    assert tess.post(f"/sacks/{receipt_id}/cans/{can.id}", {**right, "because": "Again."}).status_code == 409


def test_preparation_and_a_corrected_mass_are_shown_with_their_reasons(cast):
    tess, receipt_id = cast.browser("tess"), take_in(cast)
    off = {"oversize_mm": "10", "oversize_mm_unit": "mm", "oversize_kg": "1.2", "oversize_kg_unit": "kg"}
    half = tess.post(f"/sacks/{receipt_id}/preparation", {**off, "form": "preparation"})
    assert half.status_code == 422 and sentence(half.text, "oversize_became")
    tess.post(f"/sacks/{receipt_id}/preparation", {**off, "oversize_became": "thrown away", "pulverised": "yes"})
    better = {**SACK, "new_soil": "", "mass_kg": "55", "mass_kg_unit": "lb", "because": "Pounds, not kilograms."}
    assert tess.post(f"/sacks/{receipt_id}", better).status_code == 303
    page = tess.get(f"/sacks/{receipt_id}").text
    assert "thrown away" in page and "Pulverised." in page
    assert "25.4 kg → 55 lb" in page and "Pounds, not kilograms." in page


def test_a_job_is_closed_from_its_page_with_a_reason(cast):
    tess, job_id = cast.browser("tess"), open_job(cast)
    refused = tess.post(f"/jobs/{job_id}/close", {"because": "", "form": "close"})
    assert refused.status_code == 422 and sentence(refused.text, "because")
    assert tess.post(f"/jobs/{job_id}/close", {"because": "The land was sold."}).status_code == 303
    assert "The land was sold." in tess.get(f"/jobs/{job_id}").text
    assert sentence(tess.post(f"/jobs/{job_id}/open-again", {"because": "", "form": "open-again"}).text, "because")
    assert tess.post(f"/jobs/{job_id}/open-again", {"because": "It was another job."}).status_code == 303
    page = tess.get(f"/jobs/{job_id}").text
    assert "The land was sold." not in page and "Finish this job" in page and "Open this job again" not in page


def test_what_was_asked_is_corrected_on_its_own_page(cast):
    tess, job_id = cast.browser("tess"), open_job(cast)
    sent = {**JOB, "site": "South paddock", "wall_thickness_mm": "5.5", "wall_thickness_mm_unit": "in"}
    assert tess.post(f"/jobs/{job_id}/asked", {**sent, "because": "Misheard."}).status_code == 303
    page = tess.get(f"/jobs/{job_id}/asked").text
    assert "North paddock → South paddock" in page and "Misheard." in page and "140 mm" in page


def paths(cast: Cast) -> list[str]:
    job_id = open_job(cast)
    return [
        f"/jobs/{job_id}/intake",
        f"/jobs/{job_id}/asked",
        f"/sacks/{take_in(cast, job_id)}",
        "/jobs/new",
        "/customers",
    ]


def test_customers_and_strangers_come_nowhere_near_the_intake(cast):
    for path in paths(cast):
        assert cast.browser("cy").get(path).status_code == 403
        answer = cast.browser(None).get(path, follow_redirects=False)
        assert (answer.status_code, answer.headers["location"].split("?")[0]) == (303, "/sign-in")
        assert cast.browser("dov").post(path if path != "/jobs/new" else "/jobs", {}).status_code in (403, 405)


def test_what_is_not_there_is_not_found(cast):
    tess = cast.browser("tess")
    for path in ("/jobs/{}/intake", "/jobs/{}/asked", "/sacks/{}", "/soils/{}", "/customers/{}"):
        assert tess.get(path.format(uuid4())).status_code == 404
        assert tess.get(path.format("no-id")).status_code == 404


def test_typed_markup_stays_text(cast):
    tess = cast.browser("tess")
    path = tess.post("/jobs", {**JOB, "site": "<script>x</script>", "new_customer": "<b>Ada</b>"}).headers["location"]
    page = tess.get(path).text
    assert "<script>x" not in page and "<b>Ada" not in page and "&lt;b&gt;Ada" in page


def test_the_intake_pages_ask_the_database_few_questions_however_many_sacks_there_are(cast, statements):
    tess, job_id = cast.browser("tess"), open_job(cast)
    counts: dict[str, set[int]] = {}
    for label in ("J1-A", "J1-B", "J1-C"):
        receipt_id = take_in(cast, job_id, label)
        tess.post(f"/sacks/{receipt_id}/cans", CANS)
        for path in (
            f"/jobs/{job_id}/intake",
            f"/jobs/{job_id}/asked",
            f"/sacks/{receipt_id}",
            "/jobs/new",
            "/customers",
        ):
            statements.clear()
            assert tess.get(path).status_code == 200
            counts.setdefault(path.rpartition("/")[0], set()).add(len(statements))
    assert max(max(numbers) for numbers in counts.values()) <= 12
    statements.clear()
    tess.get(f"/jobs/{job_id}/intake")
    assert len(statements) == 9


def test_a_form_of_five_thousand_cans_is_refused_with_a_sentence(cast):
    tess, receipt_id = cast.browser("tess"), take_in(cast)
    for rows in (100, 5_000):
        many: dict[str, Any] = {f"cans.{row}.wet_kg": "110" for row in range(rows)}
        answer = tess.post(f"/sacks/{receipt_id}/cans", {**CANS, **many, "form": "cans"})
        assert answer.status_code in (400, 413, 422)
        assert "At most 40 rows" in answer.text or "more than this form takes" in answer.text
    assert sheet.sack(cast.tess, receipt_id=receipt_id).cans == []


def test_customers_are_listed_added_and_shown_with_their_jobs_and_people(cast):
    tess = cast.browser("tess")
    job_id = open_job(cast)
    assert "Cy&#39;s Cob Yard" in tess.get("/customers").text
    page = tess.get(f"/customers/{cast.customers['cy']}").text.replace("<wbr>", "")
    assert f"/jobs/{job_id}" in page and "cy@shop.example" in page and "dov@shop.example" not in page
    answer = tess.post("/customers", {"name": "Ada’s Adobe", "contact": "the yard by the river", "language": "es"})
    assert "the yard by the river" in tess.get(answer.headers["location"]).text
    refused = tess.post("/customers", {"name": " "})
    assert refused.status_code == 422 and sentence(refused.text, "name")


def test_what_is_known_of_a_customer_is_changed_and_the_trail_keeps_what_it_was(cast):
    tess, path = cast.browser("tess"), f"/customers/{cast.customers['cy']}"
    told = tess.post(path, {"name": "Cy’s New Yard", "contact": "", "language": "es"})
    assert (told.status_code, told.headers["location"]) == (303, path)
    page = tess.get(path).text
    assert "Cy’s New Yard" in page and "Spanish" in page
    with Session(cast.stores.read) as session:
        (last,) = audit_log.entries(session, limit=1)
    assert "Cy's Cob Yard" in last.details
    assert sentence(tess.post(path, {"name": " ", "form": "change"}).text, "name")
    assert tess.post(f"/customers/{uuid4()}", {"name": "Nobody"}).status_code == 404
