"""The same robot with its hands on a real browser."""

import re

from bs4 import BeautifulSoup, Tag
from playwright.sync_api import Locator, Page, expect


class Hands:
    """Fills in forms on the screen: opens what is folded, types, ticks, chooses and presses the button."""

    def __init__(self, page: Page, address: str) -> None:
        self.tab, self.address = page, address

    @property
    def page(self) -> BeautifulSoup:
        """Return the page as it stands on the screen."""
        return BeautifulSoup(self.tab.content(), "html.parser")

    @property
    def path(self) -> str:
        """Return the address of the page."""
        return self.tab.url.removeprefix(self.address).partition("?")[0]

    @property
    def text(self) -> str:
        """Return the words of the page."""
        return " ".join(self.page.get_text(" ").split())

    def open(self, path: str) -> "Hands":
        """Go to an address."""
        self.tab.goto(self.address + path)
        return self._settled()

    def _settled(self) -> "Hands":
        # The network falls silent a moment before the new page stands.
        self.tab.wait_for_load_state("networkidle")
        busy = self.tab.locator(".htmx-request, .htmx-swapping, .htmx-settling")
        # As long as for everything else in a browser: two cores may be at work on something heavier.
        expect(busy).to_have_count(0, timeout=20_000)
        self.tab.wait_for_timeout(150)
        return self

    def link(self, pattern: str) -> str:
        """Return the address of the first link that fits."""
        found = [str(one["href"]) for one in self.page.find_all("a", href=True)]
        return next(address for address in found if re.fullmatch(pattern, address))

    def follow(self, pattern: str) -> "Hands":
        """Press the first link whose address fits."""
        self.tab.locator(f'a[href="{self.link(pattern)}"]').first.click()
        return self._settled()

    def forms(self, pattern: str) -> list[Tag]:
        """Return the forms whose address fits."""
        return [one for one in self.page.find_all("form") if re.fullmatch(pattern, str(one.get("action", "")))]

    def send(self, pattern: str, *, lists: dict[str, list[str]] | None = None, **fields: str) -> "Hands":
        """Fill in the first form whose address fits and press its button."""
        form = self.tab.locator(f'form[action="{self.forms(pattern)[0]["action"]}"]').first
        # Of the acts of a page one is open at a time: the one whose form this is, with all that is folded in it.
        form.evaluate(
            """form => {
                document.querySelectorAll("details.act").forEach(one => (one.open = false));
                const around = [...document.querySelectorAll("details")].filter(one => one.contains(form));
                [...around, ...form.querySelectorAll("details")].forEach(one => (one.open = true));
            }"""
        )
        for name, value in fields.items():
            _enter(form, name, value)
        for name, values in (lists or {}).items():
            for value in values:
                form.locator(f'[name="{name}"][value="{value}"]').check(force=True)
        with self.tab.expect_response(lambda answer: answer.request.method == "POST") as posted:
            form.locator("button[type=submit]").last.click()
        assert posted.value.status in (200, 303), f"{pattern}: {posted.value.status} {posted.value.text()[:300]}"
        return self._settled()


def _enter(form: Locator, name: str, value: str) -> None:
    entry = form.locator(f'[name="{name}"]')
    kind = entry.first.evaluate("one => one.type || one.tagName")
    if kind == "radio":
        form.locator(f'[name="{name}"][value="{value}"]').check(force=True)
    elif kind == "checkbox":
        entry.first.check(force=True)
    elif kind == "select-one":
        entry.first.select_option(value)
    else:
        entry.first.fill(value)
