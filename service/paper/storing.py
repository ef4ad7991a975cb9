"""A content is stored before the row that names it; one that no row names in the end is not kept."""

from collections.abc import Iterator
from contextlib import contextmanager, suppress

from service.desk import photos
from service.desk.doorway import Caller
from service.errors import Refusal


@contextmanager
def storing(caller: Caller, *contents: bytes) -> Iterator[list[str]]:
    """Store contents and give their digests to what names them; if that is refused they are thrown away again."""
    store = caller.stores.files
    kept = [store.put(content) for content in contents]
    try:
        yield kept
    except Refusal:
        with suppress(Refusal):
            for sha256 in photos.unnamed(caller, sha256s=kept):
                store.forget(sha256)
        raise
    # Somebody else was refused the very same content meanwhile, and threw it away.
    for content, sha256 in zip(contents, kept, strict=True):
        if not store.holds(sha256):
            store.put(content)
