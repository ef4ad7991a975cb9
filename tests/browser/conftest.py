"""The browser of the tests: the one the system brings, never a downloaded one."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from tests.browser.serving import ONE_STEP_MS
from tests.cast import Cast

expect.set_options(timeout=ONE_STEP_MS)


@pytest.fixture
def cast(cast_on_sqlite: Cast) -> Cast:
    """Return a shop on SQLite only: a browser cannot tell one database from the other."""
    return cast_on_sqlite


@pytest.fixture
def context(browser: Browser) -> Iterator[BrowserContext]:
    """Yield a browser that remembers nothing, in the size of the shop's tablet."""
    opened = browser.new_context(viewport={"width": 820, "height": 1180})
    opened.set_default_timeout(ONE_STEP_MS)
    yield opened
    opened.close()


@pytest.fixture
def page(context: BrowserContext) -> Page:
    """Return an empty page."""
    return context.new_page()
