"""The portable archive: every row and file comes back on either database, or nothing is touched."""

import errno
import random
import re
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from decimal import Decimal
from pathlib import Path
from threading import Event
from typing import Any
from uuid import UUID, uuid4

import pytest
from alembic import command
from sqlalchemy import inspect, select
from sqlmodel import Session

from service.errors import Conflict
from service.records import archive_file, audit_log, files
from service.records.archive_lines import reader_of
from service.records.archive_restore import ROWS_AT_ONCE, restore
from service.records.customers import Customer
from service.records.database import (
    METADATA,
    Engines,
    head_revision,
    migrate,
    migrating,
    migration_config,
    open_engines,
    revision_of,
)
from service.records.files import FileStore
from service.records.materials import Price
from service.records.photos import Photo
from service.records.recipes import Recipe, RecipeGroup
from tests.records.shop import PRESSED, SmallShop, furnish
from tests.sealed import Parts, alter, replace_rows, rows_of

PHOTO = b"\xff\xd8 not really a photo, but \x00 bytes all the same"


def fill(engines: Engines, store: FileStore) -> None:
    """Put the small shop in, with a photo, exact money, a long number and an entry in the trail."""
    with Session(engines.write) as session:
        shop: SmallShop = furnish(session)
        sha256 = store.put(PHOTO)
        files.note(session, sha256=sha256, media_type="image/jpeg", size=len(PHOTO))
        shop.recipe.draw_seed = 2**62 + 1
        shop.job.question = 'Übersteht er 0,1 + 0,2? “Ja” – \\ " \n\t🧱'
        shop.sack.mass_kg = 0.1 + 0.2
        shop.add(
            crushing=shop.crushing(shop.block_1),
            photo=Photo(sha256=sha256, block_id=shop.block_1.id, taken_at=PRESSED, taken_by=shop.tess.id),
            price=Price(
                material_id=shop.cement.id,
                valid_from=date(2027, 1, 1),
                per_kg=Decimal("123456789.123456"),
                source="list",
            ),
        )
        for step in range(3):
            append(session, step)
        session.commit()


def append(session: Session, step: int) -> None:
    audit_log.append(
        session,
        at=PRESSED.replace(microsecond=7),
        person_id=None,
        device_id=None,
        via="command",
        request_id="r",
        act="shop.open",
        subject_kind="shop",
        subject_id=uuid4(),
        details={"step": step},
    )


def archived(url: str, store: FileStore, path: Path) -> tuple[archive_file.Manifest, str]:
    engines = open_engines(url)
    try:
        with engines.read.connect() as connection:
            return archive_file.write(connection, store, path, at=PRESSED)
    finally:
        engines.dispose()


def everything(url: str) -> dict[str, list[Any]]:
    """Return every row of every table that is carried."""
    engines = open_engines(url)
    with engines.read.connect() as connection:
        rows = {
            table.name: [tuple(row) for row in connection.execute(select(table).order_by(*table.primary_key))]
            for table in METADATA.sorted_tables
            if table.name not in archive_file.NOT_CARRIED
        }
    engines.dispose()
    return rows


def tables_in(url: str) -> list[str]:
    engines = open_engines(url)
    with engines.read.connect() as connection:
        names = inspect(connection).get_table_names()
    engines.dispose()
    return names


@pytest.fixture
def store(tmp_path: Path) -> FileStore:
    """Return the store of the first shop."""
    return FileStore(str(tmp_path / "files"))


@pytest.fixture
def file(sqlite_url: str, store: FileStore, tmp_path: Path) -> Path:
    """Return an archive of a small shop on SQLite."""
    engines = open_engines(sqlite_url)
    fill(engines, store)
    engines.dispose()
    archived(sqlite_url, store, tmp_path / "a.zip")
    return tmp_path / "a.zip"


