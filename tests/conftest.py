"""What every test may ask for: databases of both kinds, never skipped."""

import hashlib
import os
import shutil
import sqlite3
import sys
import warnings
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from sqlalchemy import event

from tests import postgres, quicker
from tests.chromium import ARGUMENTS, CHROMIUM

if TYPE_CHECKING:
    from playwright.sync_api import Browser

    from tests.cast import Cast

KINDS = ("sqlite", "postgresql")


class Watched(sqlite3.Connection):
    """A connection that complains when it is forgotten, as every one does from Python 3.13 on."""

    def __init__(self, *given: Any, **more: Any) -> None:
        """Open it, and note in which test: it may be forgotten in one and collected in another."""
        super().__init__(*given, **more)
        self.opened_in = os.environ.get("PYTEST_CURRENT_TEST", "no test")

    def __del__(self) -> None:
        """Warn, which fails a test, unless it was closed."""
        try:
            _ = self.total_changes
        except sqlite3.ProgrammingError:
            return
        told = f"A connection to SQLite was not closed. It was opened in {self.opened_in}."
        warnings.warn(told, ResourceWarning, source=self, stacklevel=1)


# The files that take longest, the longest first: begun last, one would keep a process busy while the other waits.
LONGEST = (
    "browser/test_every_state", "hostile/test_drawn", "faults/", "web/test_routes", "hostile/", "browser/", "setup/",
    "journeys/", "desk/", "paper/", "web/",
)  # fmt: skip


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with the files that take longest; the order within a file stays."""
    items.sort(key=lambda item: next((n for n, part in enumerate(LONGEST) if part in item.nodeid), len(LONGEST)))


def pytest_configure() -> None:
    """Write in memory, compile statements once a process, and watch connections on Python 3.11 and 3.12 too."""
    quicker.write_in_memory()
    quicker.compile_once()
    if sys.version_info < (3, 13):
        sqlite3.connect = sqlite3.dbapi2.connect = partial(sqlite3.dbapi2.connect, factory=Watched)


def pytest_collection_finish() -> None:
    """Look for garbage among what the tests make only."""
    quicker.collect_less()


@pytest.fixture(autouse=True)
def _nothing_kept_ready(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let no test meet the result of another: databases that are copies of one have its trail and its jobs."""
    live = sys.modules.get("service.desk.results.live")
    if live is not None:
        monkeypatch.setattr(live, "_STANDS", type(live._STANDS)(most=16))


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[str]:
    """Yield the address of a PostgreSQL server, one for each test process."""
    with postgres.server() as address:
        yield address


@pytest.fixture(params=KINDS)
def empty_database_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Yield, for either kind in turn, the address of a database without a single table."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path / 'empty.sqlite'}"
        return
    with postgres.database(request.getfixturevalue("postgres_server")) as url:
        yield url


@pytest.fixture(params=KINDS)
def database_url(request: pytest.FixtureRequest) -> str:
    """Return, for either kind in turn, the address of a migrated database without a row."""
    return str(request.getfixturevalue("sqlite_url" if request.param == "sqlite" else "postgres_copy"))


@pytest.fixture
def sqlite_url(tmp_path: Path, migrated_sqlite: Path) -> str:
    """Return the address of a migrated SQLite file of the test's own."""
    return f"sqlite:///{shutil.copy(migrated_sqlite, tmp_path / 'shop.sqlite')}"


@pytest.fixture
def postgres_url(postgres_server: str, migrated_postgres: str) -> Iterator[str]:
    """Yield the address of a migrated PostgreSQL database of the test's own."""
    with postgres.database(postgres_server, template=migrated_postgres) as url:
        yield url


@pytest.fixture
def postgres_copy(postgres_server: str, migrated_postgres: str) -> Iterator[str]:
    """Yield the address of a migrated PostgreSQL database, which was perhaps used before and is empty again."""
    with postgres.copy(postgres_server, migrated_postgres) as url:
        yield url


