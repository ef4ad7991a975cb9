"""Pictures that tests send: good ones of every kind, and files that only say they are pictures."""

import struct
import zlib
from io import BytesIO
from typing import Any

from PIL import Image

# Where a camera says it stood: 40° 7' 9" N. It must not leave the shop.
LATITUDE = (40.0, 7.0, 9.0)
RED, GREEN, BLUE, GREY = (200, 30, 30), (30, 160, 60), (40, 60, 190), (128, 128, 128)


def quartered(width: int = 80, height: int = 60) -> Image.Image:
    """Return a picture whose corners tell which way it is turned: red, green, blue and grey, as one reads."""
    picture = Image.new("RGB", (width, height))
    for place, colour in enumerate((RED, GREEN, BLUE, GREY)):
        picture.paste(colour, (place % 2 * width // 2, place // 2 * height // 2, width, height))
    return picture


def written(picture: Image.Image, kind: str = "JPEG", **more: Any) -> bytes:
    """Return a picture as a file."""
    out = BytesIO()
    picture.save(out, kind, **more)
    return out.getvalue()


def jpeg(**more: Any) -> bytes:
    """Return a good JPEG."""
    return written(quartered(), quality=95, **more)


def from_a_camera(orientation: int = 1) -> bytes:
    """Return a JPEG with what a camera writes beside it: where, with what, a comment, a profile."""
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010F] = "Invented camera"
    exif.get_ifd(0x8825)[1] = "N"
    exif.get_ifd(0x8825)[2] = LATITUDE
    return jpeg(exif=exif, comment=b"Valley Lane", icc_profile=b"a profile", xmp=b"<x:xmpmeta/>")


def chunk(kind: bytes, data: bytes) -> bytes:
    """Return one chunk of a PNG file."""
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png_of(width: int, height: int, *chunks: bytes, depth: int = 8, colours: int = 2) -> bytes:
    """Return a PNG file whose head says so many points, and no points."""
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, depth, colours, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + b"".join(chunks) + chunk(b"IDAT", zlib.compress(b"")) + chunk(b"IEND", b"")


def webp_of(width: int, height: int) -> bytes:
    """Return a WebP file whose head says so many points, and no points."""
    head = b"\0\0\0\0" + (width - 1).to_bytes(3, "little") + (height - 1).to_bytes(3, "little")
    body = b"WEBPVP8X" + struct.pack("<I", len(head)) + head
    return b"RIFF" + struct.pack("<I", len(body)) + body


def jpeg_of(width: int, height: int) -> bytes:
    """Return a small JPEG whose head says so many points."""
    whole = bytearray(jpeg())
    at = whole.index(b"\xff\xc0") + 5
    whole[at : at + 4] = struct.pack(">HH", height, width)
    return bytes(whole)


def of_many_scans(times: int) -> bytes:
    """Return a progressive JPEG whose last scan comes over and over."""
    whole = jpeg(progressive=True)
    last, end = whole.rindex(b"\xff\xda"), whole.rindex(b"\xff\xd9")
    return whole[:last] + whole[last:end] * times + whole[end:]


TEXT_BOMB = chunk(b"zTXt", b"Comment\0\0" + zlib.compress(b"x" * 50_000_000))
PAGE = b"<!DOCTYPE html><html><script>alert(1)</script></html>"

GOOD = {
    "JPEG": jpeg(),
    "a progressive JPEG": jpeg(progressive=True),
    "a JPEG for print, in four inks": written(quartered().convert("CMYK"), quality=95),
    "PNG": written(quartered(), "PNG"),
    "a PNG of a palette": written(quartered().quantize(8), "PNG"),
    "a PNG that can be seen through": written(quartered().convert("RGBA"), "PNG"),
    "WebP": written(quartered(), "WEBP", quality=95),
    "a WebP without loss": written(quartered().convert("RGBA"), "WEBP", lossless=True),
}

NO_PICTURES: dict[str, bytes] = {
    "a PNG of 60,000 by 60,000": png_of(60_000, 60_000),
    "a PNG of one bit by 60,000 by 60,000": png_of(60_000, 60_000, depth=1, colours=0),
    "a JPEG of 65,000 by 65,000": jpeg_of(65_000, 65_000),
    "a WebP of 16,383 by 16,383": webp_of(16_383, 16_383),
    "a PNG with a text that unpacks to 50 MB": png_of(2, 2, TEXT_BOMB),
    "a PNG without a point": png_of(2, 2),
    "a PNG of nothing": png_of(0, 0),
    "a JPEG of a thousand scans": of_many_scans(1_000),
    "a JPEG cut short": jpeg()[:-300],
    "a JPEG of three bytes": b"\xff\xd8\xff",
    "a PNG's first bytes": b"\x89PNG\r\n\x1a\n" + b"\0" * 64,
    "a WebP's first bytes": b"RIFF\xff\xff\xff\xffWEBP" + b"\0" * 64,
    "a page": PAGE,
    "a page behind a picture's first bytes": b"\xff\xd8\xff" + PAGE,
    "a drawing": b'<svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)"/>',
    "a GIF": written(quartered(), "GIF"),
    "a TIFF": written(quartered(), "TIFF"),
    "a bitmap": written(quartered(), "BMP"),
    "a PDF": written(quartered(), "PDF"),
    "a moving PNG": written(quartered(), "PNG", save_all=True, append_images=[Image.new("RGB", (80, 60))]),
    "a moving WebP": written(quartered(), "WEBP", save_all=True, append_images=[Image.new("RGB", (80, 60))]),
    "an archive": b"PK\x03\x04" + b"\0" * 64,
    "zeros": b"\0" * 5_000,
}
