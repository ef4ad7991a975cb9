"""Stored files are named by what is in them."""

import hashlib
from pathlib import Path

import pytest
from sqlmodel import Session, select

from service.errors import NotFound
from service.records import files
from service.records.files import File, FileStore

# FIPS 180-4 names this digest of "abc" (SHA-256 worked example, NIST example file SHA256.pdf; from memory).
ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


@pytest.fixture
def store(tmp_path: Path) -> FileStore:
    return FileStore(str(tmp_path / "files"))


def test_a_content_comes_back_by_its_sha256(store: FileStore) -> None:
    assert store.put(b"abc") == ABC
    assert store.get(ABC) == b"abc"


def test_the_same_content_twice_is_one_file(store: FileStore, tmp_path: Path) -> None:
    assert store.put(b"abc") == store.put(b"abc")
    assert [path.name for path in (tmp_path / "files").rglob("*") if path.is_file()] == [ABC]


def test_a_missing_file_is_not_found(store: FileStore) -> None:
    with pytest.raises(NotFound):
        store.get(hashlib.sha256(b"nothing").hexdigest())


def test_a_file_changed_on_disk_is_not_handed_out(store: FileStore, tmp_path: Path) -> None:
    store.put(b"abc")
    next(path for path in (tmp_path / "files").rglob(ABC)).write_bytes(b"abd")
    with pytest.raises(NotFound, match="damaged"):
        store.get(ABC)


def test_the_row_of_a_file_is_written_once(session: Session) -> None:
    for _ in range(2):
        files.note(session, sha256=ABC, media_type="application/pdf", size=3)
    assert [row.bytes for row in session.exec(select(File))] == [3]
