"""The scripts of a page: the stress as it is typed, and forms that are refused, lost or sent twice.

The page is made of the real parts and handed to the browser by the test, so that nothing but the scripts is tried.
"""

import json
import mimetypes
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from importlib.resources import files
from random import Random
from types import SimpleNamespace

import pytest
from playwright.sync_api import BrowserContext, Page, Route, expect

from service.paper.templates import environment
from service.trade.press.calibration import CalibrationPoint, fit_calibration
from service.trade.press.gauge_to_stress import peak_stress
from service.web.joined_files import KINDS, joined
from service.words.numbers_to_text import to_step
from service.words.units import convert

ORIGIN = "http://bench.test"
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; form-action 'self'"
)
UNITS = ("psi", "bar", "MPa")
CALIBRATION = fit_calibration(
    [
        CalibrationPoint(gauge_mpa=gauge, force_kn=force)
        for gauge, force in ((2, 8.6), (10, 43.4), (20, 87.5), (30, 131))
    ]
)
PAGE = """
{% extends "base.html" %}
{% block main %}
{% from "parts/form.html" import above_limit, act, choice, field, hidden, more, note, submit with context %}
{% from "parts/press.html" import live_stress %}
<h1>A page of the test</h1>
{% call act("/sent") %}
{{ choice("outcome", "How it ended", [("broke", "Broke"), ("held", "Held"), ("spoiled", "Spoiled")]) }}
{{ field("gauge_mpa", "Gauge", units=("psi", "bar", "MPa"), unit="MPa") }}
{{ hidden("length_mm", "140") }}{{ hidden("width_mm", "90") }}
{{ live_stress(slope, intercept, psi_per_mpa, factors, 2, 30, 28, 0.5) }}
{{ above_limit() }}
{% call more("Rarely") %}{{ note("remark", "Remark") }}{% endcall %}
{{ submit("Keep") }}
{% endcall %}
<a href="/elsewhere">Elsewhere</a>
{% endblock %}
"""


FOLDED = """
{% extends "base.html" %}
{% block main %}
{% from "parts/form.html" import correction, field with context %}
{% from "parts/words.html" import go %}
{% for form in ("first", "second") %}
{% call correction("/" ~ form, form) %}{{ field("gauge_mpa", "Gauge", value="9", form=form) }}{% endcall %}
{% endfor %}
{{ go("/queue", "Back to the queue") }}
{% endblock %}
"""


MASSES = """
{% extends "base.html" %}
{% block main %}
{% from "parts/form.html" import act, field with context %}
<div class="page narrow">
{% call act("/sent") %}
{% for name in ("one", "two", "three") %}
{{ field(name, "Mass", units=("lb", "oz", "short ton", "kg"), unit="oz", value="14 lb 15 1/2 oz") }}
{% endfor %}
{% endcall %}
</div>
{% endblock %}
"""


def page_of_the_test(source: str = PAGE) -> str:
    return (
        environment()
        .from_string(source)
        .render(
            request=SimpleNamespace(url=SimpleNamespace(path="/"), query_params={}),
            speaks="en",
            caller=SimpleNamespace(role="technician", name="Tess", device_id=None, person_id="tess"),
            now=datetime(2027, 3, 1, tzinfo=UTC),
            shop=SimpleNamespace(name="The test's own bench", comma_thousands=True),
            halves={},
            typed={},
            errors={},
            refusal="",
            new_key=lambda: "one-key",
            slope=CALIBRATION.line.slope * 1000,
            intercept=CALIBRATION.line.intercept * 1000,
            psi_per_mpa=convert(1.0, "MPa", "psi"),
            factors={"mm": 1.0} | {unit: convert(1.0, unit, "MPa") for unit in UNITS},
        )
    )


