"""What stands on an old paper before everything else: that a later one counts, or that it was withdrawn and why.

The stored paper is never touched; the notice is put into the copy that is handed out, on every page of its PDF.
"""

from collections.abc import Sequence
from functools import lru_cache

from markupsafe import escape

from service.paper.pdf import pdf
from service.words.sentences import page_words

_HEAD, _MAIN = "</head>", '<main class="page">'
_STYLE = (
    "<style>.notice { margin: 0 0 1rem; padding: 0.6rem 0.9rem; border: 3px solid #a02c1c; font-weight: 700; } "
    ".notice-line { display: none; } "
    "@media print { .notice-line { display: block; position: running(notice); color: #a02c1c; font-size: 8pt; } } "
    "@page { @top-center { content: element(notice); } }</style>"
)

_WAYS = (
    "<style>.ways { margin: 0 0 1rem; } .ways a { display: inline-block; padding: 0.6rem 0.4rem; } "
    "@media print { .ways { display: none; } }</style>"
)

AMENDED = "Result no. {number} has taken the place of this one. Do not rely on this one."
WITHDRAWN = "This result was withdrawn on {day}: {because} Do not rely on it."
WITHDREW = "Result no. {number} of job {job} was withdrawn"
NO_LINK = "This link no longer works"
ASK_FOR_IT = "Ask {shop} for it."
# Said to a reader of the language that comes first.
OTHER_LANGUAGE = {
    "es": "This paper is in English. Ask {shop} for it in Spanish.",
    "en": "This paper is in Spanish. Ask {shop} for it in English.",
}
LINK_ENDED = "This link ended on {day}. Ask {shop} for a new one."
LINK_WITHDRAWN = "The result was withdrawn on {day}: {because} Do not rely on it. Ask {shop} for a new one."
CALL = "Questions? Call {whom}."
REPLACED = (
    "The calibration of gauge {gauge} of {old} was replaced by that of {new}: {because} "
    "The customer sees this result without this notice."
)


def with_call(notice: str, whom: str, *, language: str) -> str:
    """Return a notice with whom to call, where the shop says so."""
    return f"{notice} {said(CALL, language=language, whom=whom)}" if notice and whom else notice


def noticed(page: bytes, notice: str, *, link: tuple[str, str] | None = None) -> str:
    """Return a stored page with a notice at its top, and a line that its PDF repeats on every page."""
    text = str(escape(notice))
    way = f'<p><a href="{escape(link[1])}">{escape(link[0])}</a></p>' if link else ""
    told = f'<div class="notice-line">{text}</div><div class="notice" role="note"><p>{text}</p>{way}</div>'
    return page.decode().replace(_HEAD, f"{_STYLE}{_HEAD}", 1).replace(_MAIN, f"{_MAIN}{told}", 1)


def with_ways(page: str, ways: Sequence[tuple[str, str]], *, language: str, told: str = "") -> str:
    """Return a page to look at on a screen, with where to go from it and a word at its top; no print carries that."""
    links = " · ".join(f'<a href="{escape(path)}">{escape(words)}</a>' for words, path in ways)
    word = f"<p>{escape(told)}</p>" if told else ""
    bar = f'<nav class="ways" lang="{language}" aria-label="PDF">{links}{word}</nav>'
    return page.replace(_HEAD, f"{_WAYS}{_HEAD}", 1).replace(_MAIN, f"{_MAIN}{bar}", 1)


@lru_cache(maxsize=32)
def noticed_pdf(page: bytes, notice: str) -> bytes:
    """Return the PDF of a stored page with its notice; the stored PDF stays what it is."""
    return pdf(noticed(page, notice))


def said(english: str, *, language: str, **values: str | int) -> str:
    """Return a notice in the language of its paper."""
    return page_words(language).get(english, english).format(**values)
