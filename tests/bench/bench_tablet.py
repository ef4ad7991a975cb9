"""Print how fast the shop's tablet is in Chromium, and write docs/tablet_speed.md.

``python -m tests.bench.bench_tablet [TIMES]``: a shop of 10,000 blocks, a tablet at its press. Measured are what its
first page takes over the wire; how long Today takes to open without a connection, the processor slowed to a quarter
(Emulation.setCPUThrottlingRate); and how long it takes from the tap on "Save reading" until the shop has acknowledged
the reading. Half a second lies between the page of a block and its tap: nobody pumps quicker. Beside the last stands
the processor time of the shop alone, which a busy machine does not lengthen.
"""

import os
import sys
import tempfile
from pathlib import Path
from statistics import median, quantiles
from time import process_time
from typing import Any

from playwright.sync_api import Page, sync_playwright
from sqlmodel import Session, col, update

from service.records.database import migrate
from service.records.jobs import Job
from tests.bench_rows import pressed_job
from tests.browser.tablets import Bench, a_bench, wait_until_kept, wait_until_sent
from tests.cast import Cast, open_cast
from tests.chromium import ARGUMENTS, CHROMIUM

BLOCKS, OF_A_JOB, OPENINGS, SLOWER = 10_000, 98, 20, 4
PUMPS_MS = 500
REPORT = Path(__file__).resolve().parents[2] / "docs" / "tablet_speed.md"
# From the tap to the end of the answer to the reading, by the page's own clock.
NOTE_TAPS = """() => {
    window.took = [];
    let tapped = 0;
    document.addEventListener("click", (event) => { tapped = event.timeStamp; }, true);
    new PerformanceObserver((list) => {
        for (const one of list.getEntries()) {
            if (one.name.endsWith("/crushings")) window.took.push(one.responseEnd - tapped);
        }
    }).observe({ type: "resource" });
}"""


def fill(cast: Cast) -> None:
    """Add closed jobs until the shop has so many blocks."""
    for number in range(BLOCKS // OF_A_JOB):
        pressed_job(cast, number=1000 + number, blocks=OF_A_JOB)
    with Session(cast.stores.write) as session:
        session.execute(update(Job).where(col(Job.number) >= 1000).values(closed_at=cast.clock.now))
        session.commit()


def first_page(bench: Bench, page: Page) -> tuple[int, int]:
    """Return the bytes over the wire and the requests of Today, with nothing kept by the browser."""
    assert bench.context is not None
    wire = bench.context.new_cdp_session(page)
    sizes: list[float] = []
    wire.send("Network.enable")
    wire.send("Network.setCacheDisabled", {"cacheDisabled": True})
    wire.send("Network.setBypassServiceWorker", {"bypass": True})
    wire.on("Network.loadingFinished", lambda told: sizes.append(told["encodedDataLength"]))
    page.goto(f"{bench.shop.address}/today", wait_until="networkidle")
    wire.detach()
    return round(sum(sizes)), len(sizes)


def openings_ms(bench: Bench, page: Page) -> list[float]:
    """Return how long Today takes to open without a connection on a slow processor, each time until it has loaded."""
    assert bench.context is not None
    wire = bench.context.new_cdp_session(page)
    bench.shop.stop()
    wire.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    took = []
    for _ in range(OPENINGS):
        page.goto(f"{bench.shop.address}/today", wait_until="load")
        page.wait_for_function("performance.getEntriesByType('navigation')[0].loadEventEnd > 0")
        took.append(float(page.evaluate("performance.getEntriesByType('navigation')[0].loadEventEnd")))
    wire.send("Emulation.setCPUThrottlingRate", {"rate": 1})
    wire.detach()
    bench.shop.start()
    return took


def taps_ms(bench: Bench, page: Page, times: int) -> list[float]:
    """Return how long each reading takes from the tap until the shop has acknowledged it."""
    page.goto(f"{bench.shop.address}/today")
    page.locator(".bar .go").click()
    page.wait_for_url("**/blocks/*")
    page.locator("[name=outcome]").first.wait_for(state="attached")
    page.evaluate(NOTE_TAPS)
    for number in range(times):
        title = page.inner_text("h1")
        # The page may still be settling.
        while not page.locator("[name=gauge_mpa]").is_visible():
            page.locator(".option:has([value=broke])").first.click()
            page.wait_for_timeout(20)
        page.fill("[name=gauge_mpa]", "8.5")
        page.wait_for_timeout(PUMPS_MS)
        page.locator("form[action$='/crushings']:has([name=gauge_mpa]) button.go").first.click()
        page.wait_for_function("title => document.querySelector('h1').innerText !== title", arg=title)
        page.wait_for_function("count => window.took.length >= count", arg=number + 1)
    return [float(one) for one in page.evaluate("window.took")]


def shop_ms(cast: Cast, blocks: list[Any]) -> list[float]:
    """Return the processor time of the shop for each reading, without a browser."""
    tess, took = cast.browser("tess"), []
    given = {"outcome": "broke", "gauge_mpa": "8.5", "gauge_mpa_unit": "MPa", "state": "air-dry", "orientation": "flat",
             "faces": "bare"}  # fmt: skip
    for number, block in enumerate(blocks):
        page = tess.get(f"/blocks/{block}").text
        session = page.partition('name="press_session_id" value="')[2][:36]
        began = process_time()
        answer = tess.post(
            f"/blocks/{block}/crushings", given | {"press_session_id": session, "request_key": f"{number:032}"}
        )
        took.append((process_time() - began) * 1000)
        assert answer.status_code in (200, 303), answer.text[:300]
    return took


def told(values: list[float]) -> str:
    """Return middle and 95th percentile."""
    return f"{median(values):.0f} | {quantiles(values, n=20)[18]:.0f}"


def main() -> None:
    """Measure and write the document."""
    times = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    with tempfile.TemporaryDirectory() as name, sync_playwright() as playwright:
        folder = Path(name)
        url = f"sqlite:///{folder}/shop.sqlite"
        migrate(url)
        cast = open_cast(url, folder)
        fill(cast)
        chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        with a_bench(cast, chromium, folder, blocks=2 * times + 1, has_disk=True) as bench:
            assert bench.context is not None
            page = bench.context.pages[0]
            size, requests = first_page(bench, page)
            page.goto(f"{bench.shop.address}/today")
            wait_until_kept(page, times)
            opened = openings_ms(bench, page)
            wait_until_sent(page)
            tapped = taps_ms(bench, page, times)
            done = {label for label, _, _, _ in bench.readings()}
            left = [bench.blocks[label] for label in bench.blocks if "-" in label and label not in done]
            alone = shop_ms(cast, left[:times])
    load = os.getloadavg()[0]
    lines = [
        "# Speed of the tablet",
        "",
        *(__doc__ or "").strip().split("\n\n", 1)[1].splitlines(),
        "",
        f"Two cores, at the end with a load of {load:.1f}. Shop and browser share them.",
        "",
        "| what | middle | 95th percentile | asked |",
        "|---|---|---|---|",
        f"| first page over the wire, {requests} requests, kB | {size / 1000:.0f} | | 150 |",
        f"| Today opened without a connection, processor slowed {SLOWER} times, ms | {told(opened)} | 1,000 |",
        f"| tap to acknowledged, {BLOCKS:,} blocks in the shop, ms | {told(tapped)} | 150 |",
        f"| of that the processor of the shop, ms | {told(alone)} | |",
    ]
    REPORT.write_text("\n".join(lines) + "\n", "utf-8")
    sys.stdout.write("\n".join(lines[-6:]) + "\n")


if __name__ == "__main__":
    main()