@dataclass
class Shop:
    """Answers the browser: files as they are, the page, and what the next form gets (None: no answer at all)."""

    answers: list[tuple[int, object] | None] = field(default_factory=list)
    sent: list[str] = field(default_factory=list)
    # What the shop knows of the form's key.
    knows: dict[str, object] = field(default_factory=dict)

    def answer(self, route: Route) -> None:
        path = route.request.url.removeprefix(ORIGIN)
        if path[8:] in KINDS:
            return self._file(route, joined(path[8:]).encode())
        if path.startswith("/vendor/"):
            return self._file(route, (files("django_htmx") / "static/django_htmx" / path[8:]).read_bytes())
        if path == "/":
            return self._page(route, page_of_the_test())
        if path.startswith("/sent/"):
            return route.fulfill(status=200, body=json.dumps(self.knows), content_type="application/json")
        if path.startswith(("/live", "/manifest", "/static/")):
            return route.fulfill(status=404)
        if path == "/masses":
            return self._page(route, page_of_the_test(MASSES))
        if path == "/folded":
            return self._page(route, page_of_the_test(FOLDED))
        return self._form(route, path)

    def _form(self, route: Route, path: str) -> None:
        self.sent.append(route.request.post_data or "")
        answer = self.answers.pop(0) if self.answers else (200, "<title>Kept</title><main><h1>Kept</h1></main>")
        if answer is None:
            return route.abort("internetdisconnected")
        status, body = answer
        if isinstance(body, str):
            return self._page(route, body, status)
        return route.fulfill(status=status, body=json.dumps(body), content_type="application/json")

    def _page(self, route: Route, body: str, status: int = 200) -> None:
        headers = {"Content-Security-Policy": POLICY}
        return route.fulfill(status=status, body=body, content_type="text/html; charset=utf-8", headers=headers)

    def _file(self, route: Route, body: bytes) -> None:
        kind = mimetypes.guess_type(route.request.url)[0] or "application/octet-stream"
        return route.fulfill(body=body, content_type=kind)


@pytest.fixture
def shop(context: BrowserContext) -> Shop:
    shop = Shop()
    context.route(f"{ORIGIN}/**", shop.answer)
    return shop


@pytest.fixture
def bench(shop: Shop, page: Page) -> Iterator[Page]:
    faults: list[str] = []
    page.on("pageerror", lambda fault: faults.append(str(fault)))
    page.goto(ORIGIN)
    yield page
    assert faults == []


def test_the_stress_shown_while_typing_is_the_one_of_the_trade(bench: Page) -> None:
    draw = Random(20270301)
    bench.check("[value=broke]")
    for _ in range(50):
        unit = draw.choice(UNITS)
        typed = f"{convert(draw.uniform(1, 35), 'MPa', unit):.4g}"
        bench.select_option("[name=gauge_mpa_unit]", unit)
        bench.fill("[name=gauge_mpa]", typed)
        gauge_mpa = convert(float(typed), unit, "MPa")
        face = {"face_length_mm": 140.0, "face_width_mm": 90.0}
        trade = peak_stress(CALIBRATION, gauge_mpa=gauge_mpa, graduation_mpa=0.5, **face)
        said = {to: to_step(trade.stress_mpa, step_mpa=trade.graduation_mpa, to=to) for to in ("MPa", "psi")}
        assert bench.inner_text(".stress-figure") == f"{said['MPa']} MPa"
        assert bench.inner_text(".stress-other").replace(",", "") == f"{said['psi']} psi"
        assert ("Beyond" in bench.inner_text(".stress-remark")) == (gauge_mpa < 2)
        assert ("stop" in bench.inner_text(".stress-remark")) == (gauge_mpa > 28)


def test_a_mass_in_pounds_and_ounces_fits_its_field_on_a_tablet_and_a_phone(bench: Page) -> None:
    clipped = (
        "() => [...document.querySelectorAll('.figure input')].filter((one) => one.scrollWidth > one.clientWidth)"
        ".map((one) => `${one.value}: ${one.scrollWidth} > ${one.clientWidth}`)"
    )
    for width in (820, 390):
        bench.set_viewport_size({"width": width, "height": 1180})
        bench.goto(f"{ORIGIN}/masses")
        assert bench.evaluate(clipped) == [], width


