"""The portable archive: every row and every stored file of a shop in one checksummed zip file.

Its parts are ``manifest.json``, ``rows/<table>.jsonl`` (one canonical JSON object a row, in an order in which no
row points at a later table) and ``files/<sha256>``. The last 64 bytes of the file, which a zip reader takes for its
comment, are the SHA-256 of every byte before them. Nothing in it depends on the kind of database it came from.
"""

import hashlib
import json
import os
import zipfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import IO, Any

from pydantic import BaseModel, ConfigDict
from sqlalchemy import JSON, BigInteger, Boolean, Connection, Date, Float, Integer, Uuid, select
from sqlalchemy import Table as Columns
from sqlalchemy.types import TypeEngine
from sqlmodel import Session
from sqlmodel.sql.sqltypes import AutoString, UTCDateTime

from service.errors import Conflict, Refusal
from service.records import audit_log as trail
from service.records.archive_lines import lines_of
from service.records.base import AsRead, Money, Sha256, canonical
from service.records.database import METADATA, head_revision, known_revisions, revision_of
from service.records.files import File, FileStore

FORMAT = 1
MANIFEST = "manifest.json"
SEAL = 64
CHUNK = 1 << 20
# No more is read into memory at once than the largest of what we write: a manifest, a row, a paper or photo.
MOST_MANIFEST, MOST_ROW, MOST_FILE = 1 << 24, 1 << 24, 1 << 26
DAMAGED = "This file is damaged, or it is no archive of Loambook. Nothing was touched."
# What comes of reading a file that somebody made with a right seal and wrong parts.
FORGED = (
    ArithmeticError,
    AttributeError,
    EOFError,
    LookupError,
    RuntimeError,
    TypeError,
    ValueError,
    zipfile.BadZipFile,
    zlib.error,
)
# Turns belong to the processes that run now, not to the shop.
NOT_CARRIED = frozenset({"turn"})

# Who is told how far something came: of what, and how many.
Told = Callable[[str, int], None]

# The word for a column in the manifest; the first that fits counts.
WORDS: tuple[tuple[type[TypeEngine[Any]], str], ...] = (
    (Money, "money"),
    (AsRead, "typed"),
    (UTCDateTime, "time"),
    (Sha256, "text"),
    (AutoString, "text"),
    (Date, "day"),
    (Uuid, "id"),
    (Boolean, "truth"),
    (BigInteger, "whole"),
    (Integer, "whole"),
    (Float, "number"),
    (JSON, "words"),
)


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class TablePart(_Part):
    """The rows of one table: what its columns hold, how many rows there are and their digest."""

    name: str
    columns: dict[str, str]
    rows: int
    sha256: str


class TrailPart(_Part):
    """How far the trail went, and where its chain was broken already, if it was."""

    position: int
    sha256: str
    broken_at: int | None


class Manifest(_Part):
    """What an archive says of itself."""

    format: int
    schema_revision: str
    made_at: datetime
    tables: list[TablePart]
    files: dict[str, int]
    missing: list[str]
    trail: TrailPart

    @property
    def rows(self) -> int:
        """Return how many rows there are in all."""
        return sum(table.rows for table in self.tables)

    @property
    def is_whole(self) -> bool:
        """Return whether nothing was lost before the archive was made."""
        return not self.missing and self.trail.broken_at is None


def nobody(what: str, done: int) -> None:
    """Tell nobody how far something came."""


def write(
    connection: Connection, files: FileStore, path: Path, *, at: datetime, told: Told = nobody
) -> tuple[Manifest, str]:
    """Write what the connection's one transaction sees, and return the manifest with the digest of the file.

    ``told`` is told how far it came: which table, and how many of its rows.
    """
    revision = revision_of(connection)
    if revision is None or revision != head_revision():
        raise Conflict("This database is not of this version. Run 'loambook migrate' first.")
    if path.exists():
        raise Conflict(f"There is a file {path.name} already. Choose another name.")
    aside = path.with_name(f"{path.name}.part")
    try:
        with os.fdopen(os.open(aside, os.O_CREAT | os.O_TRUNC | os.O_RDWR, 0o600), "w+b") as out:
            manifest = _write_parts(connection, files, out, revision=revision, at=at, told=told)
            digest = _seal(out)
        # Read back before it counts: a disk may keep something else than what was written.
        with opened(aside):
            aside.replace(path)
    finally:
        aside.unlink(missing_ok=True)
    return manifest, digest


def _write_parts(
    connection: Connection, files: FileStore, out: IO[bytes], *, revision: str, at: datetime, told: Told
) -> Manifest:
    # The lightest compression: the next takes three times as long for a tenth less.
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as bundle:
        bundle.comment = b"0" * SEAL
        carried = [table for table in METADATA.sorted_tables if table.name not in NOT_CARRIED]
        tables = [_write_rows(bundle, connection, table, told) for table in carried]
        stored, missing = _write_files(bundle, connection, files)
        manifest = Manifest(
            format=FORMAT,
            schema_revision=revision,
            made_at=at,
            tables=tables,
            files=stored,
            missing=missing,
            trail=_trail_of(connection),
        )
        bundle.writestr(_entry(MANIFEST, zipfile.ZIP_DEFLATED), canonical(manifest.model_dump()) + "\n")
    return manifest


