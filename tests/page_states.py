"""A list of all pages in all their states, made from links, routes and forms.

A state is told by what it is made of: each element with its place, classes, role, what it says to a screen reader and
whether it has a name. A page joins the list when something in it was on no page before: what is late, ended, refused,
empty or closed. So every piece of every template is in the list once, and hardly anything is there twice.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from secrets import token_hex

from fastapi import FastAPI
from fastapi.testclient import TestClient
from starlette.routing import Route

from tests.demo_pages import kind_of, walk

ALONE = frozenset({"area", "br", "col", "hr", "img", "input", "wbr"})
# Scripts, styles and the lines of a drawing say nothing to anybody.
UNREAD = frozenset({"script", "link", "meta", "path", "line", "rect", "circle", "polyline", "polygon", "g", "tspan"})
TOLD = frozenset({"alt", "checked", "disabled", "for", "hidden", "href", "lang", "open", "readonly", "required",
                  "role", "scope", "title", "type"})  # fmt: skip
FORM = re.compile(r'<form[^>]*method="post"[^>]*action="(/[^"]+)"[^>]*>(.*?)</form>', re.DOTALL)
FIELD = re.compile(r'<(?:input|textarea)[^>]*\bname="([^"]+)"')
SECRET = re.compile(r'type="(?:hidden|radio|checkbox|file)"')
# What answers with a file, leads elsewhere, or is for a program.
NO_PAGES = ("/api/", "/static/", "/vendor/", "/metrics", "/healthy", "/ready", "/service-worker.js", "/live")
NOT_SENT = re.compile(r"/(sign-out|archive|end|undo|reset)\b")
OF_THE_SITE = {"sec-fetch-site": "same-origin"}


class Made(HTMLParser):
    """What a page is made of, and the order of its headings."""

    def __init__(self, text: str) -> None:
        """Read the whole text."""
        super().__init__()
        self.parts, self.way, self.headings = set[str](), list[tuple[str, str]](), ""
        self.fields, self.labelled = list[tuple[str, str]](), set[str]()
        self.feed(text)
        self.parts |= {f"{part} {'named' if name in self.labelled else 'by itself'}" for name, part in self.fields}
        # A list of whatever length is one state.
        self.parts.add("headings " + re.sub(r"(\d+?)\1+", r"\1", self.headings))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note an element and where it stands."""
        if tag in UNREAD:
            return
        given = {name: value or "" for name, value in attrs}
        if re.fullmatch("h[1-6]", tag):
            self.headings += tag[1]
        self.labelled.add(given.get("for", ""))
        said = sorted(name for name in given if name in TOLD or name.startswith("aria-"))
        values = [given.get(name, "") for name in ("type", "role", "aria-live", "aria-current")]
        part = ".".join([tag, *sorted(given.get("class", "").split())]) + f" {said} {values}"
        if tag in ("input", "select", "textarea") and given.get("type") != "hidden":
            self.fields.append((given.get("id", "without"), f"{part} in {[one for one, _ in self.way]}"))
        self.way.append((tag, part))
        self.parts.add("/".join(one for _, one in self.way[-3:]))
        if tag in ALONE:
            self.way.pop()

    def handle_endtag(self, tag: str) -> None:
        """Go back to what the element stands in."""
        while self.way and tag not in UNREAD | ALONE:
            if self.way.pop()[0] == tag:
                return


@dataclass
class States:
    """The pages found so far, by what they are called, and what they are made of."""

    found: dict[str, str] = field(default_factory=dict)
    met: set[str] = field(default_factory=set)
    kinds: set[str] = field(default_factory=set)

    def add(self, path: str, text: str, *, when: str = "") -> None:
        """Take a page in if it is the first of its kind, or has something that was on no page before."""
        parts, kind = Made(text).parts, kind_of(path)
        if not parts <= self.met or not (when or kind in self.kinds):
            self.found[f"{path} {when}".strip()] = text
        self.kinds.add(kind)
        self.met |= parts

    def walked(self, client: TestClient, *, who: str, most: int) -> None:
        """Add what links lead somebody to."""
        for path, text in walk(client, most=most):
            self.add(path, text, when=f"to {who}" if self.found else "")

    def asked(self, client: TestClient, paths: Iterable[str], *, when: str) -> None:
        """Add the pages at addresses that no link has to lead to."""
        for path in paths:
            answer = client.get(path)
            if "html" in answer.headers.get("content-type", ""):
                self.add(path, answer.text, when=when)

    def refused(self, client: TestClient) -> None:
        """Add what each form answers to nothing at all and to nonsense in every field."""
        sent = set[str]()
        for action, inside in [form for text in list(self.found.values()) for form in FORM.findall(text)]:
            if kind_of(action) in sent or NOT_SENT.search(action):
                continue
            sent.add(kind_of(action))
            for way, value in (("empty", None), ("wrong", "?")):
                names = FIELD.findall(re.sub(rf"<input[^>]*{SECRET.pattern}[^>]*>", "", inside)) if value else []
                data = {**dict.fromkeys(names, value), "request_key": token_hex(16)}
                answer = client.post(action, data=data, headers=OF_THE_SITE, follow_redirects=False)
                if answer.status_code in (409, 422) and "html" in answer.headers.get("content-type", ""):
                    self.add(action, answer.text, when=f"sent {way}")


def pages_without_rows(app: FastAPI) -> Iterator[str]:
    """Yield the address of every route that needs no row: in an empty shop, each page in its empty state."""
    for route in app.routes:
        is_bare = isinstance(route, Route) and "GET" in (route.methods or ()) and "{" not in route.path
        if isinstance(route, Route) and is_bare and not route.path.startswith(NO_PAGES):
            yield route.path