@pytest.mark.parametrize("floor", [False, True], ids=["rounded", "rounded down"])
def test_figures_are_rounded_as_the_server_rounds_them(bench: Page, floor: bool) -> None:
    draw = Random(7)
    values = [10 ** draw.uniform(-3, 5) for _ in range(500)] + [9.996, 9.995, 999.5, 0.09995, 1234567.0, 2.5, 1e-7]
    steps = [10 ** draw.uniform(-2, 2) for _ in values[:-7]] + [0.13, 0.1, 50.0, 0.01, 1000.0, 1.0, 0.1]
    pairs = [list(pair) for pair in zip(values, steps, strict=True)]
    asked = "([pairs, floor]) => pairs.map(([value, step]) => toStep(value, step, floor))"
    said = [to_step(value, step_mpa=step, to="MPa", held=floor) for value, step in pairs]
    assert bench.evaluate(asked, [pairs, floor]) == [one.removeprefix("at least ") for one in said]


def test_no_stress_is_shown_before_it_is_said_how_the_block_ended(bench: Page) -> None:
    bench.fill("[name=gauge_mpa]", "20")
    expect(bench.locator(".stress-figure")).to_have_text("–")
    bench.check("[value=spoiled]")
    expect(bench.locator(".stress-figure")).to_have_text("–")
    bench.check("[value=broke]")
    expect(bench.locator(".stress-figure")).to_contain_text("MPa")


def test_a_thumb_that_says_how_it_ended_goes_on_to_the_gauge_and_a_key_does_not(bench: Page) -> None:
    bench.locator("[value=broke]").focus()
    bench.keyboard.press("Space")
    expect(bench.locator("[value=broke]")).to_be_focused()
    bench.locator(".option", has_text="Held").click()
    expect(bench.locator("#gauge_mpa")).to_be_focused()
    bench.fill("[name=gauge_mpa]", "20")
    bench.locator(".option", has_text="Broke").click()
    expect(bench.locator("[value=broke]")).to_be_focused()


def test_the_stress_of_a_held_block_says_at_least(bench: Page) -> None:
    bench.check("[value=held]")
    bench.fill("[name=gauge_mpa]", "20")
    expect(bench.locator(".stress-figure")).to_contain_text("at least")


def test_the_stress_can_be_read_from_across_the_bench(bench: Page) -> None:
    size = bench.eval_on_selector(".stress-figure", "(place) => parseFloat(getComputedStyle(place).fontSize)")
    assert size >= 44


def test_a_refusal_goes_to_its_field_and_what_was_typed_stays(bench: Page, shop: Shop) -> None:
    told = {"error": "Look again.", "fields": {"remark": "Too long.", "gauge_mpa": "Write a number.", "zero": "Odd."}}
    shop.answers = [(422, told)]
    bench.fill("[name=gauge_mpa]", "1,5")
    bench.get_by_role("button", name="Keep").click()
    expect(bench.locator("#gauge_mpa-error")).to_have_text("Write a number.")
    expect(bench.locator("#gauge_mpa")).to_have_attribute("aria-invalid", "true")
    expect(bench.locator("#gauge_mpa")).to_be_focused()
    expect(bench.locator("#gauge_mpa")).to_have_value("1,5")
    expect(bench.locator("#remark")).to_be_visible()
    # A field that the form does not show has its sentence beside the general one.
    expect(bench.locator(".refusal")).to_have_text("Look again. Odd.")


def test_a_gauge_above_the_limit_brings_the_box_that_says_so(bench: Page, shop: Shop) -> None:
    expect(bench.locator("#above_limit")).to_be_hidden()
    shop.answers = [(422, {"error": "Above.", "fields": {"gauge_mpa": "Above.", "above_limit": "Tick this."}})]
    bench.get_by_role("button", name="Keep").click()
    expect(bench.locator("#above_limit")).to_be_visible()
    expect(bench.locator("#above_limit-error")).to_have_text("Tick this.")
    expect(bench.locator(".refusal")).to_have_text("Above.")


