"""The whole example shop, with its issued papers, goes from SQLite to PostgreSQL and back."""

from datetime import UTC, datetime
from pathlib import Path

from sqlmodel import Session

from service.app import open_stores
from service.demo import shop
from service.records import audit_log
from service.records.archive_restore import restore
from service.records.files import FileStore
from service.settings import Settings
from tests.records.test_portable import archived, everything


def test_every_row_and_paper_of_the_example_shop_comes_back(sqlite_url: str, postgres_url: str, tmp_path: Path) -> None:
    stores = open_stores(Settings(database_url=sqlite_url, data=tmp_path / "first"))
    shop.load(stores, now=datetime(2027, 3, 1, 16, tzinfo=UTC))
    manifest, _ = archived(sqlite_url, stores.files, tmp_path / "a.zip")
    assert manifest.rows > 500 and manifest.files and manifest.is_whole

    there = FileStore(str(tmp_path / "there"))
    restore(tmp_path / "a.zip", url=postgres_url, files=there)
    archived(postgres_url, there, tmp_path / "b.zip")
    again, back = f"sqlite:///{tmp_path / 'again.sqlite'}", FileStore(str(tmp_path / "back"))
    restore(tmp_path / "b.zip", url=again, files=back)

    assert everything(postgres_url) == everything(sqlite_url)
    assert everything(again) == everything(sqlite_url)
    assert [back.get(sha256) for sha256 in manifest.files] == [stores.files.get(sha256) for sha256 in manifest.files]
    with Session(stores.read) as session:
        assert audit_log.verify(session) is None
    stores.read.dispose()
    stores.write.dispose()
