"""A finished page as PDF: tagged, readable by a screen reader, fit for an archive, the same bytes for the same page."""

import gc
import logging
import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from weasyprint import Document

# It tells of every property that is meant for a screen; only what it could not do at all is news.
logging.getLogger("weasyprint").setLevel(logging.ERROR)

# PDF/A-3 wants every property that is not of its own list described; that of PDF/UA-1 is none of them
# (ISO 19005-3, 6.6.2.3; ISO 14289-1, 5).
_ALSO_UA = b"""<rdf:Description rdf:about="" xmlns:pdfuaid="http://www.aiim.org/pdfua/ns/id/" pdfuaid:part="1"/>
<rdf:Description rdf:about="" xmlns:pdfaExtension="http://www.aiim.org/pdfa/ns/extension/"
 xmlns:pdfaSchema="http://www.aiim.org/pdfa/ns/schema#" xmlns:pdfaProperty="http://www.aiim.org/pdfa/ns/property#">
<pdfaExtension:schemas><rdf:Bag><rdf:li rdf:parseType="Resource">
<pdfaSchema:schema>PDF/UA Universal Accessibility Schema</pdfaSchema:schema>
<pdfaSchema:namespaceURI>http://www.aiim.org/pdfua/ns/id/</pdfaSchema:namespaceURI>
<pdfaSchema:prefix>pdfuaid</pdfaSchema:prefix>
<pdfaSchema:property><rdf:Seq><rdf:li rdf:parseType="Resource">
<pdfaProperty:name>part</pdfaProperty:name><pdfaProperty:valueType>Integer</pdfaProperty:valueType>
<pdfaProperty:category>internal</pdfaProperty:category>
<pdfaProperty:description>Part of ISO 14289 that the file follows</pdfaProperty:description>
</rdf:li></rdf:Seq></pdfaSchema:property>
</rdf:li></rdf:Bag></pdfaExtension:schemas>
</rdf:Description>
</rdf:RDF>"""

# A reference on paper names the page it leads to. Where each stood in the paper before is the first guess for the next:
# laying a paper out is most of its cost, and a library that looks the pages up itself always does it twice.
_SEE = re.compile(r'(?<=<a class="see") href="#([^"]+)"')
_STOOD: dict[str, int] = {"not-known": 3}
_ANNEX = 4
# What a narrow screen reads of each cell. On paper it changes nothing and takes time.
_ON_A_PHONE = re.compile(r' data-head="[^"]*"')
_MOST_LAYOUTS = 4


@dataclass(frozen=True)
class Enclosed:
    """A file that travels inside a PDF; its day is written into it, so that the same file gives the same bytes."""

    name: str
    content: bytes
    said: str
    made_at: datetime


def pdf(page: str, enclosed: Sequence[Enclosed] = ()) -> bytes:
    """Return a self-contained HTML page as PDF/A-3a and PDF/UA-1; nothing outside the page itself is fetched."""
    # A second to import, and needed only where a paper leaves the shop.
    from weasyprint import HTML, Attachment
    from weasyprint.urls import URLFetcher

    sealed = URLFetcher(allowed_protocols=["data"], allow_redirects=False)
    variant = {
        "pdf_variant": "pdf/a-3a",
        "attachments": [
            Attachment(string=one.content, name=one.name, description=one.said, relationship="Data",
                       created=one.made_at, modified=one.made_at)
            for one in enclosed
        ],
    }  # fmt: skip
    with _without_collection():
        on_paper = _ON_A_PHONE.sub("", page)
        document = _laid_out(on_paper, lambda told: HTML(string=told, url_fetcher=sealed).render(**variant))
        written: bytes = document.write_pdf(finisher=_finished, **variant)
    return written


def _laid_out(page: str, render: "Callable[[str], Document]") -> "Document":
    """Return a page laid out with each reference telling the page it leads to."""
    pages = {anchor: _STOOD.get(anchor, _ANNEX) for anchor in _SEE.findall(page)}
    for _ in range(_MOST_LAYOUTS):
        document = render(_told(page, pages))
        found = {anchor: number for number, one in enumerate(document.pages, 1) for anchor in one.anchors}
        guessed, pages = pages, {anchor: found.get(anchor, 1) for anchor in pages}
        if pages == guessed:
            break
    _STOOD.update(pages)
    return document


def _told(page: str, pages: dict[str, int]) -> str:
    return _SEE.sub(lambda see: f'{see[0]} data-page="{pages[see[1]]}"', page)


@contextmanager
def _without_collection() -> Iterator[None]:
    """Make many small objects without looking for dead ones meanwhile: a seventh of the time of a paper."""
    gc.disable()
    try:
        yield
    finally:
        gc.enable()


def _finished(document: "Document", written: Any) -> None:
    """Say what the library leaves out: in which language a cell is, and that the file follows PDF/UA-1 as well."""
    for page in document.pages:
        for box in page._page_box.descendants():
            # The library keeps what it wrote of each cell, to join it to its heads.
            mark = getattr(box, "mark", None)
            if mark is not None and (language := box.element.get("lang")):
                mark["Lang"] = f"({language})"
    for part in written.objects:
        extra = getattr(part, "extra", None)
        if extra and extra.get("Type") == "/Metadata":
            part.compress = False
            part.stream = [piece.replace(b"</rdf:RDF>", _ALSO_UA) for piece in part.stream]