def test_a_form_may_be_sent_again_after_a_refusal(bench: Page, shop: Shop) -> None:
    shop.answers = [(422, {"error": "Look again.", "fields": {}})]
    bench.get_by_role("button", name="Keep").click()
    expect(bench.locator(".refusal")).to_have_text("Look again.")
    bench.get_by_role("button", name="Keep").click()
    expect(bench.get_by_role("heading", name="Kept")).to_be_visible()
    assert len(shop.sent) == 2


def test_a_second_push_while_the_first_is_on_its_way_is_not_sent(bench: Page, shop: Shop) -> None:
    bench.evaluate("() => { const f = document.querySelector('.sheet'); f.requestSubmit(); f.requestSubmit(); }")
    expect(bench.get_by_role("heading", name="Kept")).to_be_visible()
    assert len(shop.sent) == 1


def test_a_form_without_an_answer_finds_out_that_it_was_not_saved_and_is_sent_with_the_same_key(
    bench: Page, shop: Shop
) -> None:
    shop.answers, shop.knows = [None], {"saved": False, "see": None}
    bench.fill("[name=gauge_mpa]", "12.5")
    bench.get_by_role("button", name="Keep").click()
    expect(bench.locator(".refusal")).to_contain_text("This was not saved")
    expect(bench.locator("#gauge_mpa")).to_have_value("12.5")
    bench.get_by_role("button", name="Keep").click()
    expect(bench.get_by_role("heading", name="Kept")).to_be_visible()
    assert ["request_key=one-key" in sent for sent in shop.sent] == [True, True]


def test_a_form_of_which_only_the_answer_was_lost_is_not_asked_for_again(bench: Page, shop: Shop) -> None:
    shop.answers, shop.knows = [None], {"saved": True, "see": "/elsewhere"}
    bench.fill("[name=gauge_mpa]", "12.5")
    bench.get_by_role("button", name="Keep").click()
    expect(bench.get_by_role("heading", name="Kept")).to_be_visible()
    assert len(shop.sent) == 2 and not shop.sent[1]


def test_a_form_is_not_called_lost_while_nobody_knows(bench: Page, shop: Shop) -> None:
    shop.answers, shop.knows = [None], {}
    bench.get_by_role("button", name="Keep").click()
    expect(bench.locator(".refusal")).to_contain_text("We do not know whether this was saved")


def test_a_form_that_is_worked_at_for_long_is_not_called_unsaved_meanwhile(bench: Page, shop: Shop) -> None:
    shop.knows = {"saved": False, "see": None}
    with bench.expect_response("**/sent/one-key"):
        bench.evaluate("() => htmx.trigger(document.querySelector('main form'), 'htmx:timeout')")
    shop.knows = {"saved": True, "see": "/elsewhere"}
    expect(bench.locator(".refusal")).to_contain_text("We do not know whether this was saved")
    expect(bench.get_by_role("heading", name="Kept")).to_be_visible()


def test_a_link_without_network_leaves_the_page_and_says_so(bench: Page, shop: Shop) -> None:
    shop.answers = [None]
    bench.fill("[name=gauge_mpa]", "12.5")
    bench.get_by_role("link", name="Elsewhere").click()
    expect(bench.get_by_role("status")).to_contain_text("No answer")
    expect(bench.locator("#gauge_mpa")).to_have_value("12.5")


def test_a_page_that_refuses_is_shown_like_any_page(bench: Page, shop: Shop) -> None:
    shop.answers = [(404, "<title>Not found</title><main><h1>Not found</h1></main>")]
    bench.get_by_role("link", name="Elsewhere").click()
    expect(bench.get_by_role("heading", name="Not found")).to_be_visible()


