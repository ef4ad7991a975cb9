"""The trail shown and followed, turns among replicas, nightly archives and which of them stay."""

import os
from datetime import UTC, datetime, time, timedelta
from pathlib import Path

import pytest
from sqlalchemy import text

from service.desk import backups, people
from service.errors import Conflict, Forbidden
from service.nightly import archive_nightly
from service.paper import archiving
from tests.cast import START, Cast
from tests.records.test_trail import TRIGGERS

# The shop of the cast stands in Denver, seven hours behind: half past two there is half past nine in UTC.
NIGHTLY = time(2, 30)


def nightly(cast: Cast, folder: Path) -> bool:
    return archive_nightly(cast.stores, folder=folder, nightly_at=NIGHTLY)


def test_the_trail_names_who_did_what_and_can_be_asked_about_one_thing(cast: Cast) -> None:
    done = people.add_customer(cast.tess, name="Ann", contact=None, language=None)
    (entry,) = backups.entries(cast.olu, last=5, about=str(done.id))
    assert (entry.person, entry.act, entry.subject_kind) == ("Tess", "customer.add", "customer")
    kinds = [one.subject_kind for one in backups.entries(cast.olu, last=50, about="customer")]
    assert kinds == ["customer"] * 3
    newest = backups.entries(cast.olu, last=2)
    assert [one.position for one in newest] == [entry.position - 1, entry.position]


def test_only_an_owner_looks_at_the_trail(cast: Cast) -> None:
    for caller in (cast.tess, cast.cy):
        with pytest.raises(Forbidden):
            backups.entries(caller, last=1)


def test_one_replica_at_a_time_has_the_turn(cast: Cast) -> None:
    assert [backups.take_turn(cast.olu).details["got"] for _ in range(2)] == [True, False]
    cast.clock.forward(minutes=61)
    assert backups.take_turn(cast.olu).details["got"]


def test_the_first_night_makes_one_archive_whatever_the_number_of_replicas(cast: Cast, tmp_path: Path) -> None:
    made = [nightly(cast, tmp_path / "archives") for _ in range(3)]
    assert made == [True, False, False]
    (archive,) = (tmp_path / "archives").iterdir()
    assert archive.name == f"loambook-{START:%Y%m%dT%H%M%SZ}.zip"
    assert backups.show(cast.olu).last_good_at == START


def test_the_next_archive_is_due_after_the_hour_where_the_shop_is(cast: Cast, tmp_path: Path) -> None:
    nightly(cast, tmp_path)
    due = []
    for moment in (datetime(2027, 3, 2, 9, 29, tzinfo=UTC), datetime(2027, 3, 2, 9, 31, tzinfo=UTC)):
        cast.clock.now = moment
        due.append(backups.is_due(cast.olu, nightly_at=NIGHTLY))
    assert due == [False, True]


def test_an_archive_that_could_not_be_written_is_told_and_tried_again(cast: Cast, tmp_path: Path) -> None:
    folder = tmp_path / "archives"
    folder.write_text("a file stands where the folder should be")
    with pytest.raises(Conflict, match="could not be written"):
        nightly(cast, folder)
    (run,) = backups.show(cast.olu).runs
    assert (run.ok, run.was_written) == (False, False)
    folder.unlink()
    assert not nightly(cast, folder)
    cast.clock.forward(minutes=61)
    assert nightly(cast, folder)


def test_the_owner_is_told_when_the_last_archive_is_old(cast: Cast, tmp_path: Path) -> None:
    assert backups.show(cast.olu).is_old
    archiving.make(cast.olu, folder=tmp_path)
    assert not backups.show(cast.olu).is_old
    cast.clock.forward(hours=37)
    assert backups.show(cast.olu).is_old


def test_the_same_form_sent_twice_makes_one_archive(cast: Cast, tmp_path: Path) -> None:
    olu = cast.olu
    first = archiving.make(olu, folder=tmp_path / "archives")
    cast.clock.forward(minutes=1)
    assert first is not None and archiving.make(olu, folder=tmp_path / "archives") is None
    assert len(list((tmp_path / "archives").iterdir())) == 1


def test_a_changed_trail_makes_an_archive_that_is_not_good_and_deletes_no_older_one(cast: Cast, tmp_path: Path) -> None:
    for _ in range(9):
        archiving.make(cast.olu, folder=tmp_path / "archives")
        cast.clock.forward(days=1)
    before = {path.name for path in (tmp_path / "archives").iterdir()}
    with cast.stores.write.begin() as connection:
        for statement in TRIGGERS[connection.dialect.name]:
            connection.execute(text(statement))
        connection.execute(text("UPDATE trail SET act = 'shop.close' WHERE position = 2"))
    taken = archiving.make(cast.olu, folder=tmp_path / "archives")
    assert taken is not None and taken.broken_at == 2 and not taken.is_whole
    assert before < {path.name for path in (tmp_path / "archives").iterdir()}


def name(day: datetime) -> str:
    return f"loambook-{day:%Y%m%dT%H%M%SZ}.zip"


def test_seven_days_and_five_weeks_of_archives_stay() -> None:
    # Daily at noon from Monday 4 January to Sunday 14 February 2027, six whole weeks of the calendar.
    daily = [datetime(2027, 1, 4, 12, tzinfo=UTC) + timedelta(days=day) for day in range(42)]
    sundays = [datetime(2027, 1, day, 12, tzinfo=UTC) for day in (17, 24, 31)] + [datetime(2027, 2, 7, 12, tzinfo=UTC)]
    assert archiving.kept({name(day) for day in daily}, at=daily[-1]) == {name(day) for day in [*sundays, *daily[-7:]]}


def test_of_two_archives_of_one_day_the_newer_stays() -> None:
    noon, evening = datetime(2027, 1, 4, 12, tzinfo=UTC), datetime(2027, 1, 4, 19, tzinfo=UTC)
    assert archiving.kept({name(noon), name(evening)}, at=evening) == {name(evening)}


def test_thinning_leaves_alone_what_is_no_archive(tmp_path: Path) -> None:
    for other in ("letter.txt", "loambook-old.zip"):
        (tmp_path / other).write_text("x")
    archiving.thin(tmp_path, at=START)
    assert len(list(tmp_path.iterdir())) == 2


def test_what_a_stop_left_half_written_is_cleared_away_a_day_later(tmp_path: Path) -> None:
    fresh, old = (tmp_path / f"{name(datetime(2027, 1, day, tzinfo=UTC))}.part" for day in (4, 5))
    for unfinished in (fresh, old):
        unfinished.write_text("x")
    os.utime(old, (0, 0))
    archiving.thin(tmp_path, at=START)
    assert list(tmp_path.iterdir()) == [fresh]
