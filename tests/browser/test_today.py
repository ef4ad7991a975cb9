"""Today in a real browser: by touch, by keys, by a scanner, beside another tablet, and for a screen reader."""

import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any
from urllib.parse import urljoin

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import BrowserContext, Page, Route, expect

from service.app import create_app
from service.desk.curing import acts
from service.desk.signing_in import sign_in
from service.settings import Settings
from service.web.authentication import sha256
from service.web.cookies import COOKIE
from tests.bench_rows import pressed_job
from tests.browser.serving import serving
from tests.cast import Cast

SOAKED = {"condition": "soaked", "soak_hours": 24.0}
# Of what can be pressed and is seen: how high and wide it is, unless it is a word within a sentence.
SMALL_TARGETS = """() => [...document.querySelectorAll("main :is(a, button, summary, input:not([type=hidden]))")]
    .filter((one) => one.checkVisibility() && !one.closest("p.task-whose, p.hint, p.above"))
    .map((one) => [(one.closest("label") || one).getBoundingClientRect(), one.textContent.trim() || one.name])
    .filter(([box]) => box.width && (box.height < 47.5 || box.width < 47.5)).map(([, words]) => words)"""

# Stand-ins for what a headless browser on a server does not have: a motor and a loudspeaker.
NOTE_HARDWARE = """() => {
    window.told = [];
    navigator.vibrate = (pattern) => window.told.push(`vibrates ${pattern}`);
    window.AudioContext = class {
        currentTime = 0;
        createOscillator() {
            return { frequency: {}, connect: (next) => next, start: () => window.told.push("sounds"),
                stop: (at) => window.told.push(`for ${at} s`) };
        }
        createGain() { return { gain: {}, connect() {} }; }
    };
}"""

# As fast as a scanner is: one key after the other within the page, for a driver's own keys come slower than that.
TYPED_BY_A_SCANNER = """(text) => {
    const field = document.activeElement;
    for (const key of [...text, "Enter"]) {
        const isTaken = !field.dispatchEvent(new KeyboardEvent("keydown", { key, bubbles: true, cancelable: true }));
        if (!isTaken && key !== "Enter") field.value += key;
    }
}"""


@pytest.fixture
def ids(cast: Cast) -> dict[str, Any]:
    cast.clock.now = datetime.now(UTC) - timedelta(days=6)
    found = pressed_job(cast, groups=(SOAKED, {"condition": "air-dry"}))
    cast.clock.now = datetime.now(UTC)
    return found


@pytest.fixture
def today(cast: Cast, ids: dict[str, Any], context: BrowserContext) -> Iterator[Page]:
    stores = replace(cast.stores, clock=lambda: datetime.now(UTC))
    app = create_app(Settings(database_url=str(stores.read.url), address="http://localhost"), stores)
    sign_in.open_session(cast.nobody, proof=sign_in.Proof(cast.ids["tess"]), token_sha256=sha256("tess here"))
    with serving(app) as address:
        address = address.replace("127.0.0.1", "localhost")
        context.add_cookies([{"name": COOKIE, "value": "tess here", "url": address}])
        page = context.new_page()
        page.goto(f"{address}/")
        yield page


def test_one_tap_does_the_first_task_the_next_comes_up_and_one_more_undoes_it(today: Page) -> None:
    expect(today.locator(".first-task h2")).to_have_text("Soak 3 blocks of job 1")
    today.locator(".bar .go").click()
    expect(today.locator(".slips")).to_contain_text("Put to soak")
    expect(today.get_by_text("Nothing is to be done now.")).to_be_visible()
    today.locator(".slips button").click()
    expect(today.locator(".first-task h2")).to_have_text("Soak 3 blocks of job 1")


def first_question(page: Page) -> None:
    """Wait until a page has asked once what is new."""
    for _ in range(200):
        if page.evaluate("seenPage === facts().now"):
            break
        page.wait_for_timeout(100)


