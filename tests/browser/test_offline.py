"""A tablet in a tin shed: the wireless goes, the shop goes, answers are lost; every entry arrives once and in order.

The short form; ``./run offline`` does the long one, twenty times a hundred entries.
"""

import os
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, Route, expect
from sqlmodel import Session, select

from service.desk import photos
from service.desk.crushing import reading
from service.desk.crushing.given import Given
from service.desk.signing_in import tablets
from service.records import audit_log
from service.records.blocks import Block
from tests.browser.tablets import Bench, a_bench, crush, kept_pages, save, unsent, wait_until_kept, wait_until_sent
from tests.cast import Cast
from tests.mixes import DRY, a_ready_job
from tests.pixels import from_a_camera

IS_LONG = bool(os.environ.get("LOAMBOOK_LONG"))
ENTRIES, TIMES = (100, 20) if IS_LONG else (8, 1)
NO_ROOM = """() => {
    const add = IDBObjectStore.prototype.add;
    IDBObjectStore.prototype.add = () => { throw new DOMException("no room", "QuotaExceededError"); };
    window.makeRoom = () => { IDBObjectStore.prototype.add = add; };
}"""
SPEAK = """async () => {
    while (isSpeaking) await new Promise((done) => setTimeout(done, 20));
    spoke.at = 0;
    await speak();
}"""
LEADS_ON = """async () => {
    const entered = new Set((await Entries.all()).flatMap((one) => one.blocks));
    return !entered.has(document.querySelector(".bar .go").pathname.split("/").pop());
}"""


@pytest.fixture
def bench_of(cast: Cast, browser: Browser, tmp_path: Path) -> Any:
    def make(**more: Any) -> AbstractContextManager[Bench]:
        return a_bench(cast, browser, tmp_path, **more)

    return make


@pytest.fixture
def bench(bench_of: Any) -> Iterator[Bench]:
    with bench_of(blocks=3) as opened:
        yield opened


@contextmanager
def no_room(page: Page) -> Iterator[None]:
    """Let the tablet's store refuse to keep an entry.

    Injected at the call that writes: a headless browser takes no smaller quota, and its own cannot be filled in time.
    """
    page.evaluate(NO_ROOM)
    yield
    page.evaluate("makeRoom()")


def at_the_first_block(bench: Bench, blocks: int) -> Page:
    assert bench.context is not None
    page = bench.context.pages[0]
    page.goto(f"{bench.shop.address}/today")
    # Today, curing, crushing, the entries, and every block.
    wait_until_kept(page, blocks + 4)
    page.locator(".bar .go").click()
    page.wait_for_url("**/blocks/*")
    return page


def try_without_room(page: Page) -> None:
    """Try to save on a full tablet without a connection: it says so, and what was typed stays."""
    title = page.inner_text("h1")
    with no_room(page):
        crush(page, "39", goes_on=False)
        expect(page.locator(".refusal").first).to_contain_text("Not saved: the storage of this tablet is full")
    assert page.inner_text("h1") == title and page.input_value("[name=gauge_mpa]") == "39"


@pytest.mark.parametrize("time", range(TIMES))
def test_every_entry_arrives_once_and_in_order_whatever_fails(bench_of: Any, time: int) -> None:
    with bench_of(blocks=ENTRIES, ahead=timedelta(minutes=7), has_disk=True) as bench:
        page = at_the_first_block(bench, ENTRIES)
        assert bench.context is not None
        expect(page.locator("#clock-off")).to_contain_text("The clock of this tablet is 7 min slow.")
        # The line first, while the shop is there; then the shop too; then the line is back and the shop is not.
        bench.context.set_offline(True)
        typed: list[tuple[str, float]] = []
        for number in range(ENTRIES):
            if number == ENTRIES // 4:
                bench.shop.stop()
            if number == ENTRIES // 3:
                try_without_room(page)
            if number == ENTRIES * 3 // 4:
                bench.context.set_offline(False)
            gauge = 8 + number / 100
            label = crush(page, f"{gauge:.2f}", told=f"{number + 1} saved on this tablet, not sent yet")
            typed.append((label, gauge))
            if number == ENTRIES // 2:
                bench.close()
                page = bench.open()
                bench.context.set_offline(True)
                page.goto(f"{bench.shop.address}/today")
                # Today leads on past what was entered once it has looked into the tablet's store.
                page.wait_for_function(LEADS_ON)
                page.locator(".bar .go").click()
                page.wait_for_url("**/blocks/*")
        assert bench.readings() == []
        bench.shop.lossy.loses = True
        bench.shop.start()
        wait_until_sent(page)
        found = bench.readings()
        assert [(label, gauge) for label, gauge, _, _ in found] == [(label, pytest.approx(g)) for label, g in typed]
        assert bench.shop.lossy.lost >= ENTRIES // 2
        crushed, arrived = [one[2] for one in found], [one[3] for one in found]
        assert crushed == sorted(crushed) and len(set(crushed)) == ENTRIES
        # Crushed while the shop was gone, by the shop's own clock, seven minutes ahead of the tablet's; arrived later.
        assert crushed[-1] < arrived[0]
        assert arrived[0] - crushed[-1] < timedelta(minutes=5)