@pytest.fixture(scope="module", params=KINDS)
def lasting_database_url(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Yield, for either kind in turn, the address of a migrated database that one file of tests has for itself."""
    if request.param == "sqlite":
        migrated, folder = request.getfixturevalue("migrated_sqlite"), tmp_path_factory.mktemp("lasting")
        yield f"sqlite:///{shutil.copy(migrated, folder / 'shop.sqlite')}"
        return
    server, template = request.getfixturevalue("postgres_server"), request.getfixturevalue("migrated_postgres")
    with postgres.database(server, template=template) as url:
        yield url


@pytest.fixture(scope="session")
def migrated_sqlite(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a migrated SQLite file to copy: every step of the migrations runs once a process, not once a test."""
    from service.records.database import migrate

    path = tmp_path_factory.mktemp("migrated") / "migrated.sqlite"
    migrate(f"sqlite:///{path}")
    return path


@pytest.fixture(scope="session")
def migrated_postgres(postgres_server: str) -> Iterator[str]:
    """Yield the name of a migrated PostgreSQL database to copy."""
    from service.records.database import migrate

    with postgres.database(postgres_server) as url:
        migrate(url)
        yield url.partition("?")[0].rpartition("/")[2]


@pytest.fixture(scope="session")
def filled(tmp_path_factory: pytest.TempPathFactory, migrated_sqlite: Path) -> tuple["Cast", Path]:
    """Return a cast and its SQLite file to copy: passwords are hashed once a process, not once a test."""
    from tests.cast import open_cast

    folder = tmp_path_factory.mktemp("filled")
    path = Path(shutil.copy(migrated_sqlite, folder / "filled.sqlite"))
    opened = open_cast(f"sqlite:///{path}", folder)
    _leave(opened)
    return opened, path


@pytest.fixture(scope="session")
def told_demo(tmp_path_factory: pytest.TempPathFactory, migrated_sqlite: Path) -> Path:
    """Return the folder of a demo shop to copy: its story is told once a process, not once a file of tests."""
    from tests.demo_pages import told

    folder = tmp_path_factory.mktemp("told")
    shutil.copy(migrated_sqlite, folder / "shop.sqlite")
    with told(folder):
        return folder


@pytest.fixture(params=KINDS)
def cast_on_either(request: pytest.FixtureRequest) -> "Cast":
    """Return a shop with its whole cast, on either database in turn."""
    entered: Cast = request.getfixturevalue(f"cast_on_{request.param}")
    return entered


@pytest.fixture
def cast(cast_on_either: "Cast") -> "Cast":
    """Return a shop with its whole cast, on either database in turn unless the tests of a room say otherwise."""
    return cast_on_either


@pytest.fixture
def cast_on_sqlite(filled: tuple["Cast", Path], tmp_path: Path) -> Iterator["Cast"]:
    """Yield a shop on SQLite with its whole cast."""
    from tests.cast import enter

    entered = enter(f"sqlite:///{shutil.copy(filled[1], tmp_path / 'shop.sqlite')}", tmp_path, filled[0])
    yield entered
    _leave(entered)


@pytest.fixture
def cast_on_postgresql(filled_postgres: tuple["Cast", str], postgres_server: str, tmp_path: Path) -> Iterator["Cast"]:
    """Yield a shop on PostgreSQL with its whole cast."""
    from tests.cast import enter

    with postgres.copy(postgres_server, filled_postgres[1]) as url:
        entered = enter(url, tmp_path, filled_postgres[0])
        yield entered
        _leave(entered)


@pytest.fixture(scope="session")
def filled_postgres(
    tmp_path_factory: pytest.TempPathFactory, postgres_server: str, migrated_postgres: str
) -> Iterator[tuple["Cast", str]]:
    """Yield a cast and the name of its PostgreSQL database to copy."""
    from tests.cast import open_cast

    with postgres.database(postgres_server, template=migrated_postgres) as url:
        opened = open_cast(url, tmp_path_factory.mktemp("filled"))
        _leave(opened)
        yield opened, url.partition("?")[0].rpartition("/")[2]


def _leave(cast: "Cast") -> None:
    # SQLite's last writes stand in a file beside the database until its last connection closes.
    cast.stores.read.dispose()
    cast.stores.write.dispose()


@pytest.fixture
def undrawn_papers(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Give every paper bytes of its own without laying out its pages, for tests that ask who may read it and when.

    A test marked ``drawn`` reads a PDF as it leaves the shop; those of ``tests/paper`` and ``tests/journeys`` all do.
    """
    if request.node.get_closest_marker("drawn"):
        return
    from service.paper import issuing, notices
    from service.web.pages import results

    def undrawn(page: str, enclosed: object = ()) -> bytes:
        return b"%PDF-1.7 undrawn " + hashlib.sha256(page.encode()).hexdigest().encode()

    for room in (issuing, notices, results):
        monkeypatch.setattr(room, "pdf", undrawn)


@pytest.fixture
def statements(cast: "Cast") -> Iterator[list[str]]:
    """Yield the SQL statements sent from now on; clear the list before the page that is counted."""
    sent: list[str] = []

    def keep(connection: object, cursor: object, statement: str, *rest: object) -> None:
        if not statement.startswith(("BEGIN", "COMMIT", "ROLLBACK", "PRAGMA", "SAVEPOINT", "RELEASE")):
            sent.append(statement)

    for engine in (cast.stores.read, cast.stores.write):
        event.listen(engine, "before_cursor_execute", keep)
    yield sent
    for engine in (cast.stores.read, cast.stores.write):
        event.remove(engine, "before_cursor_execute", keep)


@pytest.fixture(scope="session")
def browser() -> Iterator["Browser"]:
    """Yield one Chromium for the whole run of a process, for there can only be one."""
    from playwright.sync_api import sync_playwright

    assert CHROMIUM, "Chromium is missing: ./run test installs it."
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield started
        started.close()
