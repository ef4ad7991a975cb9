"""Photos go with the archive, removed ones too, and come back to the byte on the other database."""

from dataclasses import replace
from pathlib import Path

import pytest
from sqlmodel import Session, select

from service.app import open_stores
from service.desk import backups, photos
from service.errors import NotFound
from service.paper.photo_files import take_in
from service.records.archive_restore import restore
from service.records.files import FileStore
from service.records.photos import Photo
from service.settings import Settings
from tests.cast import Cast
from tests.pixels import from_a_camera, jpeg
from tests.trials import a_tried_job


@pytest.fixture
def other_url(cast: Cast, request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Return the address of an empty database of the other kind."""
    if cast.stores.read.dialect.name == "postgresql":
        return f"sqlite:///{tmp_path / 'other.sqlite'}"
    return str(request.getfixturevalue("postgres_url"))


def test_photographs_come_back_to_the_byte_on_the_other_database(cast: Cast, other_url: str, tmp_path: Path) -> None:
    tried = a_tried_job(cast)
    block_id = next(iter(tried.blocks.values()))
    stays = take_in(cast.tess, of="block", thing_id=block_id, content=from_a_camera(6))
    gone = take_in(cast.tess, of="job", thing_id=tried.job_id, content=jpeg())
    photos.show(cast.olu, photo_id=stays, shown=True)
    photos.remove(cast.tess, photo_id=gone)
    before = photos.content(cast.olu, photo_id=stays)
    taken = backups.take(cast.olu, path=tmp_path / "a.zip")
    assert taken.is_whole and taken.files == 2

    there = tmp_path / "there"
    restore(tmp_path / "a.zip", url=other_url, files=FileStore(str(there / "files")))
    stores = open_stores(Settings(database_url=other_url, data=there, address="http://localhost"), cast.clock)
    olu, cy = replace(cast.olu, stores=stores), replace(cast.cy, stores=stores)
    assert photos.content(olu, photo_id=stays) == photos.content(cy, photo_id=stays) == before
    with pytest.raises(NotFound):
        photos.content(olu, photo_id=gone)
    with Session(stores.read) as session:
        rows = {row.id: row for row in session.exec(select(Photo))}
    assert set(rows) == {stays, gone} and rows[gone].removed_at == cast.clock.now
    assert [stores.files.get(rows[one].sha256) for one in (stays, gone)] == [
        cast.stores.files.get(row.sha256) for row in (rows[stays], rows[gone])
    ]
    stores.read.dispose()
    stores.write.dispose()
