"""Photos: who adds, shows, removes and sees them; once each, with their trail, on both databases."""

from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

import pytest
from sqlmodel import Session, select

from service.desk import backups, photos
from service.desk.doorway import Caller
from service.errors import Conflict, Forbidden, NotFound, Unavailable
from service.records.files import File
from service.records.materials import Receipt
from service.records.photos import Photo
from tests.cast import Cast
from tests.trials import Tried, a_tried_job

CONTENT = b"what a picture's bytes would be"


@pytest.fixture
def tried(cast: Cast) -> Tried:
    """Return a job of Cy's with a sack and blocks."""
    return a_tried_job(cast)


def add(caller: Caller, of: photos.Of, thing_id: UUID, content: bytes = CONTENT) -> UUID:
    sha256 = caller.stores.files.put(content)
    return photos.add(caller, of=of, thing_id=thing_id, sha256=sha256, size=len(content)).id


def things(cast: Cast, tried: Tried) -> dict[photos.Of, UUID]:
    return {"job": tried.job_id, "sack": sack_of(cast, tried), "block": block_of(tried)}


def sack_of(cast: Cast, tried: Tried) -> UUID:
    with Session(cast.stores.read) as session:
        return session.exec(select(Receipt.id).where(Receipt.job_id == tried.job_id)).all()[0]


def block_of(tried: Tried) -> UUID:
    return next(iter(tried.blocks.values()))


def rows(cast: Cast) -> list[Photo]:
    with Session(cast.stores.read) as session:
        return list(session.exec(select(Photo)))


def test_a_sack_a_block_and_a_job_have_photographs_and_the_job_shows_them_all(cast: Cast, tried: Tried) -> None:
    for number, (of, thing_id) in enumerate(things(cast, tried).items()):
        cast.clock.forward(minutes=1)
        photo_id = add(cast.tess, of, thing_id, CONTENT + bytes([number]))
        (view,) = photos.album(cast.olu, of=of, thing_id=thing_id).photos
        assert (view.id, view.of, view.thing_id, view.by, view.shown) == (photo_id, of, thing_id, "Tess", False)
    page = photos.of_job(cast.tess, job_id=tried.job_id)
    assert [view.of for view in page.photos] == ["block", "sack", "job"] and page.total == 3
    assert [view.of for view in photos.newest(cast.tess, job_id=tried.job_id, most=2)] == ["block", "sack"]


def test_a_photograph_leaves_its_trail(cast: Cast, tried: Tried) -> None:
    photo_id = add(cast.tess, "job", tried.job_id)
    photos.show(cast.olu, photo_id=photo_id, shown=True)
    photos.remove(cast.tess, photo_id=photo_id)
    told = backups.entries(cast.olu, last=3)
    assert [entry.act for entry in told] == ["photo.add", "photo.show", "photo.remove"]
    assert {entry.details["thing"] for entry in told} == {str(tried.job_id)}
    assert backups.verify(cast.olu).broken_at is None


def test_the_same_form_sent_twice_is_one_photograph(cast: Cast, tried: Tried) -> None:
    tess = cast.tess
    assert add(tess, "job", tried.job_id) == add(tess, "job", tried.job_id)
    assert len(rows(cast)) == 1


def test_the_very_same_picture_is_not_taken_of_a_thing_again(cast: Cast, tried: Tried) -> None:
    add(cast.tess, "job", tried.job_id)
    with pytest.raises(Conflict, match="here already"):
        add(cast.tess, "job", tried.job_id)
    add(cast.tess, "block", block_of(tried))
    with Session(cast.stores.read) as session:
        assert [row.bytes for row in session.exec(select(File)) if row.media_type == "image/jpeg"] == [len(CONTENT)]


def test_one_thing_has_so_many_photographs_and_no_more(cast: Cast) -> None:
    tried = a_tried_job(cast)
    for number in range(photos.MOST_OF_ONE):
        last = add(cast.tess, "job", tried.job_id, bytes([number]))
    with pytest.raises(Conflict, match="Remove one first"):
        add(cast.tess, "job", tried.job_id)
    photos.remove(cast.olu, photo_id=last)
    add(cast.tess, "job", tried.job_id)


