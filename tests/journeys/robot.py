"""Somebody who reads a page, fills in one of its forms and sends it, with or without htmx."""

import re
from typing import Any

from bs4 import BeautifulSoup, Tag

from tests.cast import Browser


class Robot:
    """Fills in forms as they stand on the page: what it does not name keeps the value it was shown."""

    def __init__(self, browser: Browser, *, htmx: bool) -> None:
        self.client = browser.client
        self.headers = {"hx-request": "true", "hx-boosted": "true"} if htmx else {}
        self.path = "/"
        self.page = BeautifulSoup("", "html.parser")

    @property
    def text(self) -> str:
        """Return the words of the page."""
        return " ".join(self.page.get_text(" ").split())

    def open(self, path: str) -> "Robot":
        """Go to an address."""
        return self._read(self.client.get(path, headers=self.headers))

    def follow(self, pattern: str) -> "Robot":
        """Follow the first link whose address fits."""
        return self.open(self.link(pattern))

    def link(self, pattern: str) -> str:
        """Return the address of the first link that fits."""
        found = [str(one["href"]) for one in self.page.find_all("a", href=True)]
        return next(address for address in found if re.fullmatch(pattern, address))

    def forms(self, pattern: str) -> list[Tag]:
        """Return the forms whose address fits."""
        return [one for one in self.page.find_all("form") if re.fullmatch(pattern, str(one.get("action", "")))]

    def send(self, pattern: str, *, lists: dict[str, list[str]] | None = None, **fields: str) -> "Robot":
        """Fill in the first form whose address fits and send it; a refusal fails the test with its sentences."""
        answer = self.attempt(pattern, lists=lists, **fields)
        if answer.status_code not in (200, 303):
            said = re.findall(r'class="(?:error|refusal)"[^>]*>([^<]+)<', answer.text)
            raise AssertionError(f"{pattern}: {answer.status_code} {said or answer.text[:600]}")
        while answer.status_code == 303:
            answer = self.client.get(answer.headers["location"], headers=self.headers, follow_redirects=False)
        return self._read(answer)

    def attempt(self, pattern: str, *, lists: dict[str, list[str]] | None = None, **fields: str) -> Any:
        """Fill in the first form whose address fits, send it and return the bare answer."""
        form = self.forms(pattern)[0]
        named = {name.replace("__", "."): value for name, value in fields.items()}
        given = {**shown_in(form), **named, **(lists or {})}
        return self.client.post(str(form["action"]), data=given, headers=self.headers, follow_redirects=False)

    def _read(self, answer: Any) -> "Robot":
        assert answer.status_code == 200, f"{answer.request.url}: {answer.status_code}"
        self.path = answer.request.url.path
        self.page = BeautifulSoup(answer.text, "html.parser")
        return self


def shown_in(form: Tag) -> dict[str, Any]:
    """Return what a form shows, by the names of its fields."""
    shown: dict[str, Any] = {}
    for entry in form.find_all(["input", "select", "textarea"]):
        name = str(entry.get("name", ""))
        value = _value(entry)
        if not name or value is None:
            continue
        if name in shown and entry.get("type") == "checkbox":
            before = shown[name]
            shown[name] = [*(before if isinstance(before, list) else [before]), value]
        else:
            shown[name] = value
    return shown


def _value(entry: Tag) -> str | None:
    if entry.name == "textarea":
        return entry.get_text().strip()
    if entry.name == "select":
        chosen = entry.find("option", selected=True) or entry.find("option")
        return str(chosen.get("value", "")) if isinstance(chosen, Tag) else None
    if entry.get("type") in ("radio", "checkbox") and not entry.has_attr("checked"):
        return None
    return str(entry.get("value", ""))
