"""Records that take no writing just now: whoever would write is told so, and everybody else goes on reading."""

import errno
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import psycopg
import pytest
from sqlalchemy import event, text

from service.records import files
from service.records.database_errors import CLOSED
from tests import postgres
from tests.cast import Cast, enter

READER = "reads_only"


@pytest.fixture
def cast(cast_on_either: Cast) -> Cast:
    """Return the cast on either database: a store that takes nothing differs."""
    return cast_on_either


@pytest.fixture
def cast_on_postgres(filled_postgres: tuple[Cast, str], postgres_server: str, tmp_path: Path) -> Iterator[Cast]:
    """Yield the shop on PostgreSQL alone."""
    filled, template = filled_postgres
    with postgres.database(postgres_server, template=template) as url:
        entered = enter(url, tmp_path, filled)
        yield entered
        entered.stores.read.dispose()
        entered.stores.write.dispose()


def close(cast: Cast) -> None:
    """Close the records to writing, as a file opened for reading alone and a server that repeats another are."""
    if cast.stores.write.dialect.name == "sqlite":
        with cast.stores.write.connect() as connection:
            connection.exec_driver_sql("PRAGMA query_only=ON")
        return
    _tell(cast, "ALTER DATABASE {} SET default_transaction_read_only = on")


def open_again(cast: Cast) -> None:
    """Open them; SQLite's file was opened anew when it refused to be written to."""
    if cast.stores.write.dialect.name == "postgresql":
        _tell(cast, "ALTER DATABASE {} RESET default_transaction_read_only")


def _tell(cast: Cast, what: str) -> None:
    url = cast.stores.write.url
    with psycopg.connect(postgres.plain(url.render_as_string(hide_password=False)), autocommit=True) as admin:
        admin.execute("SET default_transaction_read_only = off")
        admin.execute(what.format(url.database))
    # What is told holds for connections that are opened from now on.
    cast.stores.read.dispose()
    cast.stores.write.dispose()


def test_who_writes_to_closed_records_is_told_and_who_reads_reads_on(cast: Cast) -> None:
    tess = cast.browser("tess")
    close(cast)
    assert tess.get("/jobs").status_code == 200
    refused = tess.post("/customers", {"name": "Ada", "request_key": "once"})
    assert refused.status_code == 503 and CLOSED in refused.text
    open_again(cast)
    assert tess.post("/customers", {"name": "Ada", "request_key": "once"}).status_code == 303
    assert tess.get("/customers").text.count(">Ada<") == 1


def test_a_page_is_shown_although_it_cannot_be_noted_who_looked_at_it(cast: Cast) -> None:
    tess = cast.browser("tess")
    # So long after her last page that the next notes that she is still there.
    cast.clock.forward(minutes=30)
    close(cast)
    assert tess.get("/jobs").status_code == 200


def test_an_account_that_may_only_read_is_told_so(cast_on_postgres: Cast) -> None:
    tess, engine = cast_on_postgres.browser("tess"), cast_on_postgres.stores.write
    with engine.begin() as connection:
        # Roles belong to the server, which other tests share.
        connection.execute(text(f"DROP ROLE IF EXISTS {READER}"))
        connection.execute(text(f"CREATE ROLE {READER}"))
        connection.execute(text(f"GRANT pg_read_all_data TO {READER}"))
    event.listen(engine, "begin", lambda connection: connection.exec_driver_sql(f"SET LOCAL ROLE {READER}"))
    refused = tess.post("/customers", {"name": "Ada"})
    assert refused.status_code == 503 and CLOSED in refused.text


def test_closed_records_are_not_ready(cast_on_postgres: Cast) -> None:
    tess = cast_on_postgres.browser("tess")
    assert tess.get("/health/ready").text == "ready"
    close(cast_on_postgres)
    answer = tess.get("/health/ready")
    assert answer.status_code == 503 and answer.text.startswith("The database cannot be written to")


def test_a_store_that_takes_no_files_is_not_ready(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    tess, root = cast.browser("tess"), cast.stores.files._root
    cast.stores.files.put(b"a file")
    assert tess.get("/health/ready").text == "ready"
    real = files.TemporaryFile  # type: ignore[attr-defined]

    def full(*, dir: Any) -> Any:  # noqa: A002
        if str(dir) == root:
            raise OSError(errno.ENOSPC, "No space left on device")
        return real(dir=dir)

    monkeypatch.setattr(files, "TemporaryFile", full)
    answer = tess.get("/health/ready")
    assert answer.status_code == 503 and answer.text.startswith("The store of files cannot be written to")