def test_what_is_on_the_tablet_already_is_not_entered_twice(bench: Bench) -> None:
    page = at_the_first_block(bench, 3)
    path = page.url
    bench.shop.stop()
    crush(page, "8")
    page.goto(path)
    crush(page, "9", goes_on=False)
    expect(page.locator(".refusal").first).to_contain_text("Saved on this tablet, not sent yet")
    assert unsent(page) == 1


def test_a_page_that_the_worker_missed_becomes_its_own(bench: Bench) -> None:
    assert bench.context is not None
    page = bench.context.pages[0]
    page.goto(f"{bench.shop.address}/today")
    wait_until_kept(page, 7)
    # As one that was on its way when the worker became active: it has none.
    bench.context.new_cdp_session(page).send("Page.reload", {"ignoreCache": True})
    page.wait_for_event("load")
    wait_until_kept(page, 7)
    bench.shop.stop()
    page.locator(".bar .go").click()
    page.wait_for_url("**/blocks/*")


def test_whoever_works_goes_on_while_a_weak_line_is_silent(bench: Bench) -> None:
    page = at_the_first_block(bench, 3)
    held: list[Route] = []
    page.route("**/crushings", lambda route: route.continue_() if held else held.append(route))
    first = crush(page, "8", told="1 saved on this tablet, not sent yet")
    second = crush(page, "31.5", told="2 saved on this tablet, not sent yet")
    assert len(held) == 1 and bench.readings() == []
    held[0].continue_()
    # Each is sent without anybody doing anything; the second is refused for its gauge, and nobody waits at its form.
    expect(page.locator("#unsent")).to_contain_text("1 refused, waiting for you")
    assert [(label, gauge) for label, gauge, _, _ in bench.readings()] == [(first, 8.0)]
    assert second != first


def test_a_photo_taken_without_a_connection_is_kept_and_sent(bench: Bench) -> None:
    page = at_the_first_block(bench, 3)
    label = page.inner_text("h1").removeprefix("Block ")
    bench.shop.stop()
    taken = {"name": "block.jpg", "mimeType": "image/jpeg", "buffer": from_a_camera()}
    page.set_input_files("#photo-file", taken)
    expect(page.locator("#unsent")).to_contain_text("1 saved on this tablet, not sent yet")
    bench.shop.start()
    wait_until_sent(page)
    assert len(photos.album(bench.shop.cast.tess, of="block", thing_id=bench.blocks[label]).photos) == 1


def test_blocks_are_pressed_one_after_the_other_without_a_connection(bench: Bench) -> None:
    assert bench.context is not None
    page, ready = bench.context.pages[0], a_ready_job(bench.shop.cast)
    batch_id = ready.mix(ready.plan(groups=(replace(DRY, blocks=3),), batches=1))
    ready.press(batch_id, 1)
    page.goto(f"{bench.shop.address}/today")
    # Four pages of the bench, three blocks of the other job, the batch, its press, and each place that is left.
    wait_until_kept(page, 11)
    bench.shop.stop()
    page.goto(f"{bench.shop.address}/batches/{batch_id}/press")
    for block, wet_kg in (("2-A1-2", "2.61"), ("2-A1-3", "2.62")):
        expect(page.locator("h1")).to_have_text(f"Block {block}")
        page.get_by_label("Mass").locator("visible=true").first.fill(wet_kg)
        page.get_by_label("Height").locator("visible=true").first.fill("100")
        page.get_by_role("button", name=f"Save block {block}").click()
    expect(page.locator("#unsent")).to_contain_text("2 saved on this tablet, not sent yet")
    bench.shop.start()
    wait_until_sent(page)
    with Session(bench.shop.cast.stores.read) as session:
        pressed = session.exec(select(Block.label, Block.wet_mass_kg).where(Block.batch_id == batch_id)).all()
    assert sorted(pressed)[1:] == [("2-A1-2", 2.61), ("2-A1-3", 2.62)]


def test_what_is_on_the_tablet_is_sent_before_what_comes_after_it(bench: Bench) -> None:
    page = at_the_first_block(bench, 3)
    bench.shop.stop()
    first = crush(page, "8")
    bench.shop.start()
    second = crush(page, "9")
    wait_until_sent(page)
    assert [(label, gauge) for label, gauge, _, _ in bench.readings()] == [(first, 8.0), (second, 9.0)]