def test_what_another_records_is_seen_within_two_seconds(today: Page, cast: Cast, ids: dict[str, Any]) -> None:
    expect(today.locator(".first-task h2")).to_have_text("Soak 3 blocks of job 1")
    # What is measured is another tablet's act and not the opening of the page.
    first_question(today)
    acts.put_to_soak(cast.olu, block_ids=[ids["1-A1-1"]])
    began = time.monotonic()
    expect(today.locator(".first-task h2")).to_have_text("Soak 2 blocks of job 1")
    asked_every_s = today.evaluate("ASKS_LIVE_EVERY_MS") / 1000
    assert asked_every_s < 2 and time.monotonic() - began < 20


def test_curing_follows_too_and_waits_for_what_is_being_filled_in(today: Page, cast: Cast, ids: dict[str, Any]) -> None:
    today.get_by_role("link", name="Curing").click()
    today.wait_for_url("**/curing")
    ticks = today.locator("fieldset.choice .option-in.label")
    expect(ticks).to_have_count(3)
    first_question(today)
    today.get_by_text("1-A1-3", exact=True).click()
    acts.put_to_soak(cast.olu, block_ids=[ids["1-A1-1"]])
    expect(today.locator("#line")).to_contain_text("Something new was recorded.")
    expect(ticks).to_have_count(3)
    today.get_by_text("1-A1-3", exact=True).click()
    expect(ticks).to_have_count(2)


def test_what_is_typed_while_the_page_comes_anew_stays(today: Page, cast: Cast, ids: dict[str, Any]) -> None:
    today.get_by_role("link", name="Curing").click()
    today.wait_for_url("**/curing")
    first_question(today)
    held: list[Route] = []

    def hold_the_second(route: Route) -> None:
        # The first looks whether the page is another one, the second is the page that is shown.
        held.append(route)
        if len(held) != 2:
            route.continue_()

    today.route("**/curing", hold_the_second)
    acts.put_to_soak(cast.olu, block_ids=[ids["1-A1-1"]])
    while len(held) < 2:
        today.wait_for_timeout(50)
    ticks = today.locator("fieldset.choice .option-in.label")
    today.get_by_text("1-A1-3", exact=True).click()
    held[1].continue_()
    expect(today.locator("#line")).to_contain_text("Something new was recorded.")
    expect(ticks).to_have_count(3)
    today.get_by_text("1-A1-3", exact=True).click()
    expect(ticks).to_have_count(2)


def test_nothing_is_asked_for_a_page_that_nobody_looks_at(today: Page) -> None:
    asked: list[str] = []
    today.evaluate("Object.defineProperty(document, 'hidden', { value: true, configurable: true })")
    today.on("request", lambda request: asked.append(request.url))
    today.wait_for_timeout(4000)
    assert asked == []


def test_a_scanner_that_types_opens_the_label_wherever_the_keys_are(today: Page, ids: dict[str, Any]) -> None:
    today.locator("#label").fill("half a lab")
    today.locator("#label").focus()
    today.evaluate(TYPED_BY_A_SCANNER, f"https://bench.example/at/{ids['1-A1-1']}")
    today.wait_for_url(f"**/today?block={ids['1-A1-1']}")
    expect(today.locator(".first-task h2")).to_have_text("Soak 1 block of job 1")


def test_fingers_that_type_a_label_are_no_scanner(today: Page) -> None:
    today.locator("#label").focus()
    today.keyboard.type("1-A1-1", delay=90)
    expect(today.locator("#label")).to_have_value("1-A1-1")
    today.keyboard.press("Enter")
    today.wait_for_url("**/today?block=*")


def test_the_camera_reads_a_label_where_the_browser_can(today: Page, ids: dict[str, Any]) -> None:
    address = f"https://bench.example/at/{ids['1-A1-2']}"
    today.evaluate(
        """(address) => {
            window.BarcodeDetector = class { async detect() { return [{ rawValue: address }]; } };
            const canvas = document.createElement("canvas");
            const ink = canvas.getContext("2d");
            setInterval(() => ink.fillRect(0, 0, Math.random() * 9, 9), 40);
            navigator.mediaDevices.getUserMedia = async () => canvas.captureStream(5);
            offerCamera();
        }""",
        address,
    )
    today.get_by_role("button", name="Scan with the camera").click()
    today.wait_for_url(f"**/today?block={ids['1-A1-2']}")