def test_the_folded_menu_shuts_with_escape_and_gives_the_keyboard_back(bench: Page) -> None:
    bench.locator("nav summary").click()
    expect(bench.get_by_role("link", name="Materials", exact=True)).to_be_visible()
    bench.keyboard.press("Escape")
    expect(bench.get_by_role("link", name="Materials", exact=True)).to_be_hidden()
    expect(bench.locator("nav summary")).to_be_focused()


def test_a_number_keeps_its_unit_beside_it_and_an_endless_word_may_be_broken(bench: Page) -> None:
    told = bench.evaluate(
        """(endless) => {
          const told = document.createElement("p");
          told.innerHTML = `8 % of 2 mm, 3 more<b>${endless}</b><textarea>8 %</textarea>`;
          document.querySelector("main").append(told);
          keepWhole(told);
          return [told.firstChild.data, told.querySelector("b").className, told.querySelector("textarea").value];
        }""",
        "W" * 80,
    )
    assert told == ["8\N{NO-BREAK SPACE}% of 2\N{NO-BREAK SPACE}mm, 3 more", "too-long", "8 %"]


def test_an_act_that_was_kept_says_so_in_one_line(bench: Page, shop: Shop) -> None:
    page = page_of_the_test("{% extends 'base.html' %}{% block main %}<h1>Kept</h1>{% endblock %}")
    shop.answers = [(200, page)]
    bench.check("[value=broke]")
    bench.get_by_role("button", name="Keep").click()
    expect(bench.get_by_role("heading", name="Kept")).to_be_visible()
    expect(bench.locator("#line")).to_have_text("Done: Keep.")


def test_a_page_that_refuses_an_act_is_not_told_as_done(bench: Page, shop: Shop) -> None:
    page = page_of_the_test("{% extends 'base.html' %}{% block main %}<h1>Enter your password again</h1>{% endblock %}")
    shop.answers = [(403, page)]
    bench.check("[value=broke]")
    bench.get_by_role("button", name="Keep").click()
    expect(bench.get_by_role("heading", name="Enter your password again")).to_be_visible()
    # A line that an act was done is written 60 ms after the page settled.
    bench.wait_for_timeout(300)
    expect(bench.locator("#line")).to_have_text("")


def test_an_open_correction_has_the_bar_to_itself(bench: Page, shop: Shop) -> None:
    bench.goto(f"{ORIGIN}/folded")
    away = bench.get_by_role("link", name="Back to the queue")
    expect(away).to_be_visible()
    bench.get_by_text("Correct this").first.click()
    expect(away).to_be_hidden()
    expect(bench.get_by_role("button", name="Save correction")).to_have_count(1)
    bench.get_by_text("Correct this").last.click()
    expect(bench.get_by_role("button", name="Save correction")).to_have_count(1)
    bench.locator("#second-because").fill("misread")
    bench.get_by_role("button", name="Save correction").click()
    expect(bench.get_by_role("heading", name="Kept")).to_be_visible()
    assert "form=second" in shop.sent[-1] and "because=misread" in shop.sent[-1]


@pytest.mark.parametrize("typed", ["2 1/2", "2½", "2-1/2", "2.5"])
def test_the_live_stress_takes_fractions_as_the_server_does(bench: Page, typed: str) -> None:
    bench.check("[value=broke]")
    bench.fill("[name=gauge_mpa]", "2.5")
    same = bench.locator(".stress-figure").inner_text()
    bench.fill("[name=gauge_mpa]", typed)
    assert bench.locator(".stress-figure").inner_text() == same != "–"


def test_the_live_stress_takes_thousands_as_the_shop_writes_them(bench: Page) -> None:
    bench.check("[value=broke]")
    bench.select_option("[name=gauge_mpa_unit]", "psi")
    bench.fill("[name=gauge_mpa]", "1500")
    same = bench.locator(".stress-figure").inner_text()
    bench.fill("[name=gauge_mpa]", "1,500")
    assert bench.locator(".stress-figure").inner_text() == same != "–"
