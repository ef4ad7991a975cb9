"""What makes work at the press easy, on the page of the tests of scripts: a screen that stays on, the last unit."""

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.browser.test_scripts import ORIGIN, Shop

# A stand-in, for a headless browser has no screen to keep awake.
NOTE_AWAKE = """() => {
    window.awakeFor = 0;
    const lock = () => {
        window.awakeFor += 1;
        const held = new EventTarget();
        held.release = async () => { window.awakeFor -= 1; held.dispatchEvent(new Event("release")); };
        return held;
    };
    Object.defineProperty(navigator, "wakeLock", { value: { request: async () => lock() }, configurable: true });
}"""


@pytest.fixture
def bench(context: BrowserContext, page: Page) -> Page:
    context.route(f"{ORIGIN}/**", Shop().answer)
    page.goto(ORIGIN)
    return page


def test_the_screen_stays_awake_while_a_block_is_crushed_and_no_longer(bench: Page) -> None:
    bench.evaluate(NOTE_AWAKE)
    bench.evaluate("htmx.trigger(document.body, 'htmx:load')")
    bench.wait_for_function("window.awakeFor === 1")
    # The next page has no stress to show.
    bench.evaluate("() => { document.querySelector('.stress').remove(); htmx.trigger(document.body, 'htmx:load'); }")
    bench.wait_for_function("window.awakeFor === 0")


def test_the_last_unit_is_offered_to_its_person_and_to_nobody_else(bench: Page) -> None:
    unit = bench.locator("[name=gauge_mpa_unit]")
    unit.select_option("psi")
    bench.reload()
    expect(unit).to_have_value("psi")
    unit.evaluate("(unit) => { unit.value = 'MPa'; facts().person = 'olu'; offerUnits(); }")
    expect(unit).to_have_value("MPa")
    unit.evaluate("(unit) => { facts().person = 'tess'; offerUnits(); }")
    expect(unit).to_have_value("psi")
