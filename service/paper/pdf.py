"""A finished page as PDF: tagged, readable by a screen reader, the same bytes for the same page."""

import gc
import logging
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from weasyprint import Document

# It tells of every property that is meant for a screen; only what it could not do at all is news.
logging.getLogger("weasyprint").setLevel(logging.ERROR)


def pdf(page: str) -> bytes:
    """Return a self-contained HTML page as PDF/UA-1; nothing outside the page itself is fetched."""
    # A second to import, and needed only where a paper leaves the shop.
    from weasyprint import HTML
    from weasyprint.urls import URLFetcher

    sealed = URLFetcher(allowed_protocols=["data"], allow_redirects=False)
    with _without_collection():
        written: bytes = HTML(string=page, url_fetcher=sealed).write_pdf(
            pdf_variant="pdf/ua-1", finisher=_readable_metadata
        )
    return written


@contextmanager
def _without_collection() -> Iterator[None]:
    """Make many small objects without looking for dead ones meanwhile: a seventh of the time of a paper."""
    gc.disable()
    try:
        yield
    finally:
        gc.enable()


def _readable_metadata(document: "Document", written: Any) -> None:
    """Leave the metadata uncompressed, as archives ask for it."""
    for part in written.objects:
        extra = getattr(part, "extra", None)
        if extra and extra.get("Type") == "/Metadata":
            part.compress = False
