"""A tablet of the shop for tests: a browser with a disk of its own, and a shop that can be stopped."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID

import uvicorn
from playwright.sync_api import Browser, BrowserContext, Page, ViewportSize
from sqlmodel import Session, col, select
from starlette.types import ASGIApp, Receive, Scope, Send

from service.app import create_app
from service.desk.crushing import press
from service.desk.signing_in import own_access, tablets
from service.records.blocks import Block
from service.records.crushings import Crushing
from service.settings import Settings
from service.typed import Typed
from service.web.authentication import sha256
from service.web.cookies import TABLET_COOKIE
from tests.bench_rows import press_with_line, pressed_job
from tests.browser.serving import ONE_STEP_MS
from tests.cast import PASSWORD, Cast
from tests.chromium import ARGUMENTS, CHROMIUM

PIN = "804153"
TABLET: ViewportSize = {"width": 820, "height": 1180}
# So many tenths of a second without any progress are a failure.
STANDSTILL = 900
# Sends what is on the tablet as its own timers and events would, until nothing is left or the shop is silent so often
# in a row that something is broken; returns how many entries are left.
SEND_ALL = """async () => {
    let left = (await Entries.all()).length, waits = 0;
    while (left && waits < 40) {
        await trySending();
        const now = (await Entries.all()).length;
        waits = now < left ? 0 : waits + 1;
        left = now;
        if (waits > 3) await new Promise((done) => setTimeout(done, 250));
    }
    return left;
}"""
# The next block is there and the page says how many entries wait.
GONE_ON = """([title, told]) => {
    const line = document.getElementById("unsent").innerText;
    return document.querySelector("h1").innerText !== title && line.includes(told);
}"""
COUNT_PAGES = """async () => {
    let count = 0;
    for (const name of await caches.keys()) {
        if (name.startsWith("pages-")) count += (await (await caches.open(name)).keys()).length;
    }
    return count;
}"""


@dataclass
class Lossy:
    """An application of whose answers to entries every second one is lost, after the work was done."""

    app: ASGIApp
    loses: bool = False
    lost: int = 0
    heard: int = 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, and its answer unless it is one to be lost."""
        is_entry = scope["type"] == "http" and any(name == b"entry-key" for name, _ in scope["headers"])
        self.heard += is_entry
        if not (is_entry and self.loses and self.heard % 2):
            await self.app(scope, receive, send)
            return
        self.lost += 1

        async def nowhere(message: Any) -> None:
            return None

        await self.app(scope, receive, nowhere)
        await send({"type": "http.response.start", "status": 504, "headers": []})
        await send({"type": "http.response.body", "body": b""})


@dataclass
class Shop:
    """A shop on a port of its own that can be stopped and started again; its clock is ahead of the tablet's."""

    cast: Cast
    folder: Path
    ahead: timedelta = timedelta(0)
    port: int = 0
    lossy: Lossy = field(init=False)
    _server: uvicorn.Server | None = None
    _thread: threading.Thread | None = None

    def __post_init__(self) -> None:
        """Make the application once; its data outlives every server."""
        stores = replace(self.cast.stores, clock=lambda: datetime.now(UTC) + self.ahead)
        url = str(self.cast.stores.write.url)
        self.lossy = Lossy(create_app(Settings(database_url=url, data=self.folder, address="http://localhost"), stores))

    @property
    def address(self) -> str:
        """Where it is, by the name under which a browser takes it for secure."""
        return f"http://localhost:{self.port}"

    def start(self) -> None:
        """Listen, on the same port as before."""
        config = uvicorn.Config(self.lossy, host="127.0.0.1", port=self.port, log_level="error", lifespan="off")
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(target=self._server.run, daemon=True)
        self._thread.start()
        while not self._server.started:
            self._thread.join(0.01)
        self.port = self._server.servers[0].sockets[0].getsockname()[1]

    def stop(self) -> None:
        """Be gone, whoever is still waiting for an answer."""
        if self._server and self._thread:
            self._server.force_exit = self._server.should_exit = True
            self._thread.join(10)
        self._server = None


