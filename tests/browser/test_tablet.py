"""A tablet of the shop in a real browser: the pad, and what happens when it is left alone."""

from collections.abc import Iterator
from urllib.parse import urljoin

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import BrowserContext, Page, expect

from service.desk.signing_in import own_access, tablets
from service.web.authentication import sha256
from service.web.cookies import TABLET_COOKIE
from tests.browser.serving import serving
from tests.cast import PASSWORD, Cast


@pytest.fixture
def tablet(cast: Cast, context: BrowserContext) -> Iterator[Page]:
    """Yield an enrolled tablet at its names."""
    own_access.set_pin(cast.tess, password=PASSWORD, pin="804153")
    tablets.enrol(cast.olu, name="Press bench", token_sha256=sha256("enrol"))
    tablets.begin(cast.olu, token_sha256=sha256("enrol"), device_sha256=sha256("tablet"))
    with serving(cast.app) as address:
        address = address.replace("127.0.0.1", "localhost")
        context.add_cookies([{"name": TABLET_COOKIE, "value": "tablet", "url": address}])
        page = context.new_page()
        page.goto(f"{address}/tablet")
        yield page


def switch_on(tablet: Page) -> None:
    tablet.click("text=Tess")
    for digit in "804153":
        tablet.click(f'[name=digit][value="{digit}"]')
    tablet.wait_for_selector("form.sign-out", state="attached")


def leave_alone(tablet: Page) -> None:
    tablet.evaluate("document.querySelector('form.sign-out').dataset.leftAfterS = '0'")


def test_names_and_pad_hinder_no_screen_reader_and_fit_a_glove(tablet: Page) -> None:
    assert Axe().run(tablet).response["violations"] == []
    tablet.click("text=Tess")
    tablet.wait_for_selector(".pad")
    assert Axe().run(tablet).response["violations"] == []
    sizes = [key.bounding_box() for key in tablet.locator(".keys button").all()]
    assert all(size and min(size["width"], size["height"]) >= 72 for size in sizes)


def test_the_pad_comes_in_with_the_last_digit_and_takes_one_back(tablet: Page) -> None:
    tablet.click("text=Tess")
    tablet.click('[name=digit][value="8"]')
    tablet.click('[name=digit][value="9"]')
    tablet.click('[name=digit][value="back"]')
    expect(tablet.locator("#pad-count")).to_have_text("1 of 6 digits.")
    for digit in "04153":
        tablet.click(f'[name=digit][value="{digit}"]')
    tablet.wait_for_selector("form.sign-out", state="attached")


def test_who_is_at_the_bench_stands_in_sight_with_the_way_to_the_next(tablet: Page) -> None:
    switch_on(tablet)
    assert "Tess" in tablet.locator(".at-bench").inner_text()
    tablet.get_by_role("button", name="Next person").click()
    expect(tablet.locator("h1")).to_have_text("Who is at the bench?")


def test_a_tablet_left_alone_goes_back_to_the_names(tablet: Page) -> None:
    switch_on(tablet)
    leave_alone(tablet)
    tablet.wait_for_url("**/tablet", timeout=90_000)
    expect(tablet.locator("h1")).to_have_text("Who is at the bench?")


def test_what_is_half_typed_stays_on_a_tablet_left_alone(tablet: Page) -> None:
    switch_on(tablet)
    tablet.goto(urljoin(tablet.url, "/customers"))
    tablet.fill("main input[name=name]", "Half typed")
    leave_alone(tablet)
    expect(tablet.locator("#line")).to_contain_text("What is typed is still here", timeout=90_000)
    tablet.click("main button.go")
    expect(tablet.locator("main .refusal").first).to_contain_text("What you typed is still here")
    assert tablet.input_value("main input[name=name]") == "Half typed"
