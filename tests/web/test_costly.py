"""What takes long is counted for each person and each program, and one too many waits."""

from uuid import uuid4

import pytest

from service.desk.signing_in.lifetimes_and_tries import MOST_COSTLY
from service.work.examples import EXAMPLES
from tests.cast import Cast
from tests.trials import a_tried_job

COSTLY = {
    "GET /expected-strength",
    "POST /api/v1/jobs/{job_id}/results",
    "POST /api/v1/work/{name}",
    "POST /jobs/{job_id}/issue",
    "POST /backups/archives",
    "POST /export",
    "POST /import",
    "GET /import/{file_id}",
    "GET /import/{file_id}/problems.csv",
    "POST /import/{file_id}",
    "POST /calculator/{name}",
}


@pytest.fixture
def few(monkeypatch: pytest.MonkeyPatch) -> None:
    for kind in MOST_COSTLY:
        monkeypatch.setitem(MOST_COSTLY, kind, 3)


def test_a_customer_cannot_keep_the_shop_calculating(cast: Cast, few: None) -> None:
    cy, dov = cast.program("cy"), cast.program("dov")
    asked = [cy.post("/api/v1/work/batch", json=EXAMPLES["batch"]).status_code for _ in range(4)]
    assert asked == [200, 200, 200, 429]
    # Another one's work goes on, and so does his own after a while.
    assert dov.post("/api/v1/work/batch", json=EXAMPLES["batch"]).status_code == 200
    cast.clock.forward(minutes=16)
    assert cy.post("/api/v1/work/batch", json=EXAMPLES["batch"]).status_code == 200


def test_a_session_and_a_form_count_together_and_the_page_says_so(cast: Cast, few: None) -> None:
    tess = cast.browser("tess")
    for _ in range(3):
        assert tess.client.post("/api/v1/work/batch", json=EXAMPLES["batch"]).status_code == 200
    told = tess.post("/calculator/batch", {})
    assert told.status_code == 429 and "Too many in 15 minutes" in told.text


def test_archives_papers_and_the_shops_history_count_together(cast: Cast, few: None) -> None:
    olu, job = cast.browser("olu"), uuid4()
    answers = [
        olu.post("/backups/archives"),
        olu.get("/expected-strength"),
        olu.post(f"/jobs/{job}/issue", {"seen_sha256": "x"}),
        olu.post("/backups/archives"),
    ]
    assert [answer.status_code for answer in answers] == [303, 200, 404, 429]
    assert len([*cast.app.state.archives.glob("*.zip")]) == 1


def test_somebody_at_work_stays_far_below() -> None:
    assert MOST_COSTLY == {"work": 600, "paper": 60}


@pytest.mark.parametrize("route", sorted(COSTLY))
def test_every_one_of_these_addresses_is_counted(cast: Cast, monkeypatch: pytest.MonkeyPatch, route: str) -> None:
    for kind in MOST_COSTLY:
        monkeypatch.setitem(MOST_COSTLY, kind, 0)
    method, path = route.split()
    job = a_tried_job(cast).job_id if "{job_id}" in path else None
    client = cast.browser("olu").client
    if path.startswith("/api/"):
        client = cast.program("olu")
    body = {"json": {"remark": "", "seen_sha256": "0" * 64}} if path.endswith("/results") else {}
    answer = client.request(method, path.format(job_id=job, name="batch", file_id=uuid4()), **body)
    assert answer.status_code == 429