@dataclass
class Bench:
    """A shop, a tablet of it that somebody has switched on, and blocks whose day is today."""

    shop: Shop
    browser: Browser
    folder: Path
    blocks: dict[str, UUID]
    gauge: UUID
    has_disk: bool = False
    context: BrowserContext | None = None

    def open(self) -> Page:
        """Open the tablet's browser. With a disk it is one of its own, and what it kept is still there."""
        if self.has_disk:
            self.context = self.browser.browser_type.launch_persistent_context(
                str(self.folder),
                executable_path=CHROMIUM,
                args=ARGUMENTS,
                viewport=TABLET,
                # Each frame of a movement is drawn by the processor here.
                reduced_motion="reduce",
            )
        else:
            self.context = self.browser.new_context(viewport=TABLET)
            self.context.new_page()
        self.context.set_default_timeout(ONE_STEP_MS)
        return self.context.pages[0]

    def close(self) -> None:
        """Close the tablet's browser."""
        if self.context:
            self.context.close()
        self.context = None

    def switch_on(self, page: Page, name: str = "Tess") -> None:
        """Choose a name and type the PIN."""
        page.goto(f"{self.shop.address}/tablet")
        page.click(f"text={name}")
        for digit in PIN:
            page.click(f'[name=digit][value="{digit}"]')
        page.wait_for_selector("form.sign-out", state="attached")

    def readings(self) -> list[tuple[str, float, datetime, datetime]]:
        """Return label, gauge, crushed-at and arrived-at of the standing readings in the order they arrived."""
        with Session(self.shop.cast.stores.read) as session:
            question = (
                select(Block.label, Crushing.gauge_mpa, Crushing.crushed_at, Crushing.typed_at)
                .join(Crushing, col(Crushing.block_id) == col(Block.id))
                .where(col(Crushing.ended_at).is_(None))
                .order_by(col(Crushing.typed_at))
            )
            return [tuple(row) for row in session.exec(question)]  # type: ignore[misc]


@contextmanager
def a_bench(
    cast: Cast, browser: Browser, folder: Path, *, blocks: int, ahead: timedelta = timedelta(0), has_disk: bool = False
) -> Iterator[Bench]:
    """Yield a bench with so many blocks to crush today, its tablet enrolled and its gauge open."""
    now = datetime.now(UTC) + ahead
    cast.clock.now = now - timedelta(days=7)
    ids = pressed_job(cast, blocks=blocks)
    gauge = press_with_line(cast)
    cast.clock.now = now
    press.open_press_session(cast.tess, gauge_id=gauge, zero_before_mpa=Typed(0.0, "0", "MPa"))
    own_access.set_pin(cast.tess, password=PASSWORD, pin=PIN)
    tablets.enrol(cast.olu, name="Press bench", token_sha256=sha256("enrol"))
    tablets.begin(cast.olu, token_sha256=sha256("enrol"), device_sha256=sha256("tablet"))
    shop = Shop(cast, folder / "shop", ahead)
    bench = Bench(shop, browser, folder / "browser", ids, gauge, has_disk)
    shop.start()
    try:
        page = bench.open()
        page.context.add_cookies(
            [{"name": TABLET_COOKIE, "value": "tablet", "url": shop.address, "expires": now.timestamp() + 1e6}]
        )
        bench.switch_on(page)
        yield bench
    finally:
        bench.close()
        shop.stop()


def kept_pages(page: Page) -> int:
    """Return how many pages the tablet keeps."""
    return int(page.evaluate(COUNT_PAGES))


def wait_until_kept(page: Page, pages: int) -> None:
    """Wait until the page is the worker's own and the tablet keeps so many pages.

    A busy machine may take long, but not without any page at all.
    """
    page.wait_for_function("() => Boolean(navigator.serviceWorker.controller)", polling=25)
    kept, waits = 0, 0
    while (now := kept_pages(page)) < pages:
        kept, waits = max(kept, now), 0 if now > kept else waits + 1
        assert waits < STANDSTILL, f"The tablet keeps {now} pages, {pages} were awaited."
        page.wait_for_timeout(100)


def unsent(page: Page) -> int:
    """Return how many entries are on the tablet only."""
    return int(page.evaluate("async () => (await Entries.all()).length"))


def wait_until_sent(page: Page) -> None:
    """Send until the shop has every entry."""
    left = page.evaluate(SEND_ALL)
    assert not left, f"{left} entries are still on the tablet."


def save(page: Page) -> None:
    """Push the button of the form of a crushing; the page has others, folded away."""
    page.locator("form[action$='/crushings']:has([name=gauge_mpa]) button.go").first.click()


def crush(page: Page, gauge: str, *, goes_on: bool = True, told: str = "") -> str:
    """Record at the page of a block that it broke at so much, and go on to the next; return the block's label.

    ``told`` is what the line of unsent entries says then.
    """
    title = page.inner_text("h1")
    page.locator(".option:has([value=broke])").first.click()
    page.fill("[name=gauge_mpa]", gauge)
    save(page)
    if goes_on:
        page.wait_for_function(GONE_ON, arg=[title, told], polling=25)
    return title.removeprefix("Block ")
