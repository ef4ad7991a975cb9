"""What the log tells of the doors: who was refused what and where, what was made and ended, and never a secret."""

import inspect
import json
import logging
import re
from collections.abc import Iterator
from datetime import timedelta
from io import StringIO
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest

from service.desk import people
from service.desk.doorway import TOLD, USE_CASES, Role
from service.desk.results import live, share_links
from service.paper import issuing
from service.web import security_log as events
from service.web.authentication import sha256
from service.web.cookies import COOKIE
from service.web.request_guard import MOST_REQUEST_BYTES
from service.web.request_log import JsonLines
from tests.cast import PASSWORD, Cast
from tests.trials import a_tried_job
from tests.web.test_sign_in import turn_on
from tests.web.test_tablets import PIN, choose_pin, enrolled, switch_on

DOCS = Path(__file__).parents[2] / "docs" / "logging.md"


@pytest.fixture
def cast(cast_on_either: Cast) -> Cast:
    """Return the cast on either database: refusals come from the database."""
    return cast_on_either


class Log:
    """What the service wrote."""

    def __init__(self) -> None:
        self.written = StringIO()

    def events(self) -> list[dict[str, Any]]:
        """Return the events since this was asked last."""
        lines = [json.loads(line) for line in self.written.getvalue().splitlines()]
        self.written.seek(0)
        self.written.truncate()
        return [line for line in lines if "event" in line]


@pytest.fixture
def log() -> Iterator[Log]:
    kept, root = Log(), logging.getLogger("service")
    handler = logging.StreamHandler(kept.written)
    handler.setFormatter(JsonLines())
    root.addHandler(handler)
    root.setLevel(logging.INFO)
    yield kept
    root.removeHandler(handler)
    root.setLevel(logging.NOTSET)


def refused(cast: Cast, what: str) -> tuple[Any, str, str | None]:
    """Have something refused; return the answer, the path that is told and whose name stands beside it."""
    tess, nobody = cast.ids["tess"], cast.browser(None)
    form = {"email": "olu@shop.example", "password": "guess"}
    if what == "password.refused":
        return nobody.post("/sign-in", form), "/sign-in", None
    if what == "code.refused":
        turn_on(cast, "olu")
        return nobody.post("/sign-in", {**form, "password": PASSWORD, "code": "000000"}), "/sign-in", None
    if what == "pin.refused":
        choose_pin(cast)
        return switch_on(cast, enrolled(cast), "111112"), f"/tablet/{tess}", None
    if what == "password.asked":
        olu = cast.browser("olu")
        cast.clock.forward(minutes=11)
        return olu.post("/tablets", {"name": "x"}), "/tablets", "olu"
    if what == "secret.refused":
        nobody.client.cookies.set(COOKIE, "no such session")
        return nobody.get("/jobs", follow_redirects=False), "/jobs", None
    if what == "right.refused":
        return cast.browser("tess").get("/people"), "/people", "tess"
    if what == "object.refused":
        id_ = uuid4()
        return cast.browser("cy").get(f"/results/{id_}"), f"/results/{id_}", "cy"
    if what == "tries.refused":
        answers = [nobody.post("/sign-in", form) for _ in range(11)]
        return answers[-1], "/sign-in", None
    if what == "site.refused":
        olu = cast.browser("olu")
        return (
            olu.post("/tablets", {"name": "x"}, headers={"sec-fetch-site": "cross-site"}),
            "(no address of ours)",
            None,
        )
    assert what == "size.refused"
    return (
        cast.browser("tess").client.post("/jobs", content=b"x" * (MOST_REQUEST_BYTES + 1)),
        "(no address of ours)",
        None,
    )


@pytest.mark.parametrize("what", sorted(events.NAMES - {events.BROKEN, "records.unavailable"}))
def test_what_is_refused_at_a_door_is_told_with_where_and_to_whom(cast: Cast, log: Log, what: str) -> None:
    answer, path, name = refused(cast, what)
    told = log.events()[-1]
    person = str(cast.ids[name]) if name else None
    assert (told["event"], told["path"], told["person"], told["level"]) == (what, path, person, "warning")
    assert told["request_id"] == answer.headers["x-request-id"]
    assert (told["device"] is None) == (what != "pin.refused")


def test_a_program_whose_token_is_unknown_is_told(cast: Cast, log: Log) -> None:
    client = cast.browser(None).client
    assert client.get("/api/v1/jobs", headers={"authorization": "Bearer sekret"}).status_code == 401
    assert [one["event"] for one in log.events()] == ["secret.refused"]


def test_a_stranger_who_is_sent_to_sign_in_is_no_event(cast: Cast, log: Log) -> None:
    cast.browser(None).get("/jobs")
    assert log.events() == []