def test_the_first_task_is_done_by_keys_alone(today: Page) -> None:
    for _ in range(60):
        today.keyboard.press("Tab")
        if today.evaluate("document.activeElement.matches('.bar .go')"):
            break
    today.keyboard.press("Enter")
    expect(today.locator(".slips")).to_contain_text("Put to soak")


@pytest.mark.parametrize(("width", "height"), [(820, 1180), (390, 844), (410, 590)], ids=["tablet", "phone", "200 %"])
def test_it_hinders_no_screen_reader_and_fits(today: Page, width: int, height: int) -> None:
    today.set_viewport_size({"width": width, "height": height})
    assert [rule["id"] for rule in Axe().run(today).response["violations"]] == []
    assert not today.evaluate("document.documentElement.scrollWidth > innerWidth")
    assert today.evaluate(SMALL_TARGETS) == []


# Whether what has the focus has an outline of its own or of its frame, and no bar over its middle.
FOCUS = """() => {
    const one = document.activeElement;
    if (!one || one === document.body) return null;
    const frames = [one, one.closest(".entry"), one.closest(".option")].filter(Boolean);
    const styles = frames.map((frame) => getComputedStyle(frame));
    const isSeen = styles.some((style) => style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2);
    const box = one.getBoundingClientRect();
    const over = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
    const isFree = frames.some((frame) => frame === over || frame.contains(over) || over?.contains(frame));
    return { name: one.outerHTML.slice(0, 120), isSeen, isFree };
}"""


@pytest.mark.parametrize("path", ["/today", "/curing"])
def test_the_focus_is_seen_at_every_stop_and_comes_round(today: Page, path: str) -> None:
    # 820 x 1180 at 200 %: the bar at the foot and the head take most of the room.
    today.set_viewport_size({"width": 410, "height": 590})
    today.goto(urljoin(today.url, path))
    stops: list[dict[str, Any]] = []
    for _ in range(80):
        today.keyboard.press("Tab")
        stop = today.evaluate(FOCUS)
        if stop is None and stops:
            break
        stops += [stop] if stop else []
    assert 8 < len(stops) < 80
    assert [one["name"] for one in stops if not (one["isSeen"] and one["isFree"])] == []


def test_the_keys_stay_where_they_are_when_the_page_is_shown_anew(today: Page) -> None:
    today.locator("#label").focus()
    today.evaluate("showAnew()")
    expect(today.locator("#line")).to_have_text("Updated.")
    expect(today.locator("#label")).to_be_focused()


def test_nothing_moves_for_whoever_asked_for_no_motion(today: Page) -> None:
    today.emulate_media(reduced_motion="reduce")
    moving = """() => [...document.querySelectorAll("*")].filter((one) => {
        const style = getComputedStyle(one);
        return parseFloat(style.animationDuration) > 0.01 || parseFloat(style.transitionDuration) > 0.01;
    }).map((one) => one.className)"""
    assert today.evaluate(moving) == []


def test_what_was_saved_is_told_as_the_tablet_was_set_and_at_first_not_at_all(today: Page) -> None:
    today.evaluate(NOTE_HARDWARE)
    today.locator(".bar .go").click()
    today.locator(".slips button").click()
    expect(today.locator(".first-task h2")).to_have_text("Soak 3 blocks of job 1")
    assert today.evaluate("window.told") == []
    for word, told in (("Vibration", ["vibrates 80"]), ("Sound", ["sounds", "for 0.12 s"])):
        today.get_by_text("Sound and vibration on this tablet").click()
        today.get_by_text(word, exact=True).click()
        assert today.evaluate("window.told.splice(0)") == told
        today.locator(".bar .go").click()
        expect(today.locator(".slips")).to_contain_text("Put to soak")
        assert today.evaluate("window.told.splice(0)") == told
        today.locator(".slips button").click()
        expect(today.locator(".first-task h2")).to_have_text("Soak 3 blocks of job 1")


def test_blocks_in_the_water_have_a_timer_that_runs(today: Page) -> None:
    today.locator(".bar .go").click()
    timer = today.locator(".timer")
    expect(timer).to_have_text("23 h 59 min left.")
    timer.evaluate("(timer) => { timer.dataset.until = new Date(Date.now() - 180000).toISOString(); }")
    expect(timer).to_have_text("3 min over.")
