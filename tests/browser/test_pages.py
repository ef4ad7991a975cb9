"""The demo shop in a browser: usable by keyboard alone, and asking only for what applies."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page

from service.web.cookies import COOKIE
from tests.browser.serving import serving
from tests.demo_pages import Demo, told, walk

PHONE = {"width": 390, "height": 844}
LONGEST_WAY = 60


@pytest.fixture(scope="module")
def demo(told_demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Demo]:
    folder = tmp_path_factory.mktemp("demo")
    shutil.copytree(told_demo, folder, dirs_exist_ok=True)
    with told(folder) as opened:
        yield opened


@pytest.fixture(scope="module")
def address(demo: Demo) -> Iterator[str]:
    with serving(demo.app) as served:
        yield served


def entered(browser: Browser, demo: Demo, address: str, role: str) -> BrowserContext:
    context = browser.new_context(viewport=PHONE)
    context.add_cookies([{"name": COOKIE, "value": demo.sessions[role], "url": address}])
    return context


def test_a_block_is_crushed_by_keyboard_alone(browser: Browser, demo: Demo, address: str) -> None:
    with entered(browser, demo, address, "technician") as context:
        page = context.new_page()
        page.goto(f"{address}/crushing")
        press(page, "Save gauge zero and start crushing")
        page.get_by_role("button", name="Save gauge zero and start crushing").wait_for(state="detached")
        tab_to(page, ".list a")
        page.keyboard.press("Enter")
        page.wait_for_url("**/blocks/*")
        label = page.inner_text("h1")
        tab_to(page, "input[name=outcome]")
        page.keyboard.press("Space")
        tab_to(page, "input[name=gauge_mpa]")
        page.keyboard.type("21.5")
        assert "MPa" in page.locator(".stress").inner_text()
        tab_to(page, ".bar button")
        page.keyboard.press("Enter")
        # It goes straight on to the next block, and back to the reading of this one.
        page.wait_for_url("**/blocks/*?after=*")
        page.get_by_role("link", name="Correct the entries of this block").click()
        page.get_by_text("Crushed", exact=True).first.wait_for()
        assert page.inner_text("h1") == label


def test_only_what_applies_is_asked(browser: Browser, demo: Demo, address: str) -> None:
    with entered(browser, demo, address, "technician") as context:
        page = context.new_page()
        page.goto(f"{address}/jobs/new")
        assert page.is_visible("#new_customer")
        page.select_option("#customer_id", index=1)
        assert not page.is_visible("#new_customer")
        planning = (path for path, _ in walk(demo.client("technician")) if path.endswith("/plan/new"))
        page.goto(address + next(planning))
        page.select_option("#groups-0-condition", "oven-dry")
        assert not page.is_visible("#groups-0-soak_hours")
        page.select_option("#groups-0-condition", "soaked")
        assert page.is_visible("#groups-0-soak_hours")


def press(page: Page, name: str) -> None:
    """Go with the tabulator to what has that name, and press it."""
    for _ in range(LONGEST_WAY):
        page.keyboard.press("Tab")
        if name in page.evaluate("(document.activeElement.innerText || '').trim()"):
            page.keyboard.press("Enter")
            return
    raise LookupError(f"Nothing called {name} can be reached by keyboard.")


def tab_to(page: Page, selector: str) -> None:
    """Go on with the tabulator until something that fits has the focus."""
    for _ in range(LONGEST_WAY):
        page.keyboard.press("Tab")
        if page.evaluate("selector => document.activeElement.matches(selector)", selector):
            return
    raise LookupError(f"{selector} cannot be reached by keyboard.")
