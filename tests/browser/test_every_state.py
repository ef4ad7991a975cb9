"""Every page in all its states: readable by a screen reader in light and dark, and no wider than a phone.

The list of states is made (tests/page_states.py). One Chromium shows them one after the other, swapped in by htmx with
all scripts and styles as a followed link is; no shop is served. axe looks at each state by the rules of WCAG 2.2 A and
AA and its own best practice; at contrast once for each style that text has, for what has the same style has the same
contrast. Folded parts are opened first, for axe passes over what is not shown.
"""

import shutil
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Literal
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from fastapi.testclient import TestClient
from playwright.sync_api import Browser, Page, Route

from service.desk.curing import acts
from service.desk.signing_in import own_access, tablets
from service.web.authentication import sha256
from service.web.cookies import TABLET_COOKIE
from tests.bench_rows import press_with_line, pressed_job
from tests.browser.tablets import PIN
from tests.cast import PASSWORD, Cast
from tests.demo_pages import Demo, told
from tests.page_states import OF_THE_SITE, States, pages_without_rows

PHONE = {"width": 390, "height": 844}
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
WITHIN = Path(__file__).with_name("every_state.js").read_text()
# A page of the site has its scripts; of those without, each is loaded by itself.
OF_THE_FRAME = 'src="/static/all.js"'
SHOPS_VERSION = {"lines": [["1-A1-1", "crushed at 8.1 MPa"]], "correct": "/blocks/1/crushings/1/corrections"}
# As a tablet shows a page that it kept, with entries of its own: one not sent, one refused, one of somebody else.
WITHOUT_A_LINE = """async () => {
    const entry = (number, more) => ({ key: `key ${number}`, person: facts().person, who: "Tess", title: "Block 1-A1-1",
        action: "/blocks/1/crushings", page: "/blocks/1", fields: [], blocks: [], shown: [["Gauge at the peak", "8.5"]],
        at: Date.now(), clock: 0, state: "unsent", ...more });
    await Entries.add(entry(1, {}));
    await Entries.add(entry(2, { state: "waiting", told: { error: "It is crushed already.", fields: {} } }));
    await Entries.add(entry(3, { person: "somebody else", who: "Olu" }));
    document.getElementById("facts").dataset.keptAt = new Date().toISOString();
    sayKept();
    sayClock(180000);
    await showUnsent();
}"""


@pytest.fixture(scope="module")
def demo(told_demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Demo]:
    folder = tmp_path_factory.mktemp("demo")
    shutil.copytree(told_demo, folder, dirs_exist_ok=True)
    with told(folder) as opened:
        yield opened


@pytest.fixture
def shown(browser: Browser, demo: Demo) -> Iterator[Page]:
    """Yield the first page of the owner, with its scripts and styles, and axe in it."""
    client = demo.client("owner")

    def answer(route: Route) -> None:
        path = urlsplit(route.request.url).path
        if path == "/unsent/shop":
            route.fulfill(json=SHOPS_VERSION)
        elif path == "/" or path.startswith(("/static/", "/vendor/")):
            found = client.get(path)
            route.fulfill(body=found.content, content_type=found.headers["content-type"])
        else:
            route.fulfill(status=204)

    with browser.new_context(
        viewport=PHONE, service_workers="block", bypass_csp=True, reduced_motion="reduce"
    ) as context:
        context.route("**/*", answer)
        context.add_init_script(f"addEventListener('DOMContentLoaded', () => {{ {Axe().axe_script}\n{WITHIN} }})")
        page = context.new_page()
        page.goto("http://localhost/")
        yield page


def looked_at(page: Page) -> list[str]:
    """Return what is wrong with what is shown."""
    page.evaluate("openFolds()")
    broken = page.evaluate("brokenRules", RULES) + page.evaluate("tooWide()")
    broken += page.evaluate("cutOffWhenSpaced()")
    page.emulate_media(color_scheme="dark")
    broken += [f"dark: {one}" for one in page.evaluate("faintInTheDark()")]
    page.emulate_media(color_scheme="light")
    return [str(one) for one in broken]


def show(page: Page, text: str) -> None:
    """Show a state."""
    if OF_THE_FRAME in text:
        page.evaluate("showState", text)
        return
    page.route("**/alone", lambda route: route.fulfill(body=text, content_type="text/html"), times=1)
    page.goto("http://localhost/alone")


def wrong_in(page: Page, states: States) -> dict[str, list[str]]:
    """Return what is wrong, by state."""
    page.goto("http://localhost/")
    wrong = {}
    for framed in (True, False):
        for name, text in states.found.items():
            if (OF_THE_FRAME in text) is framed:
                show(page, text)
                wrong[name] = looked_at(page)
    return {name: found for name, found in wrong.items() if found}


