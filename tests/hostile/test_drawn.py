"""Requests drawn by hypothesis and schemathesis: none breaks the service, none leaves half of what it asked for."""

import json
from collections.abc import Iterator
from typing import Any
from urllib.parse import quote
from uuid import uuid4

import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.stateful import run_state_machine_as_test
from schemathesis import BaseSchema, Case, GenerationMode
from schemathesis.core import NotSet

from service.records.database import migrate
from service.web.cookies import COOKIE
from tests.demo_pages import LINK, Demo, kind_of, told
from tests.hostile.drawing import Form, anything, filled, forms_of
from tests.hostile.shop import Target, cases, on_postgresql, on_sqlite

API = "/api/v1/openapi.json"
HOW: dict[str, Any] = {
    "derandomize": True,
    "database": None,
    "deadline": None,
    "suppress_health_check": list(HealthCheck),
    "report_multiple_bugs": False,
}


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Demo]:
    """Yield the demo shop, told once."""
    folder = tmp_path_factory.mktemp("demo")
    migrate(f"sqlite:///{folder / 'shop.sqlite'}")
    with told(folder) as demo:
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
    del found["/keeping/archives"]
    assert len(found) > 90
    return [found[kind] for kind in sorted(found)]


def sent(target: Target, method: str, url: str, role: str = "owner", **more: Any) -> Any:
    """Send a request and hold its answer against what is promised of every one."""
    answer = target.client(role).request(method, url, follow_redirects=False, **more)
    assert answer.status_code < 500, f"{method} {url}: {answer.status_code}"
    target.answers["program" if url.startswith("/api/") else "form", answer.status_code] += 1
    counts = target.counts()
    if answer.status_code >= 400:
        assert counts == target.told, f"{method} {url} was refused with {answer.status_code} and left something"
    if counts != target.told:
        assert counts["trail"] > target.told["trail"], f"{method} {url} left something and the trail knows of nothing"
    return answer


def looked_at(target: Target, *pages: str) -> None:
    """Look at pages that show what was just stored: whatever was taken can be shown."""
    client = target.client("owner")
    for page in pages:
        status = client.get(page, follow_redirects=False).status_code
        assert status < 500, f"{page}: {status}"


def test_forms_filled_with_anything_are_taken_whole_or_refused(target: Target, forms: list[Form]) -> None:
    @settings(max_examples=cases(120, 4_000), **HOW)
    @given(st.data())
    def send(data: st.DataObject) -> None:
        form = data.draw(st.sampled_from(forms))
        body = data.draw(filled(form))
        headers = {"content-type": "application/x-www-form-urlencoded"}
        if data.draw(st.booleans()):
            headers["hx-request"] = "true"
        answer = sent(target, "POST", form.action, content=body, headers=headers)
        if target.counts() != target.told:
            if answer.status_code == 303:
                looked_at(target, form.page, answer.headers["location"])
            target.put_back()

    send()
    # Else nothing was tried but the refusing.
    assert target.answers["form", 303] > 10 and target.answers["form", 422] > 10


@pytest.fixture(scope="module")
def schema(target: Target) -> BaseSchema:
    """Return what the service says of its programs' addresses, every link between them worked out."""
    return schemathesis.openapi.from_asgi(API, target.app)


def test_programs_that_send_anything_are_answered_or_refused(target: Target, schema: BaseSchema) -> None:
    operations = sorted((found.ok() for found in schema.get_all_operations()), key=lambda one: str(one.label))
    drawn = [one.as_strategy(generation_mode=mode) for one in operations for mode in GenerationMode]
    assert len(operations) > 60

    @settings(max_examples=cases(120, 5_000), **HOW)
    @given(st.data())
    def send(data: st.DataObject) -> None:
        case = aimed(target, data.draw(st.sampled_from(drawn).flatmap(lambda one: one)), data)
        sent(target, case.method, path_of(case), params=case.query, **body_of(case), headers=headers_of(case))
        if target.counts() != target.told:
            target.put_back()

    send()
    assert target.answers["program", 201] > 0 and target.answers["program", 200] > 10


def test_programs_that_follow_every_link_are_answered_or_refused(target: Target, schema: BaseSchema) -> None:
    class Program(schema.as_state_machine()):  # type: ignore[misc]
        """A program that goes on with the ids it was answered."""

        def setup(self) -> None:
            target.put_back()

        def get_call_kwargs(self, case: Case) -> dict[str, Any]:
            case.headers = headers_of(case)
            cookie = f"{COOKIE}={target.sessions['owner']}"
            return {"headers": {"cookie": cookie, "sec-fetch-site": "same-origin"}}

        def validate_response(self, response: Any, case: Case, *rest: Any, **more: Any) -> None:
            target.answers["follower", response.status_code] += 1
            assert response.status_code < 500, f"{case.method} {case.formatted_path}: {response.status_code}"

    steps = cases(6, 10)
    run_state_machine_as_test(
        Program, settings=settings(max_examples=cases(60, 2_000) // steps, stateful_step_count=steps, **HOW)
    )
    target.put_back()
    assert target.answers["follower", 200] > 10


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
