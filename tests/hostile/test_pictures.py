"""Pictures with bytes changed, cut out and put in by hypothesis: taken as a clean picture, or refused at the field."""

from hypothesis import given, settings
from hypothesis import strategies as st

from service.errors import Invalid
from service.paper.photo_files import cleaned, smaller
from tests.hostile.shop import cases
from tests.hostile.test_drawn import HOW
from tests.pixels import GOOD, from_a_camera

FILES = (*GOOD.values(), from_a_camera(6))
places = st.integers(0, max(map(len, FILES)))
changes = st.lists(st.tuples(places, st.integers(0, 3), st.binary(max_size=6)), min_size=1, max_size=6)


def changed(file: bytes, made: list[tuple[int, int, bytes]]) -> bytes:
    """Return a file with some of its bytes in other places or gone."""
    for place, gone, put in made:
        at = place % (len(file) + 1)
        file = file[:at] + put + file[at + gone :]
    return file


def test_a_spoiled_picture_is_taken_clean_or_refused_and_breaks_nothing() -> None:
    met = {"taken": 0, "refused": 0}

    @settings(max_examples=cases(300, 10_000), **HOW)
    @given(st.sampled_from(FILES), changes)
    def send(file: bytes, made: list[tuple[int, int, bytes]]) -> None:
        try:
            out = cleaned(changed(file, made))
        except Invalid as refused:
            met["refused"] += 1
            assert list(refused.fields) == ["photo"]
        else:
            met["taken"] += 1
            assert out.startswith(b"\xff\xd8\xff\xe0") and b"Invented" not in out
            assert smaller(out).startswith(b"\xff\xd8\xff\xe0")

    send()
    # Else only one of the two was tried.
    assert min(met.values()) > 20
