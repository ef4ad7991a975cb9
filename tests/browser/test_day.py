"""A technician's whole day at the shop's tablet, by touch and by keyboard alone, led by what the screens say.

From a clean sign-in by PIN through mixing, pressing, curing, soaking and crushing. Whoever does it knows no address
and no name of a field: they tap, or reach with the tabulator, what is called so. What a stage took is held against
what somebody counted before, for three recipes of six blocks (docs/effort.md), a recipe or a block at a time.
"""

from abc import ABC, abstractmethod
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta

import pytest
from playwright.sync_api import Browser, Page, expect

from service.app import create_app
from service.desk.signing_in import own_access, tablets
from service.settings import Settings
from service.web.authentication import sha256
from service.web.cookies import TABLET_COOKIE
from tests.bench_rows import press_with_line
from tests.browser.serving import ONE_STEP_MS, serving
from tests.browser.tablets import PIN
from tests.cast import PASSWORD, Cast
from tests.mixes import DRY, WET, a_ready_job

TABLET = {"width": 820, "height": 1180}
BLOCKS = 4
# Taps and keys of three recipes with eighteen blocks: of a batch, of a block, of the covers and the water of a job.
MOST = {"mix": (26 / 3, 62 / 3), "press": (85 / 18 * BLOCKS, 233 / 18 * BLOCKS), "cure and soak": (14, 0),
        "crush": (97 / 18 * BLOCKS, 107 / 18 * BLOCKS)}  # fmt: skip
NAME = """() => {
    const one = document.activeElement;
    if (!one || one === document.body) return "";
    const said = one.labels && one.labels.length ? one.labels[0].innerText : one.ariaLabel || one.innerText;
    return said.trim();
}"""
LONGEST_WAY = 90


@dataclass
class Hand(ABC):
    """Somebody at the tablet, and what each stage took of them."""

    page: Page
    stage: str = "sign in"
    took: dict[str, list[int]] = field(default_factory=dict)

    def count(self, *, taps: int = 0, keys: int = 0) -> None:
        """Note what the stage of now took."""
        mine = self.took.setdefault(self.stage, [0, 0])
        mine[0] += taps
        mine[1] += keys

    def press(self, name: str) -> None:
        """Press what is called so: a button, a link or a choice."""
        self.count(taps=1)
        self.reach(name)

    def write(self, label: str, text: str) -> None:
        """Fill in the field that is called so."""
        self.count(taps=1, keys=len(text))
        self.enter(label, text)

    @abstractmethod
    def reach(self, name: str) -> None:
        """Press it by the means of this hand."""

    @abstractmethod
    def enter(self, label: str, text: str) -> None:
        """Type into it by the means of this hand."""

    def sees(self, heading: str) -> None:
        """Wait for a heading."""
        expect(self.page.get_by_role("heading", name=heading).first).to_be_visible()


class Finger(Hand):
    """A finger on the glass; the keys come up under the field that it taps."""

    def reach(self, name: str) -> None:
        """Tap it where it is shown."""
        pressed = self.page.get_by_role("button", name=name).or_(self.page.get_by_role("link", name=name))
        shown = pressed.or_(self.page.locator("label", has_text=name))
        shown.locator("visible=true").first.tap()

    def enter(self, label: str, text: str) -> None:
        """Tap the field and type."""
        self.page.get_by_label(label).locator("visible=true").first.tap()
        self.page.keyboard.type(text)


class Keys(Hand):
    """A keyboard and nothing else."""

    def tab_to(self, name: str) -> None:
        """Go on with the tabulator until what is called so has the focus."""
        for _ in range(LONGEST_WAY):
            if name in self.page.evaluate(NAME):
                return
            self.page.keyboard.press("Tab")
        raise LookupError(f"{name} cannot be reached by keyboard on {self.page.url}.")

    def reach(self, name: str) -> None:
        """Press it with the space bar if it is a choice, else with Return."""
        self.tab_to(name)
        is_choice = self.page.evaluate("document.activeElement.matches('[type=radio], [type=checkbox]')")
        self.page.keyboard.press("Space" if is_choice else "Enter")

    def enter(self, label: str, text: str) -> None:
        """Go to the field and type."""
        self.tab_to(label)
        self.page.keyboard.type(text)


@dataclass
class Ahead:
    """How far the shop's clock is ahead of this machine's."""

    by: timedelta = timedelta(0)

    def now(self) -> datetime:
        """Return the moment of the shop."""
        return datetime.now(UTC) + self.by


