"""The browser of the tests: the one the system brings, never a downloaded one."""

import shutil
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Yield one Chromium for the whole run."""
    path = shutil.which("chromium")
    assert path, "Chromium is missing: ./run test installs it."
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(
            executable_path=path, args=["--no-sandbox", "--disable-gpu", "--disable-quic"]
        )
        yield started
        started.close()


@pytest.fixture
def context(browser: Browser) -> Iterator[BrowserContext]:
    """Yield a browser that remembers nothing, in the size of the shop's tablet."""
    opened = browser.new_context(viewport={"width": 820, "height": 1180})
    opened.set_default_timeout(5000)
    yield opened
    opened.close()


@pytest.fixture
def page(context: BrowserContext) -> Page:
    """Return an empty page."""
    return context.new_page()