def test_a_shop_goes_from_sqlite_to_postgresql_and_back_without_losing_a_row(
    file: Path, sqlite_url: str, postgres_url: str, store: FileStore, tmp_path: Path
) -> None:
    there, back = FileStore(str(tmp_path / "there")), FileStore(str(tmp_path / "back"))
    restore(file, url=postgres_url, files=there)
    assert everything(postgres_url) == everything(sqlite_url)
    archived(postgres_url, there, tmp_path / "b.zip")
    again = f"sqlite:///{tmp_path / 'again.sqlite'}"
    restore(tmp_path / "b.zip", url=again, files=back)
    assert everything(again) == everything(sqlite_url)
    assert back.get(store.put(PHOTO)) == PHOTO
    # The same shop at the same moment is the same file, to the byte, whichever database it stands in.
    assert (tmp_path / "b.zip").read_bytes() == file.read_bytes()


def test_a_corrected_row_is_restored_however_far_before_the_one_whose_place_it_took(
    sqlite_url: str, postgres_url: str, store: FileStore, tmp_path: Path
) -> None:
    """Rows stand in the order of their ids, and PostgreSQL looks at a foreign key with each statement."""
    engines = open_engines(sqlite_url)
    with Session(engines.write) as session:
        shop = furnish(session)
        at, by = PRESSED, shop.tess.id
        ends = {"ended_at": at, "ended_by": by, "ended_because": "typed twice"}
        ids = [UUID(int=number) for number in range(ROWS_AT_ONCE + 2)]
        # The first takes the place of the last; the others are taken back.
        rows = [shop.crushing(shop.block_1, id=one, **ends) for one in reversed(ids[1:])]
        session.add_all(rows)
        session.flush()
        session.add(shop.crushing(shop.block_1, id=ids[0], replaces_id=ids[-1]))
        session.commit()
    engines.dispose()
    archived(sqlite_url, store, tmp_path / "a.zip")
    restore(tmp_path / "a.zip", url=postgres_url, files=store)
    assert everything(postgres_url) == everything(sqlite_url)


def test_the_trail_of_a_restored_shop_verifies_and_goes_on(file: Path, empty_database_url: str, tmp_path: Path) -> None:
    restore(file, url=empty_database_url, files=FileStore(str(tmp_path / "there")))
    engines = open_engines(empty_database_url)
    with Session(engines.write) as session:
        append(session, 4)
        session.commit()
        assert (audit_log.verify(session), audit_log.head(session)[0]) == (None, 4)
    engines.dispose()


def test_an_archive_taken_while_people_work_is_of_one_moment(
    database_url: str, empty_database_url: str, store: FileStore, tmp_path: Path
) -> None:
    engines, enough = open_engines(database_url), Event()

    def work(number: int) -> None:
        while not enough.is_set():
            with Session(engines.write) as session:
                session.add(Customer(name=f"{number}"))
                session.flush()
                append(session, number)
                session.commit()

    with ThreadPoolExecutor(3) as pool:
        for number in range(3):
            pool.submit(work, number)
        manifests = [archived(database_url, store, tmp_path / f"{n}.zip")[0] for n in range(4)]
        enough.set()
    engines.dispose()
    counted = [{part.name: part.rows for part in manifest.tables} for manifest in manifests]
    assert all(count["customer"] == count["trail"] for count in counted)
    assert counted[0]["trail"] < counted[-1]["trail"]
    restore(tmp_path / "3.zip", url=empty_database_url, files=store)
    assert len(everything(empty_database_url)["customer"]) == counted[-1]["customer"]


def test_any_byte_changed_is_found_before_anything_is_touched(file: Path, tmp_path: Path) -> None:
    content, draw = file.read_bytes(), random.Random(1)
    url, damaged = f"sqlite:///{tmp_path / 'new.sqlite'}", tmp_path / "damaged.zip"
    places = [0, len(content) - 1, len(content) - 65, *(draw.randrange(len(content)) for _ in range(60))]
    for place in places:
        damaged.write_bytes(content[:place] + bytes([content[place] ^ 1 << draw.randrange(8)]) + content[place + 1 :])
        with pytest.raises(Conflict, match="damaged"):
            restore(damaged, url=url, files=FileStore(str(tmp_path / "new")))
    assert not (tmp_path / "new.sqlite").exists() and not (tmp_path / "new").exists()


