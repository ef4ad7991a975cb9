"""The demo shop as a target, on either database: every drawn request meets it as it was told."""

import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import cached_property
from pathlib import Path
from typing import Any

import psycopg
from fastapi import FastAPI
from sqlalchemy import Uuid, func, literal, select, union_all
from starlette.testclient import TestClient

from service.app import create_app, open_stores
from service.desk.doorway import Stores
from service.records import archive_file
from service.records.archive_restore import restore
from service.records.database import METADATA
from service.records.files import FileStore
from service.settings import Settings
from service.web.cookies import COOKIE
from tests import postgres
from tests.demo_pages import Demo

LONG = os.environ.get("LOAMBOOK_LONG") == "1"
# Where an id is not called after its table.
TABLES = {
    "can": "moisture_can",
    "file": "import_file",
    "group": "recipe_group",
    "issued": "issued_result",
    "line": "invoice_line",
    "link": "ticket",
    "own": "own_criterion",
    "part": "batch_part",
    "reading": "absorption",
    "test": "soil_test",
    "trial": "moisture_trial",
}
# What is counted of every request, whatever became of it.
ALWAYS_COUNTED = frozenset({"attempt", "turn"})
ADDRESS = "http://127.0.0.1"
# The name under which schemathesis calls an application that it holds in its hands.
HOSTS = ("testserver",)


def cases(short: int, long: int) -> int:
    """Return how many cases are drawn in this form."""
    return long if LONG else short


@dataclass
class Target:
    """A shop that is put back as it was after every request that changed it."""

    app: FastAPI
    stores: Stores
    sessions: dict[str, str]
    # The file or the schema that holds the shop as it was told.
    kept: str
    told: dict[str, int] = field(default_factory=dict)
    _ids: dict[str, list[str]] = field(default_factory=dict)
    # The number of PostgreSQL's last transaction before anything was sent.
    _since: int = 0

    def __post_init__(self) -> None:
        self.told = self.counts()

    def client(self, role: str) -> TestClient:
        """Return a browser in which somebody is signed in; a bug of the service is raised, not answered."""
        client = TestClient(self.app, base_url=ADDRESS, cookies={COOKIE: self.sessions[role]})
        client.headers["sec-fetch-site"] = "same-origin"
        return client

    def ids(self, name: str) -> list[str]:
        """Return what the parameter ``name`` may be, nothing where it is the id of no table."""
        word = name.removesuffix("s").removesuffix("_id")
        table = METADATA.tables.get(TABLES.get(word, word))
        if table is None or not name.removesuffix("s").endswith("_id") or not isinstance(table.c.id.type, Uuid):
            return []
        if name not in self._ids:
            with self.stores.read.connect() as connection:
                self._ids[name] = [str(one) for one in connection.scalars(select(table.c.id).limit(40))]
        return self._ids[name]

    @cached_property
    def _counting(self) -> object:
        tables = [table for name, table in METADATA.tables.items() if name not in ALWAYS_COUNTED]
        return union_all(*(select(literal(table.name), func.count()).select_from(table) for table in tables))

    def counts(self) -> dict[str, int]:
        """Return how many rows each table has."""
        with self.stores.read.connect() as connection:
            return {str(name): int(rows) for name, rows in connection.execute(self._counting)}

    def put_back(self) -> None:
        """Make the shop what it was when it was told."""
        if self.counts() == self.told:
            return
        url = self.stores.write.url
        if self.stores.write.dialect.name == "sqlite":
            with closing(sqlite3.connect(self.kept)) as kept, closing(sqlite3.connect(url.database or "")) as live:
                kept.backup(live)
            return
        with psycopg.connect(postgres.plain(url.render_as_string(hide_password=False))) as shop:
            # Neither the links between tables nor what is frozen holds up whoever restores.
            shop.execute("SET session_replication_role = replica")
            for table in self._changed(shop):
                shop.execute(f"DELETE FROM {table}")
                shop.execute(f"INSERT INTO {table} SELECT * FROM {self.kept}.{table}")
            self._since = _transaction(shop)

    def _changed(self, shop: psycopg.Connection[Any]) -> list[str]:
        """Return the tables in which a row was written since the shop was last as it was told, or is missing."""
        asked = " UNION ALL ".join(
            f"SELECT '{name}' WHERE EXISTS (SELECT FROM \"{name}\" WHERE xmin::text::bigint > {self._since})"
            for name in METADATA.tables
        )
        counts = self.counts()
        fewer = {name for name in counts if counts[name] != self.told.get(name)}
        return sorted({f'"{name}"' for (name,) in shop.execute(asked)} | {f'"{name}"' for name in fewer})


def _transaction(shop: psycopg.Connection[Any]) -> int:
    (number,) = shop.execute("SELECT pg_current_xact_id()::text").fetchone() or ("",)
    return int(number)


def standing(demo: Demo) -> Callable[[], datetime]:
    """Return a clock that stands still, so that no session grows old in the middle."""
    now = demo.stores.clock()
    return lambda: now


@contextmanager
def on_sqlite(demo: Demo, folder: Path) -> Iterator[Target]:
    """Yield the demo shop where it was told."""
    kept = folder / "kept.sqlite"
    with closing(sqlite3.connect(demo.stores.write.url.database or "")) as live:
        live.execute("VACUUM INTO ?", (str(kept),))
    settings = Settings(data=folder, address=ADDRESS, hosts=HOSTS)
    stores = replace(demo.stores, clock=standing(demo))
    yield Target(create_app(settings, stores), stores, demo.sessions, str(kept))


@contextmanager
def on_postgresql(demo: Demo, folder: Path, server: str) -> Iterator[Target]:
    """Yield the demo shop moved to PostgreSQL by way of an archive."""
    archive = folder / "demo.zip"
    with demo.stores.read.connect() as connection:
        archive_file.write(connection, demo.stores.files, archive, at=demo.stores.clock())
    with postgres.database(server) as url:
        restore(archive, url=url, files=FileStore(str(folder / "files")))
        with psycopg.connect(postgres.plain(url)) as shop:
            shop.execute("CREATE SCHEMA kept")
            for table in METADATA.tables:
                shop.execute(f'CREATE TABLE kept."{table}" AS TABLE "{table}"')
            since = _transaction(shop)
        settings = Settings(database_url=url, data=folder, address=ADDRESS, hosts=HOSTS)
        stores = open_stores(settings, standing(demo))
        yield Target(create_app(settings, stores), stores, demo.sessions, "kept", _since=since)
        stores.read.dispose()
        stores.write.dispose()
