"""What a picture becomes on its way in: upright, shrunk, with no word beside it; and what is no picture at all."""

import tracemalloc
from io import BytesIO

import pytest
from PIL import Image

from service.errors import Invalid, NotFound, Unavailable
from service.paper import photo_files
from service.paper.pdf import pdf
from service.paper.photo_files import MOST_PICTURE_BYTES, cleaned, smaller
from tests import pixels
from tests.pixels import BLUE, GOOD, GREEN, GREY, RED, from_a_camera, jpeg, quartered, written


def opened(content: bytes) -> Image.Image:
    return Image.open(BytesIO(content))


def corners(content: bytes) -> list[str]:
    """Return the name of the colour in each quarter, as one reads."""
    picture, names = opened(content).convert("RGB"), {"red": RED, "green": GREEN, "blue": BLUE, "grey": GREY}
    found = []
    for down in (1, 3):
        for across in (1, 3):
            point = picture.getpixel((picture.width * across // 4, picture.height * down // 4))
            assert isinstance(point, tuple)
            away = {name: sum(abs(a - b) for a, b in zip(point, names[name], strict=True)) for name in names}
            found.append(min(away, key=lambda name: away[name]))
            assert away[found[-1]] < 40
    return found


AS_TAKEN = ["red", "green", "blue", "grey"]

# The eight ways of Exif's tag 0x0112 (CIPA DC-008, table "Orientation"; from memory): where the first row and the first
# column of the file belong in the picture. Worked out by hand for a picture of four quarters.
TURNED = {
    1: ["red", "green", "blue", "grey"],
    2: ["green", "red", "grey", "blue"],
    3: ["grey", "blue", "green", "red"],
    4: ["blue", "grey", "red", "green"],
    5: ["red", "blue", "green", "grey"],
    6: ["blue", "red", "grey", "green"],
    7: ["grey", "green", "blue", "red"],
    8: ["green", "grey", "red", "blue"],
}


@pytest.mark.parametrize("orientation", TURNED)
def test_a_picture_is_turned_as_its_camera_was_held(orientation: int) -> None:
    out = cleaned(from_a_camera(orientation))
    assert corners(out) == TURNED[orientation]
    assert opened(out).size == ((80, 60) if orientation < 5 else (60, 80))


def segments(content: bytes) -> list[int]:
    """Return the markers of a JPEG up to its points."""
    at, found = 2, []
    while content[at + 1] != 0xDA:
        found.append(content[at + 1])
        at += 2 + int.from_bytes(content[at + 2 : at + 4], "big")
    return found


def test_nothing_that_a_camera_wrote_is_kept() -> None:
    sent = from_a_camera(6)
    assert {0xE1, 0xE2, 0xFE} <= set(segments(sent)) and Image.open(BytesIO(sent)).getexif().get_ifd(0x8825)
    for out in (cleaned(sent), smaller(cleaned(sent))):
        # JFIF's head, tables of quanta and codes, the frame: no Exif, no profile, no comment.
        assert set(segments(out)) <= {0xE0, 0xDB, 0xC0, 0xC4}
        assert not opened(out).getexif() and b"Valley" not in out and b"Invented" not in out
        assert set(opened(out).info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_where_it_stood_is_not_kept_of_other_kinds_either(kind: str) -> None:
    exif = Image.open(BytesIO(from_a_camera(3))).getexif()
    out = cleaned(written(quartered(), kind, exif=exif, quality=95))
    assert corners(out) == TURNED[3] and set(segments(out)) <= {0xE0, 0xDB, 0xC0, 0xC4}


@pytest.mark.parametrize("name", GOOD)
def test_every_kind_that_a_camera_writes_becomes_a_jpeg_of_three_colours(name: str) -> None:
    out = cleaned(GOOD[name])
    picture = opened(out)
    assert (picture.format, picture.mode, picture.size) == ("JPEG", "RGB", (80, 60))
    assert corners(out) == AS_TAKEN


def test_what_can_be_seen_through_stands_on_white() -> None:
    see_through = Image.new("P", (40, 40), 1)
    see_through.putpalette([200, 30, 30, 0, 0, 0])
    see_through.paste(0, (20, 0, 40, 40))
    picture = opened(cleaned(written(see_through, "PNG", transparency=1)))
    left, right = picture.getpixel((8, 20)), picture.getpixel((32, 20))
    assert isinstance(left, tuple) and isinstance(right, tuple)
    assert min(left) > 245 and right[0] > 180 and max(right[1:]) < 60


def test_sixteen_bits_keep_their_light_and_shade() -> None:
    # A quarter, a half and three quarters of 65,535 are 64, 128 and 191 of 255.
    row = b"".join(level.to_bytes(2, "little") * 30 for level in (16_384, 32_768, 49_151))
    grey = Image.frombytes("I;16", (90, 30), row * 30)
    picture = opened(cleaned(written(grey, "PNG"))).convert("L")
    levels = [picture.getpixel((place * 30 + 15, 15)) for place in range(3)]
    assert levels == pytest.approx([64, 128, 191], abs=2)


@pytest.mark.parametrize(
    ("size", "becomes"),
    [((4000, 3000), (2000, 1500)), ((1500, 6000), (500, 2000)), ((2001, 10), (2000, 10)), ((300, 200), (300, 200))],
)
def test_a_large_picture_is_shrunk_and_a_small_one_left(size: tuple[int, int], becomes: tuple[int, int]) -> None:
    for kind in ("JPEG", "PNG"):
        assert opened(cleaned(written(Image.new("RGB", size, "brown"), kind))).size == becomes
    assert max(opened(smaller(cleaned(jpeg()))).size) <= photo_files.SMALL_SIDE


def test_the_same_file_makes_the_same_picture() -> None:
    assert cleaned(from_a_camera(6)) == cleaned(from_a_camera(6))


@pytest.mark.parametrize("name", pixels.NO_PICTURES)
def test_what_is_no_picture_is_refused_at_its_field(name: str) -> None:
    with pytest.raises(Invalid) as refused:
        cleaned(pixels.NO_PICTURES[name])
    assert list(refused.value.fields) == ["photo"]


def test_half_a_picture_is_refused_after_a_paper_was_drawn_too() -> None:
    # Loading what draws papers tells the library of pictures to let half ones pass.
    pdf("<p>A paper.</p>")
    with pytest.raises(Invalid):
        cleaned(pixels.NO_PICTURES["a JPEG cut short"])


def test_a_text_beside_a_picture_is_not_unpacked() -> None:
    tracemalloc.start()
    with pytest.raises(Invalid):
        cleaned(pixels.NO_PICTURES["a PNG with a text that unpacks to 50 MB"])
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert most < 8_000_000


@pytest.mark.parametrize("name", [name for name in pixels.NO_PICTURES if " by " in name])
def test_a_picture_of_too_many_points_is_refused_by_its_head(name: str) -> None:
    with pytest.raises(Invalid) as refused:
        cleaned(pixels.NO_PICTURES[name])
    assert "too large" in refused.value.fields["photo"]


def test_what_hangs_on_behind_a_picture_is_cut_off() -> None:
    out = cleaned(jpeg() + pixels.PAGE)
    assert b"script" not in out and corners(out) == AS_TAKEN


def test_a_page_in_the_words_of_a_picture_is_left_behind() -> None:
    assert b"script" not in cleaned(jpeg(comment=pixels.PAGE))


def test_nothing_and_too_much_are_told_apart() -> None:
    with pytest.raises(Invalid) as refused:
        cleaned(b"")
    assert refused.value.fields == {"photo": "Take or choose a picture first."}
    with pytest.raises(Invalid) as refused:
        cleaned(jpeg() + b"\0" * MOST_PICTURE_BYTES)
    assert "At most 10 MB" in refused.value.fields["photo"]


def test_a_stored_picture_that_is_none_any_more_is_told() -> None:
    with pytest.raises(NotFound, match="no longer be read"):
        smaller(b"\xff\xd8 not a picture")


def test_no_more_than_two_pictures_are_worked_on_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(photo_files, "WAITS_AT_MOST_S", 0.01)
    with photo_files._working(NotFound("")), photo_files._working(NotFound("")), pytest.raises(Unavailable):
        cleaned(jpeg())
    assert corners(cleaned(jpeg())) == AS_TAKEN