@pytest.fixture
def ahead(cast: Cast) -> Ahead:
    """Return the clock of a shop with a recipe to mix today and a press to crush at."""
    cast.clock.now = datetime.now(UTC)
    a_ready_job(cast).plan(groups=(replace(DRY, blocks=BLOCKS // 2), replace(WET, blocks=BLOCKS // 2)), batches=1)
    press_with_line(cast)
    own_access.set_pin(cast.tess, password=PASSWORD, pin=PIN)
    tablets.enrol(cast.olu, name="Press bench", token_sha256=sha256("enrol"))
    tablets.begin(cast.olu, token_sha256=sha256("enrol"), device_sha256=sha256("tablet"))
    return Ahead()


@pytest.fixture
def address(cast: Cast, ahead: Ahead) -> Iterator[str]:
    stores = replace(cast.stores, clock=ahead.now)
    with serving(create_app(Settings(database_url=str(stores.read.url), address="http://localhost"), stores)) as served:
        yield served.replace("127.0.0.1", "localhost")


@pytest.mark.parametrize("kind", [Finger, Keys], ids=["by touch", "by keyboard alone"])
def test_a_whole_day_is_led_by_the_screens_own_words(
    browser: Browser, address: str, ahead: Ahead, kind: type[Hand]
) -> None:
    with browser.new_context(viewport=TABLET, has_touch=True) as context:
        context.set_default_timeout(ONE_STEP_MS)
        context.add_cookies([{"name": TABLET_COOKIE, "value": "tablet", "url": address}])
        hand = kind(context.new_page())
        come_in(hand, address)
        mix(hand)
        press_blocks(hand)
        hand.stage = "cure and soak"
        hand.press("Go to curing")
        hand.press("They are covered now")
        expect(hand.page.get_by_role("button", name="The cover is off now")).to_be_visible()
        # The soak of four hours may begin at seven days less six hours less four.
        hand.page.close()
        ahead.by = timedelta(days=7, hours=-9)
        come_in(hand, address)
        hand.stage = "cure and soak"
        hand.sees("Soak 2 blocks of job 1")
        hand.press("They are in the water now")
        expect(hand.page.get_by_text("Put to soak")).to_be_visible()
        expect(hand.page.get_by_text("Nothing is to be done now.")).to_be_visible()
        hand.page.close()
        ahead.by += timedelta(hours=5)
        come_in(hand, address)
        hand.stage = "cure and soak"
        hand.press("The cover is off now")
        expect(hand.page.get_by_text("Cover taken off")).to_be_visible()
        crush(hand)
    for stage, (taps, keys) in MOST.items():
        assert hand.took[stage][0] < taps and hand.took[stage][1] <= keys, (stage, hand.took)


def come_in(hand: Hand, address: str) -> None:
    """Sign in at the pad; what lies before the first task is no stage of the work."""
    hand.stage = "sign in"
    hand.page = hand.page.context.new_page()
    hand.page.goto(f"{address}/tablet")
    hand.press("Tess")
    hand.page.wait_for_selector(".pad")
    if isinstance(hand, Keys):
        hand.page.keyboard.type(PIN)
    else:
        for digit in PIN:
            hand.page.locator(".keys button", has_text=digit).first.tap()
    hand.sees("Today")


def mix(hand: Hand) -> None:
    """Start the batch, weigh it out as the sheet says, and save the masses."""
    hand.stage = "mix"
    hand.press("Mix recipe A of job 1")
    hand.sees("Start batch 1 of recipe A")
    hand.write("The scale shows steps of", "0.01")
    hand.press("Work out what to weigh")
    hand.sees("Weigh out in this order, water last")
    for row in hand.page.locator("main tr:has(input.cell)").all():
        label = row.locator("input").get_attribute("aria-label") or ""
        hand.write(label, row.locator("td.num").first.inner_text())
    hand.press("Save weights")
    hand.sees("Planned and achieved")


def press_blocks(hand: Hand) -> None:
    """Press the trial fill and every block; the next one comes up by itself."""
    hand.stage = "press"
    hand.press("Press the trial fill")
    hand.sees("Trial fill")
    hand.write("Height it came out with", "100")
    hand.press("Use this charge for all blocks")
    hand.press("Save trial fill")
    for block in range(1, BLOCKS + 1):
        hand.sees(f"Block 1-A1-{block}")
        hand.write("Mass", "2.61")
        hand.write("Height", "100")
        hand.press(f"Save block 1-A1-{block}")
    hand.sees("All blocks of this batch are pressed")


def crush(hand: Hand) -> None:
    """Read the gauge unloaded and crush every block; after the last one the job's readings are shown."""
    hand.stage = "crush"
    hand.sees(f"Crush {BLOCKS} blocks of job 1")
    hand.press(f"Crush {BLOCKS} blocks of job 1")
    hand.sees("Before you start: read the gauge unloaded")
    hand.press("Save gauge zero and start crushing")
    met = set[str]()
    for _ in range(BLOCKS):
        expect(hand.page.get_by_text("Save reading")).to_be_visible()
        met.add(hand.page.inner_text("h1"))
        hand.press("It broke")
        hand.write("Gauge at the peak", "8.5")
        hand.press("Save reading")
        hand.page.wait_for_function("met => !met.includes(document.querySelector('h1').innerText)", arg=list(met))
    assert len(met) == BLOCKS
    hand.sees("Readings")
