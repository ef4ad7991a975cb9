"""Photos for programs: a picture as the body of a request, and what there is of a sack, a block or a job."""

from typing import Annotated, Any
from uuid import UUID

from fastapi import Query, Request
from fastapi.responses import Response
from pydantic import Field

from service.desk import photos
from service.desk.photos import PhotoPage, PhotoView
from service.paper import photo_files
from service.web.api_input import Sent, Tick
from service.web.authentication import ApiCaller
from service.web.room import Room
from service.web.sent_photos import BodyPicture, picture_answer

router = Room(prefix="/api/v1", tags=["photos"])

PageNumber = Annotated[int, Query(alias="page", ge=1, le=10_000)]
KINDS = ("image/jpeg", "image/png", "image/webp", "application/octet-stream")
PICTURE: dict[str, Any] = {
    "requestBody": {
        "description": "The picture itself, at most 10 MB: JPEG, PNG or WebP.",
        "required": True,
        "content": {kind: {"schema": {"type": "string", "format": "binary"}} for kind in KINDS},
    }
}
EXAMPLE = {"id": "5f0c8f2e-8d5e-4f57-9d8b-1f8f4c1d7a10"}
ADDED: dict[int | str, dict[str, Any]] = {201: {"content": {"application/json": {"example": EXAMPLE}}}}
GIVEN: dict[int | str, dict[str, Any]] = {200: {"content": {photos.MEDIA_TYPE: {}}}}


class ShownForm(Sent):
    """Whether the customer sees a photo."""

    shown: Annotated[Tick, Field(examples=[True])]


@router.post("/sacks/{receipt_id}/photos", status_code=201, responses=ADDED, openapi_extra=PICTURE)
def add_to_sack(caller: ApiCaller, picture: BodyPicture, receipt_id: UUID) -> dict[str, Any]:
    """Save a photo of a sack, turned upright, made smaller, without the camera's notes."""
    return {"id": photo_files.take_in(caller, of="sack", thing_id=receipt_id, content=picture)}


@router.post("/blocks/{block_id}/photos", status_code=201, responses=ADDED, openapi_extra=PICTURE)
def add_to_block(caller: ApiCaller, picture: BodyPicture, block_id: UUID) -> dict[str, Any]:
    """Save a photo of a block, turned upright, made smaller, without the camera's notes."""
    return {"id": photo_files.take_in(caller, of="block", thing_id=block_id, content=picture)}


@router.post("/jobs/{job_id}/photos", status_code=201, responses=ADDED, openapi_extra=PICTURE)
def add_to_job(caller: ApiCaller, picture: BodyPicture, job_id: UUID) -> dict[str, Any]:
    """Save a photo of a job, turned upright, made smaller, without the camera's notes."""
    return {"id": photo_files.take_in(caller, of="job", thing_id=job_id, content=picture)}


@router.get("/sacks/{receipt_id}/photos")
def show_sack(caller: ApiCaller, receipt_id: UUID) -> tuple[PhotoView, ...]:
    """List the photos of a sack, newest first."""
    return photos.album(caller, of="sack", thing_id=receipt_id).photos


@router.get("/blocks/{block_id}/photos")
def show_block(caller: ApiCaller, block_id: UUID) -> tuple[PhotoView, ...]:
    """List the photos of a block, newest first."""
    return photos.album(caller, of="block", thing_id=block_id).photos


@router.get("/jobs/{job_id}/photos")
def show_job(caller: ApiCaller, job_id: UUID, page_number: PageNumber = 1) -> PhotoPage:
    """List a page of the photos of a job, its sacks and blocks. Customers get those shown to them."""
    return photos.of_job(caller, job_id=job_id, page=page_number)


@router.get("/photos/{photo_id}", response_class=Response, responses=GIVEN)
def show(request: Request, caller: ApiCaller, photo_id: UUID, small: bool = False) -> Response:
    """Give the picture itself, whole or small."""
    return picture_answer(request, caller, photo_id=photo_id, small=small)


@router.post("/photos/{photo_id}/shown", status_code=201)
def show_to_customer(caller: ApiCaller, photo_id: UUID, sent: ShownForm) -> dict[str, Any]:
    """Show a photo to the customer, or hide it."""
    return {"id": photos.show(caller, photo_id=photo_id, shown=sent.shown).id, "shown": sent.shown}


@router.post("/photos/{photo_id}/remove", status_code=201)
def remove(caller: ApiCaller, photo_id: UUID) -> dict[str, Any]:
    """Remove a photo; its file stays in the archive."""
    return {"id": photos.remove(caller, photo_id=photo_id).id}