def states_of_the_demo(demo: Demo) -> Iterator[States]:
    """Yield the states of a shop in full swing: to its people, to a customer in either language, and when refused."""
    states, owner, customer = States(), demo.client("owner"), demo.client("customer")
    states.walked(owner, who="the owner", most=3)
    states.walked(customer, who="a customer", most=3)
    gauges = [one["id"] for press in owner.get("/api/v1/presses").json()["presses"] for one in press["gauges"]]
    for number, gauge in enumerate(gauges):
        zero = {
            "gauge_id": gauge,
            "zero_before_mpa": "0",
            "zero_before_mpa_unit": "MPa",
            "request_key": f"{number:032}",
        }
        owner.post("/crushing/sessions", data=zero | {"request_key": f"{number:032}"}, headers=OF_THE_SITE)
    states.asked(demo.client("technician"), ["/", "/today", "/crushing", "/you"], when="to a technician")
    states.refused(owner)
    yield states
    spanish = States()
    customer.post("/you/language", data={"language": "es", "request_key": "es"}, headers=OF_THE_SITE)
    spanish.walked(customer, who="a Spanish customer", most=1)
    yield spanish


def states_of_a_small_shop(cast: Cast, states: States) -> None:
    """Add the states of a shop without a row, to a stranger, on a day with work, on a tablet, and when all is late."""
    states.asked(cast.browser("olu").client, pages_without_rows(cast.app), when="in an empty shop")
    states.asked(TestClient(cast.app, base_url="http://localhost"), pages_without_rows(cast.app), when="to a stranger")
    ids = pressed_job(cast, groups=({"condition": "soaked", "soak_hours": 24.0}, {"condition": "air-dry"}))
    bench = ["/today", "/curing", "/crushing", *(f"/blocks/{ids[f'1-A1-{number}']}" for number in (1, 2, 4))]
    cast.clock.now += timedelta(days=6)
    acts.put_to_soak(cast.tess, block_ids=[ids["1-A1-1"]])
    states.asked(cast.browser("tess").client, [*bench, f"/today?block={ids['1-A1-2']}"], when="with work")
    cast.clock.now += timedelta(days=60)
    states.asked(cast.browser("tess").client, bench, when="when all is late")
    press_with_line(cast)
    states.asked(cast.browser("tess").client, bench, when="with a gauge")
    own_access.set_pin(cast.tess, password=PASSWORD, pin=PIN)
    tablets.enrol(cast.olu, name="Press bench", token_sha256=sha256("enrol"))
    tablets.begin(cast.olu, token_sha256=sha256("enrol"), device_sha256=sha256("tablet"))
    tablet = TestClient(cast.app, base_url="http://localhost", cookies={TABLET_COOKIE: "tablet"})
    states.asked(tablet, ["/tablet", f"/tablet/{cast.ids['tess']}"], when="on a tablet")


def test_no_state_of_any_page_hinders_a_screen_reader_or_is_wider_than_a_phone(
    demo: Demo, cast: Cast, shown: Page
) -> None:
    states, spanish = states_of_the_demo(demo)
    states_of_a_small_shop(cast, states)
    assert len(states.found) > 130 and len(spanish.found) > 5
    assert wrong_in(shown, states) == {}
    assert wrong_in(shown, spanish) == {}


def test_a_page_kept_on_a_tablet_and_its_entries_hinder_no_screen_reader(demo: Demo, shown: Page) -> None:
    show(shown, demo.client("technician").get("/unsent").text)
    shown.evaluate(WITHOUT_A_LINE)
    shown.get_by_text("crushed at 8.1 MPa").wait_for()
    assert looked_at(shown) == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_edges_of_fields_and_the_focus_stand_out(demo: Demo, shown: Page, scheme: Literal["light", "dark"]) -> None:
    shown.emulate_media(color_scheme=scheme)
    show(shown, demo.client("owner").get("/jobs/new").text)
    edges = shown.evaluate("edges()")
    assert len(edges) > 3 and [one for one in edges if one[1] < 3] == []


def test_what_hinders_is_found(demo: Demo, shown: Page) -> None:
    states, text = States(), demo.client("owner").get("/customers").text
    states.add("/customers", text)
    states.add("/customers without a label", text.replace("<label", "<span").replace("</label", "</span"))
    states.add("/customers once more", text)
    ((name, found),) = wrong_in(shown, states).items()
    assert name == "/customers without a label" and any(one.startswith("label:") for one in found)
