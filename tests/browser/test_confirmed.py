"""The password once more in a real browser, with script and without; and what signing out leaves in it."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from service.desk.signing_in import own_access, sign_in, tablets
from service.web.authentication import sha256
from service.web.cookies import COOKIE, TABLET_COOKIE
from tests.browser.serving import serving
from tests.cast import PASSWORD, Cast


@pytest.mark.parametrize("script", [True, False], ids=["with script", "without"])
def test_what_was_typed_goes_on_after_the_password_and_the_browser_has_another_secret(
    cast: Cast, browser: Browser, script: bool
) -> None:
    sign_in.open_session(cast.nobody, proof=sign_in.Proof(cast.ids["olu"]), token_sha256=sha256("olu at it"))
    cast.clock.forward(minutes=11)
    context = browser.new_context(viewport={"width": 820, "height": 1180}, java_script_enabled=script)
    context.set_default_timeout(90_000)
    with serving(cast.app) as address:
        address = address.replace("127.0.0.1", "localhost")
        context.add_cookies([{"name": COOKIE, "value": "olu at it", "url": address}])
        page = context.new_page()
        page.goto(f"{address}/tablets")
        page.fill("#name", 'Bench "by the door"')
        page.click("button.go")
        _give_password(page, "guess", script=script)
        expect(page.locator("#confirm_password-error")).to_have_text("Please try again.")
        _give_password(page, PASSWORD, script=script)
        expect(page.locator("main")).to_contain_text('For Bench "by the door", shown this once')
        page.goto(f"{address}/people")
        expect(page.locator("h1")).to_have_text("Who can sign in")
        (held,) = [cookie["value"] for cookie in context.cookies() if cookie["name"] == COOKIE]
        assert held != "olu at it"
    context.close()


def _give_password(page: Page, password: str, *, script: bool) -> None:
    expect(page.locator("h1")).to_have_text("Enter your password again")
    if script:
        # Nothing is done yet, so no line says so; it would come a moment after the page.
        page.evaluate("new Promise((seen) => setTimeout(seen, 100))")
        expect(page.locator("#line")).to_be_empty()
        assert Axe().run(page).response["violations"] == []
    page.fill("#confirm_password", password)
    page.click("button.go")


def test_signing_out_on_a_tablet_empties_the_browser_and_leaves_it_a_tablet(cast: Cast, page: Page) -> None:
    own_access.set_pin(cast.tess, password=PASSWORD, pin="804153")
    tablets.enrol(cast.olu, name="Press bench", token_sha256=sha256("enrol"))
    tablets.begin(cast.olu, token_sha256=sha256("enrol"), device_sha256=sha256("tablet"))
    tablets.open_by_pin(
        cast.nobody,
        proof=tablets.PinProof(cast.ids["tess"]),
        token_sha256=sha256("by PIN"),
        device_sha256=sha256("tablet"),
    )
    with serving(cast.app) as address:
        address = address.replace("127.0.0.1", "localhost")
        cookies = {TABLET_COOKIE: "tablet", COOKIE: "by PIN"}
        page.context.add_cookies([{"name": name, "value": value, "url": address} for name, value in cookies.items()])
        page.goto(f"{address}/jobs")
        page.evaluate("localStorage.setItem('left', 'behind')")
        page.evaluate("document.querySelector('form.sign-out').requestSubmit()")
        expect(page.locator("main")).to_contain_text("Tess")
        assert page.evaluate("localStorage.getItem('left')") is None
        assert [cookie["name"] for cookie in page.context.cookies()] == [TABLET_COOKIE]
