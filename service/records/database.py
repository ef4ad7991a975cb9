"""The two engines of a database, its migration, and what must hold before it is used."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from threading import Timer
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Engine, ExceptionContext, create_engine, event, inspect, make_url, text
from sqlalchemy.exc import DatabaseError, ProgrammingError, SQLAlchemyError

from service.errors import Conflict, Unavailable
from service.places import folder

# Every table is imported here, so that whoever opens a database knows all of them: a foreign key is found by name only.
from service.records import (  # noqa: F401
    archive_runs,
    audit_log,
    batches,
    blocks,
    closed_days,
    corrections,
    criteria,
    crushings,
    customers,
    durability_tests,
    files,
    idempotency,
    imports,
    invoices,
    jobs,
    kept_history,
    label_stock,
    materials,
    messages,
    moisture_trials,
    offers,
    outbox,
    people,
    photos,
    presses,
    rate_limit,
    recipes,
    results,
    shop,
    soil_tests,
    tablets,
    tokens,
    unfinished,
)
from service.records.base import Table
from service.records.database_errors import cause_of, outage_of
from service.records.files import takes_files

if TYPE_CHECKING:
    from alembic.config import Config

METADATA = Table.metadata
MIGRATION_LOCK = 7_240_312
NO_RIGHT = "42501"
# So long a start looks for damage; the file of ten years takes a minute.
QUICK_S = 1.0


@dataclass(frozen=True)
class Engines:
    """A database seen twice: one engine that only reads, one that writes."""

    read: Engine
    write: Engine

    def dispose(self) -> None:
        """Close every pooled connection."""
        self.read.dispose()
        self.write.dispose()


def open_engines(url: str) -> Engines:
    """Return the engines of a database, SQLite in a file or PostgreSQL."""
    if _is_sqlite(url):
        return Engines(read=_sqlite(url, begin="BEGIN", query_only=True), write=_sqlite(url, begin="BEGIN IMMEDIATE"))
    return Engines(read=_postgresql(url, read_only=True), write=_postgresql(url, read_only=False))


def _is_sqlite(url: str) -> bool:
    address = make_url(url)
    if address.get_backend_name() != "sqlite":
        return False
    if address.database in (None, "", ":memory:"):
        raise ValueError("A SQLite database needs a file: two engines would each open an empty one in memory.")
    return True


def is_there(url: str) -> bool:
    """Return whether the file of a SQLite database exists; a server is asked when it is opened."""
    return not _is_sqlite(url) or Path(make_url(url).database or "").exists()


def _sqlite(url: str, *, begin: str, query_only: bool = False, foreign_keys: bool = True) -> Engine:
    # SQLite has one writer. A pool of one connection makes the writers of this process queue in order of arrival
    # instead of polling the file for the lock.
    # Readers take the connection that was used last: what it has in its cache is what they look at too.
    readers: dict[str, Any] = {"pool_size": 10, "pool_use_lifo": True}
    pool: dict[str, Any] = readers if query_only else {"pool_size": 1, "max_overflow": 0, "pool_timeout": 30}
    engine = create_engine(url, hide_parameters=True, **pool)

    @event.listens_for(engine, "connect")
    def _on_connect(connection: Any, _record: Any) -> None:
        # With no isolation level the driver opens no transaction of its own; the listener below does.
        connection.isolation_level = None
        switches = ["busy_timeout=5000", "journal_mode=WAL", "synchronous=FULL"]
        switches.append(f"foreign_keys={'ON' if foreign_keys else 'OFF'}")
        switches.append(f"query_only={'ON' if query_only else 'OFF'}")
        # What the pages of one day look at in the file of ten years fits in 32 MB, and not in the 2 MB of the default.
        switches.append("cache_size=-32000")
        for switch in switches:
            connection.execute(f"PRAGMA {switch}")

    @event.listens_for(engine, "begin")
    def _on_begin(connection: Connection) -> None:
        connection.exec_driver_sql(begin)

    @event.listens_for(engine, "handle_error")
    def _on_error(context: ExceptionContext) -> None:
        # A file opened on a disk that was read-only stays closed to writing when the disk is not: it is opened anew.
        name = getattr(context.original_exception, "sqlite_errorname", None) or ""
        if not query_only and name.startswith("SQLITE_READONLY"):
            context.is_disconnect = True

    return engine


def _postgresql(url: str, *, read_only: bool) -> Engine:
    engine = create_engine(
        make_url(url).set(drivername="postgresql+psycopg"),
        # A page reads one moment of the shop; a writer sees what was committed before it got the trail's lock.
        isolation_level="REPEATABLE READ" if read_only else "READ COMMITTED",
        # What people typed belongs into no log, and an error's text may reach one.
        hide_parameters=True,
        pool_pre_ping=True,
        pool_size=5,
        max_overflow=5,
        pool_timeout=10,
        connect_args={"connect_timeout": 5},
    )
    if read_only:

        @event.listens_for(engine, "connect")
        def _on_connect(connection: Any, _record: Any) -> None:
            connection.read_only = True

    return engine


def migration_config(connection: Connection) -> Config:
    """Return Alembic's configuration for a connection, made in code: a wheel has no ini file."""
    from alembic.config import Config

    config = Config()
    # A percent sign in a folder's name would be read as a reference to another option.
    config.set_main_option("script_location", str(folder("migrations")).replace("%", "%%"))
    config.attributes.update(connection=connection, metadata=METADATA)
    return config


