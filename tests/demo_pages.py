"""The demo shop for tests that look at all of its pages: told once, walked from its first page as a person would."""

import re
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from secrets import token_hex

from fastapi import FastAPI
from fastapi.testclient import TestClient

from service.app import create_app, open_stores
from service.demo import shop
from service.desk.doorway import Caller, Stores, Via
from service.desk.signing_in import sign_in
from service.settings import Settings
from service.web.authentication import sha256
from service.web.cookies import COOKIE
from tests.quicker import answer_in_one_loop

answer_in_one_loop()
LINK = re.compile(r'href="(/[^"#]*)')
ID = re.compile(r"[0-9a-f]{8}-[0-9a-f-]{27}")
START = ("/", "/soils", "/search?q=a")
ELSEWHERE = ("/static/", "/vendor/")


@dataclass(frozen=True)
class Demo:
    """A demo shop, with a session of its first owner and one of a customer who has a result."""

    app: FastAPI
    stores: Stores
    sessions: dict[str, str]

    @property
    def nobody(self) -> Caller:
        """Return a caller of whom nothing is known."""
        return Caller(stores=self.stores, via=Via.PAGE, request_id="test")

    def client(self, role: str) -> TestClient:
        """Return a browser in which somebody of that role is signed in."""
        return TestClient(self.app, base_url="http://127.0.0.1", cookies={COOKIE: self.sessions[role]})


@contextmanager
def told(folder: Path) -> Iterator[Demo]:
    """Open the demo shop in ``shop.sqlite`` of a folder, a migrated database; its story is told unless it was."""
    settings = Settings(data=folder, address="http://127.0.0.1")
    stores = open_stores(settings)
    shop.load(stores, now=datetime.now(UTC))
    nobody = Caller(stores=stores, via=Via.COMMAND, request_id="test")
    sessions = {}
    for welcome in shop.welcomes(stores):
        sessions[welcome.role] = token_hex()
        sign_in.use_address(
            nobody,
            token_sha256=sha256(welcome.token),
            session_sha256=sha256(sessions[welcome.role]),
            new_password=None,
        )
    yield Demo(create_app(settings, stores), stores, sessions)
    stores.read.dispose()
    stores.write.dispose()


def walk(
    client: TestClient, *, most: int = 6, broken: dict[str, int] | None = None, start: tuple[str, ...] = START
) -> Iterator[tuple[str, str]]:
    """Yield the path and the text of every page that links lead to, six of each kind, for the demo has six jobs.

    Links that are refused are added to ``broken`` with what they answer.
    """
    waiting, met, kinds = deque(start), set[str](), dict[str, int]()
    while waiting:
        path = waiting.popleft()
        kind = kind_of(path)
        if path in met or kinds.get(kind, 0) == most:
            continue
        met.add(path)
        answer = client.get(path, follow_redirects=False)
        refused = broken is not None and answer.status_code >= 400 and path not in start
        # A page that asks for the password once more is no broken link.
        if broken is not None and refused and 'type="password"' not in answer.text:
            broken[path] = answer.status_code
        if answer.status_code != 200 or "html" not in answer.headers["content-type"]:
            continue
        kinds[kind] = kinds.get(kind, 0) + 1
        yield path, answer.text
        waiting.extend(
            link.replace("&amp;", "&") for link in LINK.findall(answer.text) if not link.startswith(ELSEWHERE)
        )


def kind_of(path: str) -> str:
    """Return an address without what tells one job, block or sheet from the next."""
    return ID.sub("*", path.partition("?")[0])