def _write_rows(bundle: zipfile.ZipFile, connection: Connection, table: Columns, told: Told) -> TablePart:
    digest, rows = hashlib.sha256(), 0
    columns = {column.name: _word(column.type) for column in table.columns}
    with bundle.open(f"rows/{table.name}.jsonl", "w", force_zip64=True) as part:
        for some in lines_of(connection, table, columns):
            content = "".join(some).encode()
            digest.update(content)
            part.write(content)
            rows += len(some)
            told(table.name, rows)
    return TablePart(name=table.name, columns=columns, rows=rows, sha256=digest.hexdigest())


def _word(kind: TypeEngine[Any]) -> str:
    return next(word for known, word in WORDS if isinstance(kind, known))


def _write_files(bundle: zipfile.ZipFile, connection: Connection, files: FileStore) -> tuple[dict[str, int], list[str]]:
    stored: dict[str, int] = {}
    missing: list[str] = []
    named = METADATA.tables[str(File.__tablename__)].c.sha256
    for (sha256,) in connection.execute(select(named).order_by(named)).all():
        try:
            content = files.get(sha256)
        except Refusal:
            # One photo that the store lost must not keep everything else from being archived.
            missing.append(sha256)
            continue
        bundle.writestr(_entry(f"files/{sha256}"), content)
        stored[sha256] = len(content)
    return stored, missing


def _trail_of(connection: Connection) -> TrailPart:
    with Session(bind=connection) as session:
        position, sha256 = trail.head(session)
        return TrailPart(position=position, sha256=sha256, broken_at=trail.verify(session))


def _entry(name: str, compression: int = zipfile.ZIP_STORED) -> zipfile.ZipInfo:
    # Without a date of its own, so that the same shop at the same moment gives the same file.
    entry = zipfile.ZipInfo(name)
    entry.compress_type = compression
    return entry


def _seal(out: IO[bytes]) -> str:
    length = out.seek(0, os.SEEK_END) - SEAL
    digest = _hash_of(out, length)
    seal = digest.hexdigest().encode()
    out.seek(length)
    out.write(seal)
    out.flush()
    os.fsync(out.fileno())
    digest.update(seal)
    return digest.hexdigest()


def _digest_of(content: IO[bytes], length: int) -> str:
    return _hash_of(content, length).hexdigest()


def _hash_of(content: IO[bytes], length: int) -> "hashlib._Hash":
    digest = hashlib.sha256()
    content.seek(0)
    while length > 0 and (chunk := content.read(min(CHUNK, length))):
        digest.update(chunk)
        length -= len(chunk)
    return digest


@contextmanager
def opened(path: Path, *, told: Told = nobody) -> Iterator[tuple[zipfile.ZipFile, Manifest]]:
    """Give an archive whose every byte was checked; a damaged or newer one is refused."""
    if not path.is_file():
        raise Conflict(f"There is no file {path}.")
    with path.open("rb") as content:
        bundle, manifest = _checked(content, told)
        with bundle:
            yield bundle, manifest


def _checked(content: IO[bytes], told: Told) -> tuple[zipfile.ZipFile, Manifest]:
    try:
        _check_seal(content)
        bundle = zipfile.ZipFile(content)
        manifest = _read_manifest(bundle)
        _check_parts(bundle, manifest, told)
    except FORGED as broken:
        raise Conflict(DAMAGED) from broken
    return bundle, manifest


def _check_seal(content: IO[bytes]) -> None:
    length = content.seek(0, os.SEEK_END) - SEAL
    if length < 0 or content.seek(length) != length:
        raise Conflict(DAMAGED)
    seal = content.read(SEAL)
    if _digest_of(content, length).encode() != seal:
        raise Conflict(DAMAGED)


def _read_manifest(bundle: zipfile.ZipFile) -> Manifest:
    if bundle.getinfo(MANIFEST).file_size > MOST_MANIFEST:
        raise Conflict(DAMAGED)
    told = json.loads(bundle.read(MANIFEST))
    if told["format"] > FORMAT or told["schema_revision"] not in known_revisions():
        raise Conflict("This archive was written by a newer version. Install that version to restore it.")
    return Manifest.model_validate(told)


def _check_parts(bundle: zipfile.ZipFile, manifest: Manifest, told: Told) -> None:
    expected = {f"rows/{table.name}.jsonl": table.sha256 for table in manifest.tables}
    expected |= {f"files/{sha256}": sha256 for sha256 in manifest.files}
    if sorted(bundle.namelist()) != sorted([MANIFEST, *expected]):
        raise Conflict(DAMAGED)
    for done, (name, sha256) in enumerate(expected.items()):
        told("Parts checked", done)
        if name.startswith("files/") and bundle.getinfo(name).file_size > MOST_FILE:
            raise Conflict(DAMAGED)
        with bundle.open(name) as part:
            if _digest_of(part, bundle.getinfo(name).file_size) != sha256:
                raise Conflict(DAMAGED)
