"""The Calculator in a real browser: rows grow, the answer comes beside the form, a refusal stays in it."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from service.web.cookies import COOKIE
from tests.browser.serving import serving
from tests.cast import Cast


@pytest.fixture
def tess(cast: Cast, context: BrowserContext) -> Iterator[Page]:
    """Yield the technician's tablet; anything that the browser complains about fails the test."""
    complaints: list[str] = []
    with serving(cast.app) as address:
        address = address.replace("127.0.0.1", "localhost")
        token = cast.browser("tess").client.cookies[COOKIE]
        context.add_cookies([{"name": COOKIE, "value": token, "url": address}])
        page = context.new_page()
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on("console", lambda said: complaints.append(said.text) if said.type == "error" else None)
        page.goto(f"{address}/calculator/moisture")
        yield page
    assert [said for said in complaints if "422" not in said] == []


def test_a_row_filled_in_at_the_end_gets_another_one_below(tess: Page) -> None:
    rows = tess.locator("tbody tr")
    before = rows.count()
    rows.last.locator("input").first.fill("150")
    expect(rows).to_have_count(before + 1)
    names = [field.get_attribute("name") for field in rows.last.locator("input").all()]
    assert names == [f"cans.{before}.wet_kg", f"cans.{before}.dry_kg", f"cans.{before}.can_kg"]
    assert rows.last.locator("input").first.input_value() == ""
    rows.last.locator("input").first.fill("150")
    expect(rows).to_have_count(before + 2)


def test_a_refusal_stays_at_its_cell_and_the_answer_comes_without_leaving_the_form(tess: Page) -> None:
    tess.fill('[name="cans.1.wet_kg"]', "152,4")
    tess.fill('[name="cans.1.dry_kg"]', "139.1")
    tess.fill('[name="cans.1.can_kg"]', "20")
    tess.click("button.go")
    expect(tess.locator('[data-error-of="cans.1.wet_kg"]')).to_contain_text("no comma anywhere")
    expect(tess.locator('[name="cans.1.wet_kg"]')).to_be_focused()
    tess.fill('[name="cans.1.wet_kg"]', "152.4")
    tess.press('[name="cans.1.wet_kg"]', "Enter")
    # ASTM D2216's definition, as in handbook.json MO-01: 11.1671 %.
    expect(tess.locator("#answer .big-figure")).to_have_text("11.2 %")
    assert tess.input_value('[name="cans.1.can_kg"]') == "20"
    assert tess.url.endswith("/calculator/moisture")
