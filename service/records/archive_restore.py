"""A portable archive becomes a database: all of it in one transaction, or nothing."""

import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from alembic import command
from sqlalchemy import Connection, inspect, text
from sqlalchemy.exc import ArgumentError, IntegrityError, StatementError
from sqlmodel import Session

from service.errors import Conflict
from service.records import audit_log, outbox
from service.records.archive_file import DAMAGED, FORGED, MOST_ROW, Manifest, TablePart, Told, nobody, opened
from service.records.archive_lines import reader_of
from service.records.database import migrating, migration_config, refuse_newer, revision_of
from service.records.files import FileStore

ROWS_AT_ONCE = 500
RESTORED = "The shop was restored from an archive. It may have been sent before."

MARKS = {"sqlite": "?", "postgresql": "%s"}


def restore(path: Path, *, url: str, files: FileStore, told: Told = nobody) -> Manifest:
    """Put an archive into an empty database and its files into the store, and return what it said of itself.

    The schema goes to the archive's own step first and to this version's afterwards, so that an archive of an older
    version is brought up to date like a database of that version.
    """
    with opened(path, told=told) as (bundle, manifest), migrating(url) as connection:
        refuse_newer(connection)
        _refuse_unless_empty(connection)
        config = migration_config(connection)
        if revision_of(connection) is not None:
            command.downgrade(config, "base")
        command.upgrade(config, manifest.schema_revision)
        try:
            _put_files(bundle, manifest, files)
            with _checked_last(connection):
                _put_rows(bundle, manifest, connection, told)
            command.upgrade(config, "head")
            _check_trail(connection, manifest)
            _hold_mail(connection)
        except (*FORGED, ArgumentError, IntegrityError) as broken:
            # Whoever can write the file can seal it anew: what stands in it is looked at as it is put in its place.
            raise Conflict(DAMAGED) from broken
    return manifest


def _refuse_unless_empty(connection: Connection) -> None:
    quoted = connection.dialect.identifier_preparer.quote
    for name in inspect(connection).get_table_names():
        if name == "alembic_version":
            continue
        if connection.execute(text(f"SELECT 1 FROM {quoted(name)} LIMIT 1")).first() is not None:
            raise Conflict("This database is not empty. An archive is restored into an empty one only.")


def _put_files(bundle: zipfile.ZipFile, manifest: Manifest, files: FileStore) -> None:
    for sha256 in manifest.files:
        files.put(bundle.read(f"files/{sha256}"))


def _put_rows(bundle: zipfile.ZipFile, manifest: Manifest, connection: Connection, told: Told) -> None:
    quoted, mark = connection.dialect.identifier_preparer.quote, MARKS[connection.dialect.name]
    try:
        _make_room(connection)
        for part in manifest.tables:
            names, marks = ", ".join(map(quoted, part.columns)), ", ".join(mark for _ in part.columns)
            statement, done = f"INSERT INTO {quoted(part.name)} ({names}) VALUES ({marks})", 0
            for some in _at_once(_rows(bundle, part, connection.dialect.name)):
                connection.exec_driver_sql(statement, some)
                done += len(some)
                told(part.name, done)
    except StatementError as refused:
        raise Conflict("The database did not take the rows of this archive. Nothing was restored.") from refused


def _make_room(connection: Connection) -> None:
    """Let SQLite keep more of its file in memory: every row goes to a place of its own in several indexes."""
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql("PRAGMA cache_size = -100000")


@contextmanager
def _checked_last(connection: Connection) -> Iterator[None]:
    """Let a row come before the one of its own table that it takes the place of; what is missing is told at the end.

    SQLite looks at all foreign keys at the end by itself (``migrating``).
    """
    if connection.dialect.name == "sqlite":
        yield
        return
    quoted, seen = connection.dialect.identifier_preparer.quote, inspect(connection)
    within = [
        f"ALTER TABLE {quoted(table)} ALTER CONSTRAINT {quoted(str(key['name']))}"
        for table in seen.get_table_names()
        for key in seen.get_foreign_keys(table)
        if key["referred_table"] == table
    ]
    for one in within:
        connection.execute(text(f"{one} DEFERRABLE INITIALLY DEFERRED"))
    yield
    connection.execute(text("SET CONSTRAINTS ALL IMMEDIATE"))
    for one in within:
        connection.execute(text(f"{one} NOT DEFERRABLE"))


def _at_once(rows: Iterator[tuple[tuple[Any, ...], int]]) -> Iterator[list[tuple[Any, ...]]]:
    """Gather rows, as many as one statement takes and no more bytes than the longest of them may have."""
    some, size = list[tuple[Any, ...]](), 0
    for row, length in rows:
        some.append(row)
        size += length
        if len(some) == ROWS_AT_ONCE or size >= MOST_ROW:
            yield some
            some, size = [], 0
    if some:
        yield some


def _rows(bundle: zipfile.ZipFile, part: TablePart, dialect: str) -> Iterator[tuple[tuple[Any, ...], int]]:
    read = reader_of(dialect, part.columns)
    with bundle.open(f"rows/{part.name}.jsonl") as lines:
        while line := lines.readline(MOST_ROW):
            # A row that is longer breaks off here, and what breaks off is no JSON.
            yield read(line), len(line)


def _hold_mail(connection: Connection) -> None:
    """Leave it to the owner to send what was unsent when the archive was made: it may have been sent since."""
    with Session(bind=connection) as session:
        outbox.give_up(session, at=datetime.now(UTC), because=RESTORED, whole=True)
        session.commit()


def _check_trail(connection: Connection, manifest: Manifest) -> None:
    with Session(bind=connection) as session:
        position, sha256 = audit_log.head(session)
        found = (position, sha256, audit_log.verify(session))
    if found != (manifest.trail.position, manifest.trail.sha256, manifest.trail.broken_at):
        raise Conflict("The log in this archive was altered. Nothing was restored.")