@pytest.mark.parametrize("length", [0, 63, 64, 1000], ids=lambda length: f"{length} bytes")
def test_a_file_cut_short_is_refused(file: Path, tmp_path: Path, length: int) -> None:
    file.write_bytes(file.read_bytes()[:length])
    with pytest.raises(Conflict, match="damaged"), archive_file.opened(file):
        pass


def newer_format(manifest: dict[str, Any], parts: Parts) -> None:
    manifest["format"] = archive_file.FORMAT + 1


def newer_schema(manifest: dict[str, Any], parts: Parts) -> None:
    manifest["schema_revision"] = "9999"


def changed_behind_its_digest(manifest: dict[str, Any], parts: Parts) -> None:
    parts["rows/customer.jsonl"] = parts["rows/customer.jsonl"].replace(b"Dov", b"Dave")


def something_more(manifest: dict[str, Any], parts: Parts) -> None:
    parts["../surprise"] = b"x"


def without_a_person(manifest: dict[str, Any], parts: Parts) -> None:
    rows = [row for row in rows_of(parts, "person") if row["name"] != "Tess"]
    replace_rows(manifest, parts, "person", rows)


def with_another_entry(manifest: dict[str, Any], parts: Parts) -> None:
    rows = rows_of(parts, "trail")
    rows[1]["details"] = '{"step":9}'
    replace_rows(manifest, parts, "trail", rows)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (newer_format, "newer version"),
        (newer_schema, "newer version"),
        (changed_behind_its_digest, "damaged"),
        (something_more, "damaged"),
        (without_a_person, "point at nothing|did not take"),
        (with_another_entry, "log"),
    ],
    ids=lambda value: getattr(value, "__name__", ""),
)
def test_what_cannot_be_restored_leaves_the_database_as_it_was(
    file: Path, empty_database_url: str, tmp_path: Path, change: Any, sentence: str
) -> None:
    altered = alter(file, change)
    with pytest.raises(Conflict, match=sentence):
        restore(altered, url=empty_database_url, files=FileStore(str(tmp_path / "there")))
    assert tables_in(empty_database_url) == []


def test_a_database_that_is_not_empty_is_refused_untouched(file: Path, database_url: str, tmp_path: Path) -> None:
    engines = open_engines(database_url)
    with Session(engines.write) as session:
        session.add(Customer(name="Somebody"))
        session.commit()
    engines.dispose()
    before = everything(database_url)
    with pytest.raises(Conflict, match="not empty"):
        restore(file, url=database_url, files=FileStore(str(tmp_path / "there")))
    assert everything(database_url) == before and not (tmp_path / "there").exists()


def of_step(revision: str, url: str) -> Callable[[dict[str, Any], Parts], None]:
    """Return what takes away from an archive all that later steps of the migrations added."""
    with migrating(url) as connection:
        command.upgrade(migration_config(connection), revision)
        found = inspect(connection)
        then = {name: {one["name"] for one in found.get_columns(name)} for name in found.get_table_names()}

    def older(manifest: dict[str, Any], parts: Parts) -> None:
        manifest["schema_revision"] = revision
        for table in list(manifest["tables"]):
            if table["name"] not in then:
                manifest["tables"].remove(table)
                del parts[f"rows/{table['name']}.jsonl"]
                continue
            table["columns"] = {name: word for name, word in table["columns"].items() if name in then[table["name"]]}
        # What a later step let go of was in the archives of its time.
        for table in manifest["tables"]:
            if table["name"] == "customer" and "progress_mail" in then["customer"]:
                table["columns"]["progress_mail"] = "truth"
                rows = [{**row, "progress_mail": False} for row in rows_of(parts, "customer")]
                replace_rows(manifest, parts, "customer", rows)

    return older


