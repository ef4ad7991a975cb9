"""A stored file that was damaged: told by a check-up, mended by storing it again and by a restore."""

import hashlib
from pathlib import Path

from sqlmodel import Session

from service.records import files
from tests.cast import Cast
from tests.setup.test_upkeep_commands import Run, finding, run, url_of

__all__ = ["run"]

CONTENT = b"a page that was issued"
SHA256 = hashlib.sha256(CONTENT).hexdigest()


def stored(cast: Cast) -> None:
    with Session(cast.stores.write) as session:
        files.note(session, sha256=cast.stores.files.put(CONTENT), media_type="application/pdf", size=len(CONTENT))
        session.commit()


def damage(folder: Path) -> Path:
    path = next(path for path in folder.rglob(SHA256))
    path.write_bytes(CONTENT[:-1] + b"?")
    return path


def test_storing_the_same_content_again_mends_it(cast_on_sqlite: Cast, tmp_path: Path) -> None:
    stored(cast_on_sqlite)
    path = damage(tmp_path / "files")
    assert cast_on_sqlite.stores.files.put(CONTENT) == SHA256
    assert path.read_bytes() == CONTENT


def test_a_restore_puts_the_good_file_in_the_place_of_a_damaged_one(
    cast: Cast, empty_database_url: str, run: Run, tmp_path: Path
) -> None:
    stored(cast)
    archive = str(tmp_path / "a.zip")
    assert run(url_of(cast), "archive", archive, DATA=str(tmp_path)).exit_code == 0
    path = damage(tmp_path / "files")
    assert run(empty_database_url, "restore", archive, DATA=str(tmp_path)).exit_code == 0
    assert path.read_bytes() == CONTENT


def test_a_checkup_reads_every_stored_file(cast: Cast, run: Run, tmp_path: Path) -> None:
    stored(cast)
    assert "as it was written" in finding(run(url_of(cast), "checkup", DATA=str(tmp_path)), "files")
    path = damage(tmp_path / "files")
    assert f"missing or damaged in the store: {SHA256}." in run(url_of(cast), "checkup", DATA=str(tmp_path)).stdout
    path.unlink()
    assert f"missing or damaged in the store: {SHA256}." in run(url_of(cast), "checkup", DATA=str(tmp_path)).stdout