def test_a_refusal_waits_for_a_person_with_both_versions(bench: Bench) -> None:
    page = at_the_first_block(bench, 3)
    bench.shop.stop()
    label = crush(page, "8.5")
    given = Given("spoiled", "air-dry", spoiled_because="damaged before", orientation="flat", faces="bare")
    reading.record(bench.shop.cast.olu, block_id=bench.blocks[label], given=given)
    bench.shop.start()
    page.evaluate("trySending()")
    expect(page.locator("#unsent")).to_contain_text("1 refused, waiting for you")
    page.locator("#unsent a").click()
    both = page.locator(".both")
    expect(both).to_contain_text("8.5")
    expect(both).to_contain_text("spoiled")
    page.get_by_role("button", name="Use this tablet's instead").click()
    expect(page.get_by_text("Everything was sent.")).to_be_visible()
    assert [(one[0], one[1]) for one in bench.readings()] == [(label, 8.5)]


def test_a_gauge_above_the_limit_that_was_refused_later_can_be_said_to_be_so(bench: Bench) -> None:
    page = at_the_first_block(bench, 3)
    bench.shop.stop()
    label = crush(page, "31.5")
    bench.shop.start()
    page.evaluate("trySending()")
    page.locator("#unsent a").click()
    page.get_by_role("button", name="Correct and send again").click()
    page.get_by_label("The gauge did show this, above the working limit").check()
    save(page)
    wait_until_sent(page)
    assert [(one[0], one[1]) for one in bench.readings()] == [(label, 31.5)]


def test_an_entry_that_is_dropped_is_written_down_first(bench: Bench) -> None:
    page = at_the_first_block(bench, 3)
    bench.shop.stop()
    label = crush(page, "8.5")
    given = Given("spoiled", "air-dry", spoiled_because="damaged before", orientation="flat", faces="bare")
    reading.record(bench.shop.cast.olu, block_id=bench.blocks[label], given=given)
    bench.shop.start()
    page.evaluate("trySending()")
    expect(page.locator("#unsent")).to_contain_text("1 refused")
    page.locator("#unsent a").click()
    page.on("dialog", lambda dialog: dialog.accept())
    page.get_by_role("button", name="Delete this entry").click()
    expect(page.get_by_text("Everything was sent.")).to_be_visible()
    with Session(bench.shop.cast.stores.read) as session:
        newest = audit_log.entries(session, limit=1)[0]
    assert newest.act == "entry.settle" and "8.5" in newest.details


def test_a_full_tablet_says_that_it_could_not_save(bench: Bench) -> None:
    page = at_the_first_block(bench, 3)
    bench.shop.stop()
    with no_room(page):
        title = page.inner_text("h1")
        crush(page, "8", goes_on=False)
        expect(page.locator(".refusal").first).to_contain_text("Not saved: the storage of this tablet is full")
        expect(page.locator("[name=gauge_mpa]")).to_have_value("8")
    bench.shop.start()
    save(page)
    # Only then was it on the tablet: before, nothing waits there either.
    expect(page.locator("h1")).not_to_have_text(title)
    wait_until_sent(page)
    assert len(bench.readings()) == 1


def test_an_entry_is_never_recorded_for_whoever_holds_the_tablet_next(bench: Bench) -> None:
    page = at_the_first_block(bench, 3)
    bench.shop.stop()
    crush(page, "8")
    bench.shop.start()
    # Somebody else's page asks for it to be sent.
    told = page.evaluate("""async () => {
        const [entry] = await Entries.all();
        return post({ ...entry, person: "00000000-0000-0000-0000-000000000000" });
    }""")
    assert told["kind"] == "signed out"
    assert bench.readings() == []
    wait_until_sent(page)
    assert len(bench.readings()) == 1


def test_whoever_signs_out_is_told_of_entries_that_were_not_sent(bench: Bench) -> None:
    page = at_the_first_block(bench, 3)
    bench.shop.stop()
    crush(page, "8")
    page.once("dialog", lambda dialog: dialog.dismiss())
    # The tablet asks when it has looked up what it holds: that is after the click.
    with page.expect_event("dialog") as asked:
        page.get_by_role("button", name="Next person").click()
    assert "1 of your entries" in asked.value.message
    expect(page.locator("#unsent")).to_contain_text("1 saved")
    bench.shop.lossy.loses = False
    assert unsent(page) == 1


def test_the_owner_sees_what_a_tablet_holds_and_an_ended_tablet_forgets_it(bench: Bench) -> None:
    page = at_the_first_block(bench, 3)
    cast = bench.shop.cast
    bench.shop.stop()
    crush(page, "8")
    page.evaluate("() => { window.sendAll = async () => ({ kind: 'silent' }); }")
    bench.shop.start()
    page.evaluate(SPEAK)
    (line,) = tablets.listed(cast.olu)
    assert line.unsent >= 0 and line.last_spoke_at is not None
    tablets.end_tablet(cast.olu, device_id=line.id)
    page.evaluate(SPEAK)
    assert (kept_pages(page), unsent(page)) == (0, 0)
