"""Photos of sacks, blocks and jobs: taken by the shop, shown to the customer where the owner says so."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import CUSTOMERS, EVERYONE, OWNERS, STAFF, Caller, Done, Role, act, look
from service.errors import Conflict, Forbidden, NotFound, Unavailable
from service.records import files, jobs, photos
from service.records.blocks import Block
from service.records.jobs import Job
from service.records.materials import Receipt
from service.records.photos import COLUMNS, Photo, PlacedPhoto
from service.records.photos import Of as Of

MEDIA_TYPE = "image/jpeg"
PAGE_SIZE = 24
# As many of one thing as a person looks through.
MOST_OF_ONE = 24
ROWS: dict[Of, Any] = {"sack": Receipt, "block": Block, "job": Job}
ROOMS: dict[Of, str] = {"sack": "sacks", "block": "blocks", "job": "jobs"}


@dataclass(frozen=True)
class PhotoView:
    """A photo with what it shows, when and by whom it was taken, and what may be done with it."""

    id: UUID
    of: Of
    thing_id: UUID
    label: str
    job_id: UUID
    taken_at: datetime
    by: str
    shown: bool
    may_remove: bool


@dataclass(frozen=True)
class Album:
    """The photos of one sack, block or job itself, newest first, with what is written on it."""

    of: Of
    thing_id: UUID
    label: str
    photos: tuple[PhotoView, ...]


@dataclass(frozen=True)
class PhotoPage:
    """One page of the photos of a job out of all."""

    job_id: UUID
    job_number: int
    site: str
    photos: tuple[PhotoView, ...]
    total: int
    page: int
    pages: int


@look("photo.place", by=STAFF)
def place(session: Session, caller: Caller, *, of: Of, thing_id: UUID) -> None:
    """Refuse a photo of what is not there, before anybody takes the trouble of working on it."""
    _the_thing(session, of, thing_id)


@look("file.unnamed", by=STAFF)
def unnamed(session: Session, caller: Caller, *, sha256s: list[str]) -> list[str]:
    """Return which contents of the file store no row names."""
    return files.unnamed(session, sha256s)


@act("photo.add", by=STAFF)
def add(session: Session, caller: Caller, *, of: Of, thing_id: UUID, sha256: str, size: int) -> Done:
    """Keep a picture that is in the file store as one of a sack, a block or a job; nobody else sees it yet."""
    _the_thing(session, of, thing_id)
    before = photos.of_thing(session, of, thing_id)
    if any(one.photo.sha256 == sha256 for one in before):
        raise Conflict("This photo is here already.")
    if len(before) >= MOST_OF_ONE:
        raise Conflict(f"There are {MOST_OF_ONE} photos of this already. Remove one first.")
    files.note(session, sha256=sha256, media_type=MEDIA_TYPE, size=size)
    photo = Photo(sha256=sha256, taken_at=caller.clock.past(None, field="taken_at"), taken_by=caller.doer)
    setattr(photo, COLUMNS[of].key, thing_id)
    session.add(photo)
    session.flush()
    return Done("photo", photo.id, {"of": of, "thing": thing_id, "sha256": sha256})


@act("photo.remove", by=STAFF)
def remove(session: Session, caller: Caller, *, photo_id: UUID) -> Done:
    """Take a photo away: it is shown to nobody any more, and its row and file stay for the trail."""
    found = photos.visible(session, photo_id, seen_by=None)
    if not _may_remove(caller, found.photo):
        raise Forbidden("Only the owner, or who took a photo, can remove it.")
    found.photo.removed_at = caller.stores.clock()
    session.add(found.photo)
    return _done(found)


@act("photo.show", by=OWNERS)
def show(session: Session, caller: Caller, *, photo_id: UUID, shown: bool) -> Done:
    """Let the customer see a photo, or no longer."""
    found = photos.visible(session, photo_id, seen_by=None)
    found.photo.shown = shown
    session.add(found.photo)
    return _done(found, shown=shown)


@look("photo.album", by=STAFF)
def album(session: Session, caller: Caller, *, of: Of, thing_id: UUID) -> Album:
    """Return the photos of one sack, block or job itself, newest first."""
    label = _the_thing(session, of, thing_id)
    views = tuple(_view(caller, one) for one in photos.of_thing(session, of, thing_id))
    return Album(of, thing_id, label, views)


@look("photo.of_job", by=EVERYONE)
def of_job(session: Session, caller: Caller, *, job_id: UUID, page: int = 1) -> PhotoPage:
    """Return a page of everything photographed in a job; a customer gets what is shown of a job of his own."""
    job = jobs.visible(session, job_id, seen_by=caller.seen_by)
    shown_only = caller.seen_by is not None
    found, total = photos.page_of_job(session, job_id, shown_only=shown_only, page=page, size=PAGE_SIZE)
    views = tuple(_view(caller, one) for one in found)
    return PhotoPage(job.id, job.number, job.site, views, total, page, max(1, -(-total // PAGE_SIZE)))


@look("photo.newest", by=STAFF)
def newest(session: Session, caller: Caller, *, job_id: UUID, most: int) -> tuple[PhotoView, ...]:
    """Return the newest photos of a job, those of its sacks and blocks too."""
    found = photos.newest_of_jobs(session, [job_id], shown_only=False, most=most)
    return tuple(_view(caller, one) for one in found.get(job_id, ()))


@look("photo.shown", by=STAFF)
def shown_of(session: Session, caller: Caller, *, job_id: UUID, most: int) -> tuple[PhotoView, ...]:
    """Return the newest photographs of a job that its customer sees, the oldest of them first."""
    found = photos.newest_of_jobs(session, [job_id], shown_only=True, most=most)
    return tuple(_view(caller, one) for one in reversed(found.get(job_id, [])))


@look("customer.own_photos", by=CUSTOMERS)
def own(session: Session, caller: Caller, *, job_ids: Sequence[UUID], most: int) -> dict[UUID, tuple[PhotoView, ...]]:
    """Return the newest photos that a customer may see of some jobs, and none of anybody else's jobs."""
    found = photos.newest_of_jobs(session, job_ids, shown_only=True, most=most) if job_ids else {}
    views = {
        job_id: tuple(_view(caller, one) for one in row if one.job.customer_id == caller.seen_by)
        for job_id, row in found.items()
    }
    return {job_id: row for job_id, row in views.items() if row}


