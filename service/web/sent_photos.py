"""Pictures over HTTP: how one comes in with a form or a body, and how it goes out."""

from typing import Annotated
from uuid import UUID

from fastapi import Depends, Request
from fastapi.responses import Response
from starlette.datastructures import FormData

from service.desk import photos
from service.desk.doorway import Caller
from service.errors import Invalid
from service.paper import photo_files
from service.paper.photo_files import FIELD, MOST_PICTURE_BYTES


def sent_picture(form: FormData) -> bytes:
    """Return what came in the field of the picture, if anything; its name and declared type are not looked at."""
    sent = [one for one in form.getlist(FIELD) if not isinstance(one, str)]
    if len(sent) > 1:
        raise Invalid("These are several pictures.", {FIELD: "One picture at a time."})
    return sent[0].file.read(MOST_PICTURE_BYTES + 1) if sent else b""


async def _body(request: Request) -> bytes:
    return await request.body()


BodyPicture = Annotated[bytes, Depends(_body)]


def picture_answer(request: Request, caller: Caller, *, photo_id: UUID, small: bool) -> Response:
    """Return a photo to whoever may see it; what a browser has already is not sent again."""
    photos.find(caller, photo_id=photo_id)
    # A photo never changes, so its id says which one it is. Whether it may be seen can change: the browser keeps
    # it for this person, and asks each time.
    tag = f'"{photo_id}{"-small" if small else ""}"'
    headers = {
        "Cache-Control": "private, no-cache",
        "ETag": tag,
        "Content-Disposition": f'inline; filename="photo-{photo_id.hex[:8]}.jpg"',
        "Cross-Origin-Resource-Policy": "same-origin",
        "X-Robots-Tag": "noindex, nofollow",
    }
    if request.headers.get("if-none-match") == tag:
        return Response(status_code=304, headers=headers)
    content = photo_files.give_out(caller, photo_id=photo_id, small=small)
    return Response(content, media_type=photos.MEDIA_TYPE, headers=headers)
