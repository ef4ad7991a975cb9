"""The files that leave or enter, kept by their SHA-256: content through fsspec, one row for each in the database."""

import hashlib
import os
from collections.abc import Iterable
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryFile
from typing import Any
from uuid import uuid4

import fsspec
from fsspec.implementations.local import LocalFileSystem
from sqlmodel import Field, Session, col, select

from service.errors import NotFound, Unavailable
from service.records.base import Sha256, Table, not_blank, not_negative, now


class File(Table, table=True):
    """A stored content; the row is written after the content is there."""

    __table_args__ = (*not_negative("bytes"), *not_blank("media_type"))

    sha256: str = Field(primary_key=True, sa_type=Sha256)
    created_at: datetime = Field(default_factory=now)
    media_type: str
    bytes: int


class FileStore:
    """A folder, here or in an object store, whose files are named by what is in them."""

    def __init__(self, place: str) -> None:
        self._system: Any
        self._system, self._root = fsspec.core.url_to_fs(place, auto_mkdir=True)

    def put(self, content: bytes) -> str:
        """Store a content and return its SHA-256; the same content twice is one file, and mends a damaged one."""
        digest = hashlib.sha256(content).hexdigest()
        try:
            if not self.holds(digest):
                self._write(digest, content)
        except OSError as error:
            raise Unavailable("Files cannot be stored: the disk is full or cannot be written.") from error
        return digest

    def get(self, sha256: str) -> bytes:
        """Return a stored content, refusing one that is missing or no longer what its name says."""
        content: bytes | None = None
        with suppress(FileNotFoundError):
            content = self._system.cat_file(self._path(sha256))
        if content is None:
            raise NotFound("This file is not in the store.")
        if hashlib.sha256(content).hexdigest() != sha256:
            raise NotFound("This file was damaged in the store.")
        return content

    def forget(self, sha256: str) -> None:
        """Throw a content away that no row names."""
        with suppress(OSError):
            self._system.rm(self._path(sha256))

    def holds(self, sha256: str) -> bool:
        """Return whether a content is there as its name says, looked at byte for byte."""
        with suppress(NotFound, OSError):
            self.get(sha256)
            return True
        return False

    def takes_files(self) -> bool:
        """Return whether the store takes files just now; one that is not a folder here is not asked."""
        is_here = isinstance(self._system, LocalFileSystem) and Path(self._root).is_dir()
        return not is_here or takes_files(Path(self._root))

    def _path(self, digest: str) -> str:
        return f"{self._root}/{digest[:2]}/{digest}"

    def _write(self, digest: str, content: bytes) -> None:
        # Written aside and renamed, so that a stop half-way never leaves a short file under the right name.
        aside = f"{self._path(digest)}.{uuid4().hex}"
        try:
            with self._system.open(aside, "wb") as out:
                out.write(content)
                out.flush()
                if hasattr(out, "fileno"):
                    os.fsync(out.fileno())
            self._system.mv(aside, self._path(digest))
        except OSError:
            with suppress(OSError):
                self._system.rm(aside)
            raise


def takes_files(folder: Path) -> bool:
    """Return whether a file can be made in a folder: tried, for neither rights nor mounts tell of every disk."""
    try:
        with TemporaryFile(dir=folder) as tried:
            tried.write(b"\0" * 4096)
    except OSError:
        return False
    return True


def note(session: Session, *, sha256: str, media_type: str, size: int) -> None:
    """Write the row of a stored content unless it is there."""
    if session.get(File, sha256) is None:
        session.add(File(sha256=sha256, media_type=media_type, bytes=size))
        session.flush()


def unnamed(session: Session, sha256s: Iterable[str]) -> list[str]:
    """Return which of these contents no row names."""
    return [sha256 for sha256 in sha256s if session.get(File, sha256) is None]


def lost(session: Session, store: FileStore) -> list[str]:
    """Return which contents that have a row are missing from the store or damaged in it; every one is read."""
    named = session.exec(select(File.sha256).order_by(col(File.created_at), col(File.sha256))).all()
    return [sha256 for sha256 in named if not store.holds(sha256)]
