"""Make the pictures of the README's tour: the demo shop in headless Chromium at the size of a tablet."""

import re
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from service.app import create_app, open_stores
from service.demo import shop
from service.records.database import migrate
from service.settings import Settings
from tests.browser.serving import serving
from tests.chromium import ARGUMENTS, CHROMIUM

TOUR = Path(__file__).parent.parent / "docs" / "tour"
TABLET = {"width": 820, "height": 1180}


@contextmanager
def told_shop() -> Iterator[tuple[str, str]]:
    """Serve a fresh demo shop; yield its address and the owner's one-use token."""
    with tempfile.TemporaryDirectory() as folder:
        settings = Settings(data=Path(folder), address="http://127.0.0.1")
        migrate(settings.database_url)
        stores = open_stores(settings)
        shop.load(stores, now=datetime.now(UTC))
        owner = next(welcome for welcome in shop.welcomes(stores) if welcome.role == "owner")
        with serving(create_app(settings, stores)) as address:
            yield address, owner.token


def show(page: Page, address: str, path: str, name: str) -> None:
    """Take the picture of one page, as tall as the tablet."""
    page.goto(address + path)
    keep(page, name)


def keep(page: Page, name: str) -> None:
    """Keep the picture of what the browser shows."""
    page.wait_for_load_state("networkidle")
    page.screenshot(path=TOUR / f"{name}.png")


def link(page: Page, pattern: str) -> str:
    """Return the first link of the page that fits."""
    for one in page.locator("a").all():
        href = one.get_attribute("href") or ""
        if re.fullmatch(pattern, href):
            return href
    raise LookupError(pattern)


def make() -> None:
    """Make every picture of the tour."""
    TOUR.mkdir(parents=True, exist_ok=True)
    with told_shop() as (address, token), sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        page = browser.new_page(viewport=TABLET)
        page.goto(f"{address}/sign-in/{token}")
        page.get_by_role("button").last.click()
        page.wait_for_url(f"{address}/")
        show(page, address, "/", "jobs")
        jobs = [one.get_attribute("href") or "" for one in page.locator("th a").all()]
        first, second, waiting, mixing = jobs[-1], jobs[-2], jobs[-4], jobs[-5]
        show(page, address, f"{first}/intake", "intake")
        show(page, address, f"{first}/plan", "plan")
        page.goto(f"{address}{mixing}/mixing")
        show(page, address, link(page, r"/batches/[0-9a-f-]{36}"), "batch")
        show(page, address, "/curing", "curing")
        page.goto(f"{address}{waiting}/crushing")
        block = link(page, r"/blocks/[0-9a-f-]{36}")
        page.goto(address + block)
        page.get_by_role("button", name="Start crushing").click()
        page.wait_for_load_state("networkidle")
        page.goto(address + block)
        page.get_by_text("It broke", exact=True).click()
        page.locator("input[name=gauge_mpa]").fill("21.5")
        keep(page, "crushing")
        show(page, address, f"{first}/results", "results")
        page.goto(f"{address}{second}/results")
        show(page, address, link(page, r"/results/[0-9a-f-]{36}"), "issued")
        browser.close()


if __name__ == "__main__":
    make()