def test_a_customer_sees_what_is_shown_of_his_own_job_and_nothing_else(cast: Cast, tried: Tried) -> None:
    shown, kept = add(cast.tess, "block", block_of(tried)), add(cast.tess, "job", tried.job_id)
    photos.show(cast.olu, photo_id=shown, shown=True)
    assert [view.id for view in photos.of_job(cast.cy, job_id=tried.job_id).photos] == [shown]
    own = photos.own(cast.cy, job_ids=[tried.job_id], most=6)
    assert [view.id for view in own[tried.job_id]] == [shown]
    assert photos.content(cast.cy, photo_id=shown) == CONTENT
    for look in (photos.find, photos.content):
        with pytest.raises(NotFound):
            look(cast.cy, photo_id=kept)
        with pytest.raises(NotFound):
            look(cast.dov, photo_id=shown)
    with pytest.raises(NotFound):
        photos.of_job(cast.dov, job_id=tried.job_id)
    assert photos.own(cast.dov, job_ids=[tried.job_id], most=6) == {}
    photos.show(cast.olu, photo_id=shown, shown=False)
    assert photos.of_job(cast.cy, job_id=tried.job_id).photos == ()


def test_each_job_shows_its_own_newest(cast: Cast, tried: Tried) -> None:
    other = a_tried_job(cast, number=2)
    for number in range(3):
        cast.clock.forward(minutes=1)
        for job_id in (tried.job_id, other.job_id):
            photo_id = add(cast.tess, "job", job_id, bytes([number]))
            photos.show(cast.olu, photo_id=photo_id, shown=True)
    own = photos.own(cast.cy, job_ids=[tried.job_id, other.job_id], most=2)
    newest = [photos.of_job(cast.cy, job_id=one.job_id).photos[:2] for one in (tried, other)]
    assert own == {tried.job_id: newest[0], other.job_id: newest[1]}


def test_wrong_roles_are_refused(cast: Cast, tried: Tried) -> None:
    photo_id = add(cast.olu, "job", tried.job_id)
    refused: list[tuple[Any, Caller, dict[str, Any]]] = [
        (photos.add, cast.cy, {"of": "job", "thing_id": tried.job_id, "sha256": "0" * 64, "size": 1}),
        (photos.remove, cast.cy, {"photo_id": photo_id}),
        (photos.remove, cast.tess, {"photo_id": photo_id}),
        (photos.show, cast.tess, {"photo_id": photo_id, "shown": True}),
        (photos.show, cast.cy, {"photo_id": photo_id, "shown": True}),
        (photos.album, cast.cy, {"of": "job", "thing_id": tried.job_id}),
    ]
    for use, caller, given in refused:
        with pytest.raises(Forbidden):
            use(caller, **given)
    assert [(row.shown, row.removed_at) for row in rows(cast)] == [(False, None)]


def test_a_removed_photograph_is_gone_for_everybody_and_its_row_and_file_stay(cast: Cast, tried: Tried) -> None:
    photo_id = add(cast.tess, "job", tried.job_id)
    photos.show(cast.olu, photo_id=photo_id, shown=True)
    photos.remove(cast.tess, photo_id=photo_id)
    for caller in (cast.olu, cast.tess, cast.cy):
        with pytest.raises(NotFound):
            photos.content(caller, photo_id=photo_id)
        assert photos.of_job(caller, job_id=tried.job_id).total == 0
    with pytest.raises(NotFound):
        photos.remove(cast.olu, photo_id=photo_id)
    (row,) = rows(cast)
    assert row.removed_at == cast.clock.now and cast.stores.files.get(row.sha256) == CONTENT


@pytest.mark.parametrize("of", ["sack", "block", "job"])
def test_what_is_not_there_has_no_photographs(cast: Cast, of: photos.Of) -> None:
    for use in (photos.place, photos.album):
        with pytest.raises(NotFound):
            use(cast.tess, of=of, thing_id=uuid4())
    with pytest.raises(NotFound):
        add(cast.tess, of, uuid4())


def test_a_file_that_the_store_lost_or_cannot_reach_is_told(cast: Cast, tmp_path: Path) -> None:
    photo_id = add(cast.tess, "job", a_tried_job(cast).job_id)
    (row,) = rows(cast)
    place = next(path for path in tmp_path.rglob(row.sha256))
    place.unlink()
    with pytest.raises(NotFound, match="not in the store"):
        photos.content(cast.tess, photo_id=photo_id)
    place.mkdir()
    with pytest.raises(Unavailable, match="cannot be read just now"):
        photos.content(cast.tess, photo_id=photo_id)


def test_a_store_that_cannot_be_written_is_told_and_nothing_is_kept(cast: Cast, tmp_path: Path) -> None:
    tried = a_tried_job(cast)
    folder = tmp_path / "files"
    if folder.exists():
        folder.rename(tmp_path / "aside")
    folder.write_text("in the way")
    with pytest.raises(Unavailable, match="cannot be stored"):
        add(cast.tess, "job", tried.job_id)
    assert rows(cast) == []
