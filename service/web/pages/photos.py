"""Photos: taken at the bench, shown to the customer by the owner, looked at by whoever may."""

from typing import Annotated
from uuid import UUID

from fastapi import Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from service.desk import photos
from service.desk.doorway import Caller
from service.desk.photos import ROOMS, Of
from service.paper import photo_files
from service.web.authentication import OwnerCaller, PageCaller, SentForm, StaffCaller
from service.web.error_pages import form_of
from service.web.form_input import reading
from service.web.responses import local, page, see
from service.web.room import Room
from service.web.sent_photos import picture_answer, sent_picture

router = Room()

PageNumber = Annotated[int, Query(alias="page", ge=1, le=10_000)]


@router.get("/photos/{photo_id}")
def show(request: Request, caller: PageCaller, photo_id: UUID, small: bool = False) -> Response:
    """Give a photo, whole or small."""
    return picture_answer(request, caller, photo_id=photo_id, small=small)


@router.get("/jobs/{job_id}/photos")
def show_job(request: Request, caller: PageCaller, job_id: UUID, page_number: PageNumber = 1) -> HTMLResponse:
    """Show everything that was photographed in a job; a customer sees what is shown of his own."""
    found = photos.of_job(caller, job_id=job_id, page=page_number)
    return page(request, "photos.html", caller=caller, found=found)


@router.get("/blocks/{block_id}/photos")
def show_block(request: Request, caller: StaffCaller, block_id: UUID) -> HTMLResponse:
    """Show the photos of a block; its own page fetches them from here, so that it need not wait for them."""
    return page(request, "album.html", caller=caller, album=photos.album(caller, of="block", thing_id=block_id))


@router.post("/sacks/{receipt_id}/photos")
@form_of("/sacks/{receipt_id}")
def add_to_sack(caller: StaffCaller, form: SentForm, receipt_id: UUID) -> RedirectResponse:
    """Keep a photo of a sack."""
    return _taken(caller, form, "sack", receipt_id)


@router.post("/blocks/{block_id}/photos")
@form_of("/blocks/{block_id}")
def add_to_block(caller: StaffCaller, form: SentForm, block_id: UUID) -> RedirectResponse:
    """Keep a photo of a block."""
    return _taken(caller, form, "block", block_id)


@router.post("/jobs/{job_id}/photos")
@form_of("/jobs/{job_id}/photos")
def add_to_job(caller: StaffCaller, form: SentForm, job_id: UUID) -> RedirectResponse:
    """Keep a photo of a job."""
    return _taken(caller, form, "job", job_id)


def _taken(caller: Caller, form: FormData, of: Of, thing_id: UUID) -> RedirectResponse:
    photo_files.take_in(caller, of=of, thing_id=thing_id, content=sent_picture(form))
    return see(f"/{ROOMS[of]}/{thing_id}#photos")


@router.post("/photos/{photo_id}/shown")
def show_to_customer(caller: OwnerCaller, form: SentForm, photo_id: UUID) -> RedirectResponse:
    """Let the customer see a photo, or no longer."""
    with reading(form, caller.shop) as read:
        shown, then = read.choice("shown", ("yes", "no")), read.raw("then")
    photos.show(caller, photo_id=photo_id, shown=shown == "yes")
    return see(local(then))


@router.post("/photos/{photo_id}/remove")
def remove(caller: StaffCaller, form: SentForm, photo_id: UUID) -> RedirectResponse:
    """Take a photo away."""
    with reading(form, caller.shop) as read:
        then = read.raw("then")
    photos.remove(caller, photo_id=photo_id)
    return see(local(then))