def test_an_outage_and_a_bug_are_events(cast: Cast, log: Log, monkeypatch: pytest.MonkeyPatch) -> None:
    from service.desk import jobs_in_hand
    from service.errors import Unavailable

    def fails(error: Exception) -> None:
        def broken(*_given: object, **_more: object) -> None:
            raise error

        monkeypatch.setattr(jobs_in_hand, "jobs", broken)

    client = cast.browser("tess").client
    client._transport.raise_server_exceptions = False  # type: ignore[attr-defined]
    log.events()
    for error, name in ((Unavailable("gone"), "records.unavailable"), (ValueError("sekret"), "request.broken")):
        fails(error)
        client.get("/jobs")
        assert [one["event"] for one in log.events()] == [name]


def test_what_is_made_and_ended_at_the_doors_is_told_with_who_did_it(cast: Cast, log: Log) -> None:
    olu, here = cast.browser("olu"), cast.browser(None)
    log.events()
    here.post("/sign-in", {"email": "olu@shop.example", "password": PASSWORD})
    olu.post(f"/people/{cast.ids['tess']}/tokens", {"form": "x", "role": "technician", "lasts_days": "9"})
    end = re.search(r'action="(/tokens/[0-9a-f-]{36}/end)"', olu.get("/people").text)
    assert end
    olu.post(end[1])
    here.post("/sign-out")
    told = log.events()
    assert [(one["event"], one["path"].split(" ")[1]) for one in told] == [
        ("session.open", "/sign-in"),
        ("token.make", f"/people/{cast.ids['tess']}/tokens"),
        ("token.end", end[1]),
        ("session.end", "/sign-out"),
    ]
    ids = [str(cast.ids["olu"])] * 2
    assert [one["person"] for one in told[1:3]] == ids
    assert told[0]["subject_id"] == ids[0] and told[2]["subject_id"] == told[1]["subject_id"]


def through_every_door(cast: Cast) -> set[str]:
    """Go through every door, well and badly; return everything secret that was sent or shown on the way."""
    secrets = {PASSWORD, PIN, "olu@shop.example", "tess@shop.example", "Olu", "Tess", "Ina", "ina@shop.example"}
    olu, nobody = cast.browser("olu"), cast.browser(None)
    form = {"form": "invite", "name": "Ina", "email": "ina@shop.example", "role": "technician"}
    for path, data in (
        ("/people", form),
        (f"/people/{cast.ids['tess']}/address", {}),
        (f"/people/{cast.ids['tess']}/tokens", {"form": "x", "role": "technician", "lasts_days": "9"}),
    ):
        shown = re.search(r'<code class="label">(?:http://localhost/sign-in/)?([^<]+)<', olu.post(path, data).text)
        assert shown
        secrets.add(shown[1])
        nobody.get(f"/sign-in/{shown[1]}")
        nobody.post(f"/sign-in/{shown[1]}", {"new_password": "sekret"})
    choose_pin(cast)
    tablet = enrolled(cast)
    switch_on(cast, tablet)
    switch_on(cast, tablet, "999998")
    tablet.post("/sign-out")
    secrets |= {"999998", *turn_on(cast, "cy")[1]}
    for guess in ("sekret", PASSWORD):
        nobody.post("/sign-in", {"email": "cy@shop.example", "password": guess, "code": "123450"})
    issued_id = issuing.issue(
        cast.olu,
        job_id=(job := a_tried_job(cast).job_id),
        remark="",
        seen_sha256=live.live(cast.olu, job_id=job).sha256,
    )
    last_day = (cast.clock.now + timedelta(days=5)).date()
    share_links.make(cast.olu, issued_id=issued_id, token_sha256=sha256("sekret"), last_day=last_day)
    nobody.get("/shared/sekret")
    nobody.get("/shared/sekret-2")
    tokens = {one.client.cookies.get(COOKIE) or "" for one in (olu, nobody, tablet)} - {""}
    return {*secrets, *tokens, "sekret", "123450", "cy@shop.example"}


def test_no_line_of_the_log_holds_anything_secret(cast: Cast, log: Log) -> None:
    secrets = through_every_door(cast)
    written = log.written.getvalue()
    assert len(log.events()) >= 20
    # Digests of secrets lead nobody in, but they belong into no log either.
    assert [one for one in secrets | {sha256(one) for one in secrets} if f'"{one}"' in written or one in written] == []


def test_the_documentation_names_every_event_and_no_other() -> None:
    told = {name for name, use_case in USE_CASES.items() if name.startswith(TOLD) and _is_told(use_case)}
    named = set(re.findall(r"`([a-z]+\.[a-z_]+)`", DOCS.read_text().split("## Events")[1]))
    assert named == told | events.NAMES


def _is_told(use_case: Any) -> bool:
    """Return whether a use case is a write that leaves an entry in the trail."""
    given = inspect.getclosurevars(use_case).nonlocals
    return bool(given.get("trailed", False))


def test_an_act_that_was_answered_before_is_not_told_twice(cast: Cast, log: Log) -> None:
    olu = cast.olu
    for _ in range(2):
        people.make_token(olu, person_id=olu.doer, role=Role.OWNER, token_sha256=sha256("t"), lasts_days=9)
    assert [one["event"] for one in log.events()] == ["token.make"]