@cache
def known_revisions() -> tuple[str, ...]:
    """Return every step of the migrations that this version knows, the newest first, by the names of their files."""
    return tuple(sorted((file.name[:4] for file in (folder("migrations") / "versions").glob("0*.py")), reverse=True))


def head_revision() -> str:
    """Return the step at which a database is of this version."""
    return known_revisions()[0]


def revision_of(connection: Connection) -> str | None:
    """Return the step at which a database stands, or None when it was never migrated."""
    if not inspect(connection).has_table("alembic_version"):
        return None
    step: str | None = connection.scalar(text("SELECT version_num FROM alembic_version"))
    return step


@contextmanager
def migrating(url: str) -> Iterator[Connection]:
    """Give the one connection that may change the schema, in one transaction that other replicas wait for."""
    sqlite = _is_sqlite(url)
    # Rebuilding a SQLite table drops it, which would follow its foreign keys; they are checked as a whole instead.
    engine = _sqlite(url, begin="BEGIN IMMEDIATE", foreign_keys=False) if sqlite else _postgresql(url, read_only=False)
    try:
        with engine.begin() as connection:
            if not sqlite:
                connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": MIGRATION_LOCK})
            yield connection
            if sqlite and connection.exec_driver_sql("PRAGMA foreign_key_check").first() is not None:
                raise Conflict("The migration would leave rows that point at nothing, so it was undone.")
    finally:
        engine.dispose()


def migrate(url: str) -> None:
    """Bring a database to this version, all or nothing; one of a newer version is refused untouched."""
    with outages_told(), rights_told():
        # What was changed is checked row by row, which a start that changes nothing need not wait for.
        if _is_of_this_version(url):
            return
        with migrating(url) as connection:
            refuse_newer(connection)
            if revision_of(connection) != head_revision():
                from alembic import command

                command.upgrade(migration_config(connection), "head")


def _is_of_this_version(url: str) -> bool:
    engines = open_engines(url)
    try:
        with engines.read.connect() as connection:
            return revision_of(connection) == head_revision()
    finally:
        engines.dispose()


@contextmanager
def outages_told() -> Iterator[None]:
    """Turn what keeps a command from the database into a sentence with its cause and remedy."""
    try:
        yield
    except SQLAlchemyError as error:
        sentence = cause_of(error) or outage_of(error, writing=True)
        if sentence is None:
            raise
        raise Unavailable(sentence) from error


@contextmanager
def rights_told() -> Iterator[None]:
    """Turn a missing right to change tables into a sentence with its remedy."""
    try:
        yield
    except ProgrammingError as error:
        if getattr(error.orig, "sqlstate", "") != NO_RIGHT:
            raise
        raise Unavailable(
            "The tables are not yet of this version, and the account of the service may not change them. "
            "Run this command with LOAMBOOK_MIGRATE_URL naming the account that owns them, or 'loambook migrate' first."
        ) from error


def reach(url: str) -> None:
    """Refuse, with cause and remedy, a database that does not let this account in."""
    engines = open_engines(url)
    try:
        with outages_told(), engines.read.connect():
            pass
    finally:
        engines.dispose()


def refuse_newer(connection: Connection) -> None:
    """Refuse a database that stands at a step this version does not know."""
    if revision_of(connection) not in (None, *known_revisions()):
        raise Conflict("This database was written by a newer version. Install that version to open it.")


def check_quickly(engines: Engines) -> None:
    """Refuse a SQLite file in which a short look finds damage; each archive begins with a look at the whole of it."""
    if found := damage(engines.read, most_s=QUICK_S):
        raise Conflict(found)


def damage(engine: Engine, *, most_s: float | None = None) -> str:
    """Return a sentence where a SQLite file is damaged, or nothing; PostgreSQL looks after its own.

    A look that takes longer than ``most_s`` seconds is broken off, and what it has not seen counts as whole.
    """
    if engine.dialect.name != "sqlite":
        return ""
    try:
        with outages_told(), engine.connect() as connection, broken_off(connection, after_s=most_s):
            said = [str(row[0]) for row in connection.exec_driver_sql("PRAGMA quick_check")]
    except DatabaseError as broken:
        if getattr(broken.orig, "sqlite_errorname", "") == "SQLITE_INTERRUPT":
            return ""
        said = [str(broken.orig)]
    return "" if said == ["ok"] else f"The database file is damaged: {said[0]}. Restore the last good archive."


@contextmanager
def broken_off(connection: Connection, *, after_s: float | None) -> Iterator[None]:
    """Break off what SQLite works at after so many seconds."""
    if after_s is None:
        yield
        return
    driver: Any = connection.connection.driver_connection
    timer = Timer(after_s, driver.interrupt)
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()


def can_be_written(connection: Connection) -> bool:
    """Return whether a database takes writing just now, as far as one that only reads can find out."""
    if connection.dialect.name == "postgresql":
        asked = "SELECT pg_is_in_recovery() OR current_setting('default_transaction_read_only')::boolean"
        return not connection.scalar(text(asked))
    file = Path(connection.exec_driver_sql("SELECT file FROM pragma_database_list WHERE name = 'main'").scalar_one())
    return os.access(file, os.W_OK) and takes_files(file.parent)


def description_of(connection: Connection) -> str:
    """Return the kind and version of a database in words."""
    version = ".".join(str(part) for part in connection.dialect.server_version_info or ())
    return f"SQLite {version}, one file" if connection.dialect.name == "sqlite" else f"PostgreSQL {version}"
