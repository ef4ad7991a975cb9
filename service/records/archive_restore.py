"""A portable archive becomes a database: all of it in one transaction, or nothing."""

import json
import zipfile
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any
from uuid import UUID

from alembic import command
from sqlalchemy import JSON, BigInteger, Boolean, Column, Connection, Date, Float, MetaData, String, Uuid, inspect, text
from sqlalchemy import Table as Columns
from sqlalchemy.exc import ArgumentError, IntegrityError, StatementError
from sqlalchemy.types import TypeEngine
from sqlmodel import Session
from sqlmodel.sql.sqltypes import UTCDateTime

from service.errors import Conflict
from service.records import audit_log, outbox
from service.records.archive_file import DAMAGED, FORGED, MOST_ROW, Manifest, TablePart, opened
from service.records.base import AsRead, Money
from service.records.database import migrating, migration_config, refuse_newer, revision_of
from service.records.files import FileStore

ROWS_AT_ONCE = 500
RESTORED = "The shop was restored from an archive. It may have been sent before."

# What a word of the manifest is in a database, and how its JSON becomes a value of it.
KINDS: dict[str, tuple[Callable[[], TypeEngine[Any]], Callable[[Any], Any]]] = {
    "money": (Money, Decimal),
    "typed": (AsRead, lambda value: value),
    "time": (UTCDateTime, datetime.fromisoformat),
    "day": (Date, date.fromisoformat),
    "id": (Uuid, UUID),
    "truth": (Boolean, lambda value: value),
    "whole": (BigInteger, lambda value: value),
    "number": (Float, lambda value: value),
    "text": (String, lambda value: value),
    "words": (JSON, lambda value: value),
}


def restore(path: Path, *, url: str, files: FileStore) -> Manifest:
    """Put an archive into an empty database and its files into the store, and return what it said of itself.

    The schema goes to the archive's own step first and to this version's afterwards, so that an archive of an older
    version is brought up to date like a database of that version.
    """
    with opened(path) as (bundle, manifest), migrating(url) as connection:
        refuse_newer(connection)
        _refuse_unless_empty(connection)
        config = migration_config(connection)
        if revision_of(connection) is not None:
            command.downgrade(config, "base")
        command.upgrade(config, manifest.schema_revision)
        try:
            _put_files(bundle, manifest, files)
            _put_rows(bundle, manifest, connection)
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


def _put_rows(bundle: zipfile.ZipFile, manifest: Manifest, connection: Connection) -> None:
    described = MetaData()
    try:
        for part in manifest.tables:
            columns = [Column(name, KINDS[word][0]()) for name, word in part.columns.items()]
            table = Columns(part.name, described, *columns)
            rows = _rows(bundle, part)
            for some in _at_once(rows):
                connection.execute(table.insert(), some)
    except StatementError as refused:
        raise Conflict("The database did not take the rows of this archive. Nothing was restored.") from refused


def _at_once(rows: Iterator[tuple[dict[str, Any], int]]) -> Iterator[list[dict[str, Any]]]:
    """Gather rows, as many as one statement takes and no more bytes than the longest of them may have."""
    some, size = list[dict[str, Any]](), 0
    for row, length in rows:
        some.append(row)
        size += length
        if len(some) == ROWS_AT_ONCE or size >= MOST_ROW:
            yield some
            some, size = [], 0
    if some:
        yield some


def _rows(bundle: zipfile.ZipFile, part: TablePart) -> Iterator[tuple[dict[str, Any], int]]:
    read = {name: KINDS[word][1] for name, word in part.columns.items()}
    with bundle.open(f"rows/{part.name}.jsonl") as lines:
        while line := lines.readline(MOST_ROW):
            # A row that is longer breaks off here, and what breaks off is no JSON.
            told = json.loads(line)
            row = {name: None if told[name] is None else as_value(told[name]) for name, as_value in read.items()}
            yield row, len(line)


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
