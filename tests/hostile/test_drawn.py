"""Requests drawn by hypothesis and schemathesis: none breaks the service, none leaves half of what it asked for."""

import json
import shutil
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote
from uuid import uuid4

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st
from hypothesis.stateful import run_state_machine_as_test
from schemathesis import BaseSchema, Case, GenerationMode
from schemathesis.core import NotSet
from schemathesis.python.asgi import shutdown_lifespans

from service.nightly import archive_nightly
from service.settings import Settings
from service.web.cookies import COOKIE
from tests.demo_pages import LINK, Demo, kind_of, told
from tests.hostile.conftest import CASES, DATABASES, FOLLOWERS, FORMS, HALF_A_FILE, PROGRAMS, Tally, rows
from tests.hostile.drawing import Form, anything, filled, forms_of
from tests.hostile.shop import LONG, Target, on_postgresql, on_sqlite

# A machine that is busy with other tests takes its time; what hangs never comes.
HANGS_AFTER_SECONDS = 120
API = "/api/v1/openapi.json"
HOW: dict[str, Any] = {
    "derandomize": True,
    "database": None,
    "deadline": None,
    "suppress_health_check": list(HealthCheck),
    # What breaks is noted and the drawing goes on: nothing is left to be found again smaller.
    "phases": (Phase.generate,),
}


@pytest.fixture(scope="module")
def demo(told_demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Demo]:
    """Yield a demo shop of this file's own."""
    folder = tmp_path_factory.mktemp("demo")
    shutil.copytree(told_demo, folder, dirs_exist_ok=True)
    with told(folder) as demo:
        # Else the rounds of a target would make tonight's archive in the middle of what is counted.
        assert archive_nightly(demo.stores, folder=folder, nightly_at=Settings().nightly_at)
        yield demo


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def target(request: pytest.FixtureRequest, demo: Demo, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Target]:
    """Yield the demo shop on either database in turn."""
    folder = tmp_path_factory.mktemp("target")
    if request.param == "sqlite":
        with on_sqlite(demo, folder) as made:
            yield made
        return
    with on_postgresql(demo, folder, request.getfixturevalue("postgres_server")) as made:
        yield made


@pytest.fixture(scope="module")
def forms(demo: Demo) -> list[Form]:
    """Return the forms of every page that the owner's links lead to, two of each kind of page."""
    client, found = demo.client("owner"), dict[str, Form]()
    waiting, met, kinds = ["/", "/soils", "/search?q=a"], set[str](), dict[str, int]()
    while waiting:
        path = waiting.pop(0)
        kind = kind_of(path)
        if path in met or kinds.get(kind, 0) == 2:
            continue
        met.add(path)
        answer = client.get(path, follow_redirects=False)
        if answer.status_code == 200 and "html" in answer.headers["content-type"]:
            kinds[kind] = kinds.get(kind, 0) + 1
            waiting += [link.replace("&amp;", "&") for link in LINK.findall(answer.text)]
            for form in forms_of(path, answer.text):
                found.setdefault(kind_of(form.action), form)
    # An archive that cannot be made is written down: that is what its refusal leaves.
    del found["/backups/archives"]
    assert len(found) > 90
    return [found[kind] for kind in sorted(found)]


def sent(target: Target, tally: Tally, method: str, url: str, **more: Any) -> Any:
    """Send a request and hold its answer against what is promised of every one."""
    began = time.monotonic()
    try:
        answer = target.client("owner").request(method, url, follow_redirects=False, **more)
    except Exception:
        tally.answers[500] += 1
        raise
    tally.answers[answer.status_code] += 1
    assert answer.status_code < 500, f"{method} {kind_of(url)}: {answer.status_code}"
    assert time.monotonic() - began < HANGS_AFTER_SECONDS, f"{method} {kind_of(url)} hangs"
    counts = target.counts()
    if answer.status_code >= 400:
        assert counts == target.told, f"{method} {kind_of(url)}: refused with {answer.status_code} and left something"
    if counts != target.told:
        assert counts["trail"] > target.told["trail"], f"{method} {kind_of(url)} left what the trail does not know of"
    return answer


def looked_at(target: Target, *pages: str) -> None:
    """Look at pages that show what was just stored: whatever was taken can be shown."""
    client = target.client("owner")
    for page in pages:
        status = client.get(page, follow_redirects=False).status_code
        assert status < 500, f"{kind_of(page)}: {status}"


@pytest.fixture
def tally(request: pytest.FixtureRequest, target: Target) -> Tally:
    """Return the count of what a test sends."""
    return Tally(request.param, DATABASES[target.stores.write.dialect.name])


def of_kind(kind: str) -> Any:
    """Give a test the count of its kind."""
    return pytest.mark.parametrize("tally", [kind], indirect=True)


@HALF_A_FILE
@of_kind(FORMS)
def test_forms_filled_with_anything_are_taken_whole_or_refused(target: Target, tally: Tally, forms: list[Form]) -> None:
    tally.aims = len(forms)

    @settings(max_examples=CASES[FORMS][LONG], **HOW)
    @given(st.data())
    def send(data: st.DataObject) -> None:
        form = data.draw(st.sampled_from(forms))
        body = data.draw(filled(form))
        headers = {"content-type": body.content_type}
        if data.draw(st.booleans()):
            headers["hx-request"] = "true"
        with tally.noting(f"POST {form.action} {headers} {body.content!r}"):
            answer = sent(target, tally, "POST", form.action, content=body.content, headers=headers)
            if target.counts() != target.told and answer.status_code == 303:
                looked_at(target, form.page, answer.headers["location"])
        target.put_back()

    send()
    # Else nothing was tried but the refusing.
    assert tally.answers[303] > 2 and tally.answers[422] > 10
    tally.settle()


