"""Pictures that come in: judged by what they hold, turned upright, shrunk, and written anew with no word beside them.

Nothing of the file that was sent is kept: neither its name, nor its declared type, nor what a camera wrote into it,
such as where it stood. Colours are taken as they are written; a picture is no measurement of a colour.
"""

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from threading import BoundedSemaphore
from uuid import UUID

from PIL import ExifTags, Image, ImageFile
from PIL.JpegImagePlugin import JpegImageFile
from PIL.PngImagePlugin import PngImageFile
from PIL.WebPImagePlugin import WebPImageFile

from service.desk import photos
from service.desk.doorway import Caller
from service.desk.photos import Of
from service.errors import Invalid, NotFound, Refusal, Unavailable
from service.paper.storing import storing

FIELD = "photo"
MOST_PICTURE_BYTES = 10 * 1024 * 1024
MOST_SIDE = 2000
SMALL_SIDE = 360
# A JPEG is decoded at a fraction of its size, the others are decoded whole.
MOST_PIXELS = {"JPEG": 64_000_000, "PNG": 25_000_000, "WEBP": 25_000_000}
# A progressive JPEG has about ten scans; each is a walk over all of the picture.
MOST_SCANS = 60
WAITS_AT_MOST_S = 15.0

TURNS = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}

NO_PICTURE = "This could not be read as a picture. Send a JPEG, PNG or WebP file."
TOO_BIG = f"At most {MOST_PICTURE_BYTES // 1024 // 1024} MB. Set the camera to a smaller size."
TOO_WIDE = "This picture is too large. Set the camera to a smaller size."

# Two cores' worth at once; whoever comes third waits.
_at_once = BoundedSemaphore(2)
# What the library only warns of is refused. Its WebP reader refuses twice this number before it takes any memory.
warnings.filterwarnings("error", module=r"PIL\.")
Image.MAX_IMAGE_PIXELS = MOST_PIXELS["WEBP"] // 2


def take_in(caller: Caller, *, of: Of, thing_id: UUID, content: bytes) -> UUID:
    """Keep a picture that was sent as a photo of a sack, a block or a job, and return it."""
    photos.place(caller, of=of, thing_id=thing_id)
    picture = cleaned(content)
    with storing(caller, picture) as (sha256,):
        return photos.add(caller, of=of, thing_id=thing_id, sha256=sha256, size=len(picture)).id


def give_out(caller: Caller, *, photo_id: UUID, small: bool) -> bytes:
    """Return a photo to whoever may see it, whole or small."""
    content = photos.content(caller, photo_id=photo_id)
    return smaller(content) if small else content


def cleaned(content: bytes) -> bytes:
    """Return the picture in a file that somebody sent, as an upright JPEG of our own making."""
    if not content:
        raise Invalid("No picture was sent.", {FIELD: "Take or choose a picture first."})
    if len(content) > MOST_PICTURE_BYTES:
        raise _refused(TOO_BIG)
    with _working(_refused(NO_PICTURE)):
        picture = _opened(content)
        _check(picture, content)
        _decode_at_most(picture, MOST_SIDE)
        turn = TURNS.get(picture.getexif().get(ExifTags.Base.Orientation, 1))
        plain = _plain(picture)
        plain.thumbnail((MOST_SIDE, MOST_SIDE))
        return _written(plain if turn is None else plain.transpose(turn), quality=85)


def smaller(content: bytes) -> bytes:
    """Return a stored picture small enough for a row of them."""
    with _working(NotFound("This photo can no longer be read.")):
        picture = JpegImageFile(BytesIO(content))
        _decode_at_most(picture, SMALL_SIDE)
        picture.thumbnail((SMALL_SIDE, SMALL_SIDE))
        return _written(picture, quality=80)


def _refused(sentence: str) -> Invalid:
    return Invalid("This picture was not taken.", {FIELD: sentence})


@contextmanager
def _working(otherwise: Refusal) -> Iterator[None]:
    if not _at_once.acquire(timeout=WAITS_AT_MOST_S):
        raise Unavailable("The service is busy with other pictures. Send this one again in a moment.")
    try:
        yield
    except Refusal:
        raise
    except Exception as error:
        # A reader of files that anybody made fails in every way there is; none of them is a fault of ours.
        raise otherwise from error
    finally:
        _at_once.release()


def _opened(content: bytes) -> ImageFile.ImageFile:
    # What draws the papers lets half a picture pass, for the whole process and from the moment it is loaded.
    ImageFile.LOAD_TRUNCATED_IMAGES = False
    # Each reader by itself: what begins as one kind is never tried as another.
    if content.startswith(b"\xff\xd8\xff"):
        return JpegImageFile(BytesIO(content))
    if content.startswith(b"\x89PNG\r\n\x1a\n"):
        return PngImageFile(BytesIO(content))
    if content.startswith(b"RIFF") and content[8:12] == b"WEBP":
        try:
            return WebPImageFile(BytesIO(content))
        except Image.DecompressionBombError as error:
            raise _refused(TOO_WIDE) from error
    raise _refused(NO_PICTURE)


def _check(picture: ImageFile.ImageFile, content: bytes) -> None:
    """Refuse by the head of the file, before a single point of it is decoded."""
    width, height = picture.size
    if width * height > MOST_PIXELS[str(picture.format)]:
        raise _refused(TOO_WIDE)
    if getattr(picture, "is_animated", False):
        raise _refused("This picture moves. Take a still one.")
    if picture.format == "JPEG" and content.count(b"\xff\xda") > MOST_SCANS:
        raise _refused(NO_PICTURE)


def _decode_at_most(picture: ImageFile.ImageFile, side: int) -> None:
    """Let a JPEG be decoded at a fraction of its size, but no smaller than it is to be in the end."""
    width, height = picture.size
    longest = max(width, height, side)
    picture.draft("RGB", (max(1, width * side // longest), max(1, height * side // longest)))


def _plain(picture: Image.Image) -> Image.Image:
    """Return a picture in three colours, on white where it can be seen through."""
    if picture.mode.startswith("I"):
        # Sixteen bits: converting would cut off what is brighter than the lowest eight.
        return picture.point(lambda level: level / 256).convert("L").convert("RGB")
    if not picture.has_transparency_data:
        return picture.convert("RGB")
    seen = picture.convert("RGBA")
    ground = Image.new("RGB", seen.size, "white")
    ground.paste(seen, mask=seen.getchannel("A"))
    return ground


def _written(picture: Image.Image, *, quality: int) -> bytes:
    # Onto a sheet of our own: a picture carries its words along, even through turning and shrinking.
    sheet = Image.new("RGB", picture.size, "white")
    sheet.paste(picture)
    out = BytesIO()
    sheet.save(out, "JPEG", quality=quality)
    return out.getvalue()
