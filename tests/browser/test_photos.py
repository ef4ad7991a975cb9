"""Photos in a real browser: one button, sent as it is taken, shown where it was taken."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, expect

from service.desk.signing_in import sign_in as coming_in
from service.web.authentication import sha256
from service.web.cookies import COOKIE
from tests.browser.serving import serving
from tests.cast import Cast
from tests.pixels import PAGE, from_a_camera, quartered, written
from tests.trials import a_tried_job


@pytest.fixture
def told() -> list[str]:
    """Return where the browser's complaints are kept."""
    return []


@pytest.fixture
def block(cast: Cast, context: BrowserContext, told: list[str]) -> Iterator[Page]:
    """Yield the page of a crushed block, with Tess at it."""
    block_id = next(iter(a_tried_job(cast).blocks.values()))
    with serving(cast.app) as address:
        sign_in(cast, context, address := address.replace("127.0.0.1", "localhost"))
        page = context.new_page()
        page.on("console", lambda message: told.append(message.text))
        page.on("pageerror", lambda error: told.append(str(error)))
        page.goto(f"{address}/blocks/{block_id}")
        yield page


def sign_in(cast: Cast, context: BrowserContext, address: str) -> None:
    coming_in.open_session(cast.nobody, proof=coming_in.Proof(cast.ids["tess"]), token_sha256=sha256("tess at it"))
    context.add_cookies([{"name": COOKIE, "value": "tess at it", "url": address}])


@pytest.fixture
def picture(tmp_path: Path) -> Path:
    (tmp_path / "IMG_0001.jpg").write_bytes(from_a_camera(6))
    return tmp_path / "IMG_0001.jpg"


def test_a_photograph_is_sent_as_soon_as_it_is_taken(block: Page, picture: Path, told: list[str]) -> None:
    expect(block.locator("#album")).to_contain_text("Nothing was photographed yet.")
    button = block.get_by_text("Take a photo").bounding_box()
    assert button and button["height"] >= 60 and button["width"] >= 200
    assert not block.get_by_role("button", name="Save photo").is_visible()
    block.set_input_files("#photo-file", picture)
    image = block.locator("#album img")
    expect(image).to_have_count(1)
    image.scroll_into_view_if_needed()
    # Not a function of the page's own to wait for: the content security policy lets none be made of text.
    expect(image).to_have_js_property("naturalHeight", 80)
    expect(block.get_by_role("heading", name="Photos")).to_be_in_viewport()
    assert told == []
    assert Axe().run(block).response["violations"] == []


def test_whoever_took_it_removes_it_where_it_stands(block: Page, picture: Path, told: list[str]) -> None:
    block.set_input_files("#photo-file", picture)
    expect(block.locator("#album img")).to_have_count(1)
    block.locator("#album summary").click()
    block.get_by_role("button", name="Remove photo").click()
    expect(block.locator("#album")).to_contain_text("Nothing was photographed yet.")
    assert told == []


def test_a_refused_one_is_told_and_another_is_taken(block: Page, picture: Path, tmp_path: Path) -> None:
    (tmp_path / "page.jpg").write_bytes(PAGE)
    block.set_input_files("#photo-file", tmp_path / "page.jpg")
    expect(block.locator(".take .error")).to_contain_text("could not be read as a picture")
    expect(block.get_by_role("button", name="Save photo")).to_be_visible()
    block.set_input_files("#photo-file", picture)
    block.get_by_role("button", name="Save photo").click()
    expect(block.locator("#album img")).to_have_count(1)


def test_without_script_it_takes_one_push_more(cast: Cast, browser: Browser, picture: Path, tmp_path: Path) -> None:
    job_id = a_tried_job(cast).job_id
    context = browser.new_context(java_script_enabled=False, viewport={"width": 390, "height": 844})
    with serving(cast.app) as address:
        sign_in(cast, context, address := address.replace("127.0.0.1", "localhost"))
        page = context.new_page()
        page.goto(f"{address}/jobs/{job_id}")
        page.set_input_files("#photo-file", picture)
        page.get_by_role("button", name="Save photo").click()
        expect(page.locator(".photos img")).to_have_count(1)
        (tmp_path / "large.png").write_bytes(written(quartered(3000, 1000), "PNG"))
        page.set_input_files("#photo-file", tmp_path / "large.png")
        page.get_by_role("button", name="Save photo").click()
        expect(page.locator(".photos img")).to_have_count(2)
    context.close()
