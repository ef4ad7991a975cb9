"""A customer's whole way in a browser: request, offer, question, result, paper and a link of their own, in Spanish."""

from collections.abc import Iterator
from uuid import UUID

import pypdfium2
import pytest
from playwright.sync_api import Browser, Page, expect
from sqlmodel import Session

from service.desk.results import live
from service.desk.signing_in import sign_in
from service.paper import issuing
from service.records.customers import Customer
from service.web.authentication import sha256
from service.web.cookies import COOKIE
from service.words.sentences import page_words
from tests.browser.serving import serving
from tests.cast import Cast
from tests.trials import a_tried_job

ES = page_words("es")
SHOP_ADDRESS = "http://localhost"
PHONE = {"width": 390, "height": 844}


@pytest.fixture
def address(cast: Cast) -> Iterator[str]:
    with Session(cast.stores.write) as session:
        session.get_one(Customer, cast.customers["cy"]).language = "es"
        session.commit()
    with serving(cast.app) as served:
        yield served.replace("127.0.0.1", "localhost")


def entered(browser: Browser, cast: Cast, address: str, name: str) -> Page:
    sign_in.open_session(cast.nobody, proof=sign_in.Proof(cast.ids[name]), token_sha256=sha256(name))
    context = browser.new_context(viewport=PHONE)
    context.set_default_timeout(90_000)
    context.add_cookies([{"name": COOKIE, "value": name, "url": address}])
    return context.new_page()


def test_a_customer_goes_from_the_request_to_a_shared_result(browser: Browser, cast: Cast, address: str) -> None:
    tested = a_tried_job(cast).job_id
    cy, olu = (entered(browser, cast, address, name) for name in ("cy", "olu"))
    asked = asks_for_a_test(cy, address)
    accepts_an_offer(cy, olu, address, asked)
    asks(cy, asked)
    cast.clock.forward(minutes=20)
    answers(cy, olu, asked)
    # Pressed in tests/journeys: a browser asks again while a crowded machine still draws the paper.
    seen = live.live(cast.olu, job_id=tested).sha256
    issuing.issue(cast.olu, job_id=tested, remark="", seen_sha256=seen)
    looks_at_the_next(olu, address, tested)
    reads_the_result(cy, address)
    shares_it_and_ends_the_link(cy, browser.new_context(viewport=PHONE).new_page(), address)


def looks_at_the_next(olu: Page, address: str, job_id: UUID) -> None:
    """Look at the next paper: it opens in a tab of its own, in its own styles, and the form stays."""
    olu.goto(f"{address}/jobs/{job_id}/issue")
    with olu.expect_popup() as opened:
        olu.get_by_role("button", name="Preview on screen").click()
    opened.value.wait_for_load_state()
    expect(opened.value.locator(".shop")).to_have_css("font-weight", "700")
    expect(olu.locator("[name=remark]")).to_be_visible()
    opened.value.close()


def shows(page: Page, selector: str, text: str) -> None:
    """Wait as long as for everything else in a browser: two cores may be at work on something heavier."""
    expect(page.locator(selector)).to_contain_text(text, timeout=90_000)


def asks_for_a_test(cy: Page, address: str) -> str:
    cy.goto(f"{address}/soils")
    cy.get_by_role("link", name=ES["Ask for a test"]).click()
    cy.get_by_label(ES["Where is the soil from?"]).fill("North pit")
    cy.get_by_label(ES["What do you want to know?"]).fill("¿Sirve tal como está?")
    cy.get_by_label(ES["Does it meet a code?"]).check()
    cy.get_by_label(ES["Nothing of this is known"]).check()
    cy.get_by_role("button", name=ES["Send request"]).click()
    cy.wait_for_url("**/slip")
    return cy.url.removesuffix("/slip")


def accepts_an_offer(cy: Page, olu: Page, address: str, asked: str) -> None:
    olu.goto(f"{asked}/offer")
    olu.get_by_label("Price").fill("180.50")
    olu.get_by_label("Result expected on").fill("2027-05-01")
    olu.get_by_role("button", name="Send price offer").click()
    shows(olu, "main", "Waits for an answer")
    cy.goto(f"{address}/soils")
    cy.get_by_role("link", name=ES["Read our price offer"]).click()
    shows(cy, "main", "180.50")
    cy.get_by_role("button", name=ES["Accept the offer"]).click()
    shows(cy, "main", ES["Accepted"])


def asks(cy: Page, asked: str) -> None:
    cy.goto(f"{asked}/questions")
    cy.get_by_label(ES["Your question"]).fill("¿Cuánto suelo mando?")
    cy.get_by_role("button", name=ES["Send message"]).click()
    shows(cy, "#newest", "¿Cuánto suelo mando?")


def answers(cy: Page, olu: Page, asked: str) -> None:
    olu.goto(f"{asked}/questions")
    olu.get_by_label("Your answer").fill("Dos sacos de 25 kg.")
    olu.get_by_role("button", name="Send message").click()
    shows(olu, "#newest", "Dos sacos")
    cy.reload()
    shows(cy, "#newest", "Dos sacos de 25 kg.")


def reads_the_result(cy: Page, address: str) -> None:
    """The paper speaks the customer's language without anybody choosing it."""
    cy.goto(f"{address}/soils")
    paper = cy.get_by_role("link", name=ES["PDF of result no. {number}"].format(number=1)).get_attribute("href")
    drawn = cy.request.get(f"{address}{paper}").body()
    first = pypdfium2.PdfDocument(drawn)[0].get_textpage().get_text_range()
    assert "Use la receta" in first and ES["Who decides"] in first
    cy.get_by_role("link", name=ES["Result no. {number}"].format(number=1)).first.click()
    shows(cy, ".act", "Use la receta")
    assert cy.locator("html").get_attribute("lang") == "es"
    assert not cy.evaluate("document.documentElement.scrollWidth > innerWidth")


def shares_it_and_ends_the_link(cy: Page, stranger: Page, address: str) -> None:
    cy.goto(f"{address}/soils")
    cy.get_by_role("link", name=ES["Share result no. {number}"].format(number=1)).click()
    cy.get_by_label(ES["For whom"]).fill("El maestro")
    cy.get_by_role("button", name=ES["Create a share link to this result"]).click()
    link = cy.locator(".link a").inner_text()
    # The address that the shop has in its settings, and here the server of this test.
    link = address + link.removeprefix(SHOP_ADDRESS)
    stranger.goto(link)
    shows(stranger, ".act", "Use la receta")
    cy.get_by_role("button", name=ES["End this link"]).click()
    shows(cy, "main .card", ES["Ended {day}."].partition("{")[0])
    stranger.goto(link)
    assert stranger.locator(".act").count() == 0