def test_an_archive_of_an_older_version_is_brought_up_to_date(
    file: Path, sqlite_url: str, empty_database_url: str, tmp_path: Path
) -> None:
    migrate(empty_database_url)
    older = alter(file, of_step("0018", f"sqlite:///{tmp_path / 'older.sqlite'}"))
    restore(older, url=empty_database_url, files=FileStore(str(tmp_path / "there")))
    whole = everything(sqlite_url)
    # Its last column, for which other test a group of blocks is, came later than that step.
    whole["recipe_group"] = [(*group[:-1], None) for group in whole["recipe_group"]]
    assert everything(empty_database_url) == whole
    engines = open_engines(empty_database_url)
    with engines.read.connect() as connection:
        assert revision_of(connection) == head_revision()
    engines.dispose()


def test_blocks_planned_for_another_test_come_back(
    file: Path, sqlite_url: str, store: FileStore, empty_database_url: str, tmp_path: Path
) -> None:
    engines = open_engines(sqlite_url)
    with Session(engines.write) as session:
        recipe_id = session.execute(select(Recipe.id)).scalars().first()
        given = {"condition": "as cured", "age_days": 7.0, "tolerance_hours": 6.0, "blocks": 2}
        session.add(RecipeGroup(recipe_id=recipe_id, test="absorption", **given))
        session.commit()
    engines.dispose()
    archived(sqlite_url, store, tmp_path / "b.zip")
    migrate(empty_database_url)
    restore(tmp_path / "b.zip", url=empty_database_url, files=FileStore(str(tmp_path / "there")))
    found = everything(empty_database_url)
    assert found == everything(sqlite_url)
    assert [row for row in found["recipe_group"] if "absorption" in row]


def test_a_lost_file_does_not_keep_the_rest_from_being_archived(
    file: Path, sqlite_url: str, store: FileStore, tmp_path: Path
) -> None:
    lost = store.put(PHOTO)
    (tmp_path / "files" / lost[:2] / lost).unlink()
    manifest, _ = archived(sqlite_url, store, tmp_path / "b.zip")
    assert (manifest.missing, manifest.is_whole, manifest.rows > 20) == ([lost], False, True)


def test_an_archive_is_never_written_over_another_file(file: Path, sqlite_url: str, store: FileStore) -> None:
    before = file.read_bytes()
    with pytest.raises(Conflict, match="already"):
        archived(sqlite_url, store, file)
    assert file.read_bytes() == before


def test_an_archive_is_for_its_owner_alone_and_nothing_half_written_stays(file: Path) -> None:
    assert file.stat().st_mode & 0o777 == 0o600
    assert list(file.parent.glob("*.part")) == []


class FullDisk(FileStore):
    """A store on a disk that fails just now."""

    def get(self, sha256: str) -> bytes:
        """Fail as the system does."""
        raise OSError(errno.ENOSPC, "No space left on device")


def test_an_archive_that_fails_half_way_leaves_nothing(file: Path, sqlite_url: str, tmp_path: Path) -> None:
    with pytest.raises(OSError, match="No space left"):
        archived(sqlite_url, FullDisk(str(tmp_path / "files")), tmp_path / "b.zip")
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith("b.zip")] == []


def test_every_table_is_known_to_whoever_opens_a_database_and_every_column_goes_into_an_archive() -> None:
    folder = Path(archive_file.__file__).parent
    with_tables = {path.stem for path in folder.glob("*.py") if "table=True" in path.read_text("utf-8")}
    known = set(re.findall(r"^    (\w+),$", (folder / "database.py").read_text("utf-8"), re.MULTILINE))
    assert with_tables <= known
    words = {archive_file._word(column.type) for table in METADATA.sorted_tables for column in table.columns}
    for dialect in ("sqlite", "postgresql"):
        reader_of(dialect, {word: word for word in words})