@pytest.fixture(scope="module")
def schema(target: Target) -> Iterator[BaseSchema]:
    """Yield what the service says of its programs' addresses, every link between them worked out."""
    yield schemathesis.openapi.from_asgi(API, target.app)
    # Else the rounds of this shop go on beside the next tests, and fail in their log once its database is gone.
    shutdown_lifespans()


@of_kind(PROGRAMS)
def test_programs_that_send_anything_are_answered_or_refused(target: Target, tally: Tally, schema: BaseSchema) -> None:
    operations = sorted((found.ok() for found in schema.get_all_operations()), key=lambda one: str(one.label))
    drawn = [one.as_strategy(generation_mode=mode) for one in operations for mode in GenerationMode]
    tally.aims = len(operations)
    assert len(operations) > 60

    @settings(max_examples=CASES[PROGRAMS][LONG], **HOW)
    @given(st.data())
    def send(data: st.DataObject) -> None:
        case = aimed(target, data.draw(st.sampled_from(drawn).flatmap(lambda one: one)), data)
        told = {"params": case.query, **body_of(case), "headers": headers_of(case)}
        with tally.noting(f"{case.method} {path_of(case)} {told}"):
            sent(target, tally, case.method, path_of(case), **told)
        target.put_back()

    send()
    # Which address the few requests of the short form choose is chance; the long form comes to those that store.
    assert tally.answers[200] > 10 and (tally.answers[201] > 0 or not LONG)
    tally.settle()


@of_kind(FOLLOWERS)
def test_programs_that_follow_every_link_are_answered_or_refused(
    target: Target, tally: Tally, schema: BaseSchema
) -> None:
    tally.aims = len(list(schema.get_all_operations()))

    class Program(schema.as_state_machine()):  # type: ignore[misc]
        """A program that goes on with the ids it was answered."""

        def setup(self) -> None:
            target.put_back()

        def get_call_kwargs(self, case: Case) -> dict[str, Any]:
            case.headers = headers_of(case)
            cookie = f"{COOKIE}={target.sessions['owner']}"
            headers = {"cookie": cookie, "sec-fetch-site": "same-origin"}
            return {"headers": headers, "timeout": HANGS_AFTER_SECONDS}

        def step(self, input: Any) -> Any:  # noqa: A002
            with tally.noting(
                f"{input.case.method} {input.case.formatted_path} {input.case.query} {input.case.body!r}"
            ):
                return super().step(input)

        def validate_response(self, response: Any, case: Case, *rest: Any, **more: Any) -> None:
            tally.answers[response.status_code] += 1
            assert response.status_code < 500, f"{case.method} {case.path}: {response.status_code}"

    steps = 10 if LONG else 6
    programs = CASES[FOLLOWERS][LONG] // steps
    while tally.sent < CASES[FOLLOWERS][LONG]:
        seeded = seed(tally.sent)(Program)
        run_state_machine_as_test(seeded, settings=settings(max_examples=programs, stateful_step_count=steps, **HOW))
    target.put_back()
    assert tally.answers[200] > 10
    tally.settle()


def test_the_table_tells_of_every_kind_on_both_databases_and_of_twenty_thousand_requests() -> None:
    assert [row[:2] for row in rows()] == [[kind, database] for kind in CASES for database in DATABASES.values()]
    for kind, _, _, short, long, taken, refused, broken, _ in rows():
        # A line is of its day: an earlier long run may have sent more.
        assert (int(short), int(broken)) == (CASES[kind][0], 0) and int(long) >= CASES[kind][1]
        assert int(taken) + int(refused) >= int(long)
    assert sum(int(row[5]) + int(row[6]) for row in rows()) >= 20_000


def aimed(target: Target, case: Case, data: st.DataObject) -> Case:
    """Return the case with most of its ids those of things that are there, and some of its values worse."""

    def worse(value: Any, name: str = "") -> Any:
        known = target.ids(name)
        if isinstance(value, str) and known and data.draw(st.integers(0, 9)) > 0:
            return known[data.draw(st.integers(0, 39)) % len(known)]
        if isinstance(value, list):
            return [worse(one, name) for one in value]
        if isinstance(value, dict):
            return {key: worse(one, key) for key, one in value.items()}
        return data.draw(anything) if data.draw(st.integers(0, 14)) == 0 else value

    case.path_parameters = {name: worse(value, name) for name, value in (case.path_parameters or {}).items()}
    if isinstance(case.body, dict | list):
        case.body = worse(case.body)
    return case


def path_of(case: Case) -> str:
    """Return the address with its parameters in it, whatever they are."""
    return case.path.format(**{name: quote(str(value), safe="") for name, value in case.path_parameters.items()})


def body_of(case: Case) -> dict[str, bytes]:
    """Return the body as bytes: also what no honest program could write as JSON."""
    if isinstance(case.body, bytes):
        return {"content": case.body}
    return {} if isinstance(case.body, NotSet) else {"content": json.dumps(case.body).encode("utf-8", "surrogatepass")}


def headers_of(case: Case) -> dict[str, str]:
    """Return the headers with a fresh key and without the tokens that were drawn, which would all be refused."""
    drawn = {name: str(value) for name, value in (case.headers or {}).items() if name.lower() != "authorization"}
    sendable = {
        name: value for name, value in drawn.items() if name.isascii() and value.isascii() and value.isprintable()
    }
    return {"idempotency-key": uuid4().hex, "content-type": "application/json", **sendable}