@look("photo.find", by=EVERYONE)
def find(session: Session, caller: Caller, *, photo_id: UUID) -> PhotoView:
    """Return what is known of a photo to whoever may see it."""
    return _view(caller, photos.visible(session, photo_id, seen_by=caller.seen_by))


@look("photo.content", by=EVERYONE)
def content(session: Session, caller: Caller, *, photo_id: UUID) -> bytes:
    """Return a picture as it was stored to whoever may see it."""
    found = photos.visible(session, photo_id, seen_by=caller.seen_by)
    try:
        return caller.stores.files.get(found.photo.sha256)
    except OSError as error:
        raise Unavailable("Photos cannot be read just now. They are not lost.") from error


def _the_thing(session: Session, of: Of, thing_id: UUID) -> str:
    """Return what is written on a thing that is there."""
    thing = session.get(ROWS[of], thing_id)
    if thing is None:
        raise NotFound(f"There is no such {of}.")
    return f"Job {thing.number}" if isinstance(thing, Job) else thing.label


def _may_remove(caller: Caller, photo: Photo) -> bool:
    return caller.role is Role.OWNER or (caller.role is Role.TECHNICIAN and photo.taken_by == caller.person_id)


def _view(caller: Caller, found: PlacedPhoto) -> PhotoView:
    photo, by, job, sack, block = found
    of, thing_id = _thing_of(photo)
    label = sack or block or f"Job {job.number}"
    return PhotoView(photo.id, of, thing_id, label, job.id, photo.taken_at, by, photo.shown, _may_remove(caller, photo))


def _thing_of(photo: Photo) -> tuple[Of, UUID]:
    return next((of, link) for of, column in COLUMNS.items() if (link := getattr(photo, column.key)) is not None)


def _done(found: PlacedPhoto, **more: bool) -> Done:
    of, thing_id = _thing_of(found.photo)
    return Done("photo", found.photo.id, {"of": of, "thing": thing_id, **more})
