"""Presses, materials, criteria, people and settings: the ladder of each."""

import re
from typing import Any

import pytest
import zxingcpp
from PIL import Image

from tests.cast import Browser, Cast

PRESS = {
    "form": "press",
    "name": "Old Toad",
    "crushes": "yes",
    "ram_diameter_mm": "76.2 mm",
    "rams": "1",
    "efficiency": "95 %",
    "rating_kn": "200 kN",
    "working_limit_kn": "160 kN",
}
GAUGE = {"name": "Big dial", "unit": "MPa", "graduation_mpa": "0.5 MPa", "full_scale_mpa": "40 MPa"}


def calibration(points: list[tuple[str, str]], **more: str) -> dict[str, str]:
    rows = {f"gauge_mpa.{row}": gauge for row, (gauge, _) in enumerate(points)}
    rows |= {f"force_kn.{row}": force for row, (_, force) in enumerate(points)}
    days = {"done_on": "2027-02-01", "valid_from": "2027-02-01", "valid_until": "2028-02-01"}
    return {"gauge_unit": "MPa", "force_unit": "kN", "reference": "load cell", **days, **rows, **more}


LINE = [("5", "21.9"), ("10", "43.5"), ("20", "86.8"), ("30", "129.9")]


def sentences(answer: Any) -> dict[str, str]:
    return dict(re.findall(r'data-error-of="([\w.]+)">([^<]+)<', answer.text))


@pytest.fixture
def olu(cast: Cast) -> Browser:
    return cast.browser("olu")


def gauge_of(olu: Browser) -> str:
    assert olu.post("/presses", PRESS).status_code == 303
    press = re.search(r"/presses/([0-9a-f-]{36})/gauges", olu.get("/presses").text)
    assert press
    assert olu.post(f"/presses/{press[1]}/gauges", {"form": f"gauge-{press[1]}", **GAUGE}).status_code == 303
    gauge = re.search(r"/presses/gauges/([0-9a-f-]{36})/", olu.get("/presses").text)
    assert gauge
    return gauge[1]


def test_a_calibration_is_kept_with_its_line(olu: Browser) -> None:
    gauge = gauge_of(olu)
    assert olu.post(f"/presses/gauges/{gauge}/calibrations", calibration(LINE)).status_code == 303
    shown = olu.get("/presses").text
    # Least squares by hand: Sxy = 1593.375 and Sxx = 368.75, so 4.3210 kN for each MPa.
    assert "4.321 kN for each MPa" in shown
    assert "129.9" in shown


def test_two_points_are_no_calibration(olu: Browser) -> None:
    gauge = gauge_of(olu)
    form = {"form": f"calibration-{gauge}", **calibration(LINE[:2])}
    answer = olu.post(f"/presses/gauges/{gauge}/calibrations", form)
    assert answer.status_code == 422


def test_a_replaced_calibration_needs_a_reason(olu: Browser) -> None:
    gauge = gauge_of(olu)
    olu.post(f"/presses/gauges/{gauge}/calibrations", calibration(LINE))
    old = re.search(r'<option value="([0-9a-f-]{36})"', olu.get("/presses").text)
    assert old
    form = {"form": f"calibration-{gauge}", **calibration(LINE, replaces_id=old[1])}
    assert "replaced_because" in sentences(olu.post(f"/presses/gauges/{gauge}/calibrations", form))
    form["replaced_because"] = "the cell was read in the wrong column"
    assert olu.post(f"/presses/gauges/{gauge}/calibrations", form).status_code == 303


def test_a_crushing_press_needs_a_working_limit_below_its_rating(olu: Browser) -> None:
    answer = olu.post("/presses", {**PRESS, "working_limit_kn": "200 kN"})
    assert answer.status_code == 422
    assert "working_limit_kn" in sentences(answer)
    assert 'value="Old Toad"' in answer.text


@pytest.mark.parametrize("typed", ["1,40", "nan", "1e999", "-3 mm", "14 parsec", "9" * 400, ""])
def test_what_is_no_length_is_refused_at_its_field(olu: Browser, typed: str) -> None:
    form = {"form": "mould", "name": "Half", "length_mm": typed, "width_mm": "90 mm", "height_mm": "90 mm"}
    answer = olu.post("/presses/moulds", form)
    assert answer.status_code == 422
    assert set(sentences(answer)) == {"length_mm"}
    assert 'value="Half"' in answer.text


def test_the_second_click_adds_nothing(olu: Browser) -> None:
    form = {"request_key": "one-and-the-same", "name": "Half", "length_mm": "140 mm", "width_mm": "90 mm"}
    for _ in range(2):
        assert olu.post("/presses/moulds", {**form, "height_mm": "90 mm"}).status_code == 303
    assert olu.get("/presses").text.count(">Half<") == 1


def test_a_price_counts_from_its_day_and_older_ones_stay(olu: Browser) -> None:
    path = olu.post("/materials", {"name": "Grey cement", "kind": "cement"}).headers["location"]
    for day, price in (("2027-01-01", "0.16"), ("2027-02-15", "0.18"), ("2027-06-01", "0.30")):
        form = {"valid_from": day, "per_kg": price, "per_kg_unit": "kg", "carbon_kg_per_kg": "0.86", "source": "bill"}
        assert olu.post(f"{path}/prices", form).status_code == 303
    shelf = olu.get("/materials").text
    # The clock of the test stands on 1 March 2027.
    assert "$0.18" in shelf
    assert "$0.30" not in shelf
    assert "$0.16" in olu.get(path).text


def test_a_price_for_a_pound_is_kept_to_the_millionth(olu: Browser) -> None:
    path = olu.post("/materials", {"name": "Grey cement", "kind": "cement"}).headers["location"]
    form = {"valid_from": "2027-01-01", "per_kg": "0.10", "per_kg_unit": "lb", "source": "bill"}
    olu.post(f"{path}/prices", form)
    # 0.10 / 0.45359237 = 0.220462.
    assert "$0.22" in olu.get("/materials").text


def test_a_price_says_what_one_bag_holds(olu: Browser) -> None:
    path = olu.post("/materials", {"name": "Grey cement", "kind": "cement"}).headers["location"]
    form = {"valid_from": "2027-01-01", "per_kg": "0.10", "per_kg_unit": "kg", "source": "bill", "bag_kg": "94 lb"}
    assert set(sentences(olu.post(f"{path}/prices", {**form, "bag_kg": "0 lb"}))) == {"bag_kg"}
    assert olu.post(f"{path}/prices", form).status_code == 303
    # 94 x 0.45359237 = 42.64 kg.
    assert "bag of 42.6 kg" in olu.get(path).text


def test_a_day_that_does_not_exist_is_refused(olu: Browser) -> None:
    path = olu.post("/materials", {"name": "Grey cement", "kind": "cement"}).headers["location"]
    form = {"valid_from": "2027-02-30", "per_kg": "0.10", "per_kg_unit": "lb", "source": "bill"}
    answer = olu.post(f"{path}/prices", form)
    assert set(sentences(answer)) == {"valid_from"}


def test_an_own_rule_for_soaked_blocks_names_its_soak(olu: Browser) -> None:
    rule = {
        "form": "own",
        "name": "House rule",
        "rests_on": "the engineer's letter",
        "demand": "soaked mean",
        "statistic": "mean",
        "limit": "2 MPa",
        "state": "soaked",
        "blocks": "4",
    }
    assert "soak_hours" in sentences(olu.post("/codes", rule))
    assert olu.post("/codes", {**rule, "soak_hours": "24 h"}).status_code == 303
    assert "House rule" in olu.get("/codes").text


def test_the_owner_notes_that_he_has_read_a_text(olu: Browser) -> None:
    assert "Not confirmed" in olu.get("/codes").text
    assert olu.post("/codes/published/nmac-ceb", {"note": "2021 text, clause J, 300 psi"}).status_code == 303
    assert "2021 text, clause J, 300 psi" in olu.get("/codes").text


@pytest.mark.parametrize("path", ["/presses", "/materials", "/codes"])
def test_a_technician_sees_the_bench_and_a_customer_does_not(cast: Cast, path: str) -> None:
    assert cast.browser("tess").get(path).status_code == 200
    assert cast.browser("cy").get(path).status_code == 403


@pytest.mark.parametrize("path", ["/presses", "/presses/moulds", "/codes", "/people", "/settings"])
def test_only_the_owner_changes_the_bench(cast: Cast, path: str) -> None:
    assert cast.browser("tess").post(path).status_code == 403


@pytest.mark.parametrize("path", ["/people", "/settings"])
def test_only_the_owner_sees_people_and_settings(cast: Cast, path: str) -> None:
    assert cast.browser("olu").get(path).status_code == 200
    assert cast.browser("tess").get(path).status_code == 403


def test_somebody_ended_gets_in_no_longer(cast: Cast, olu: Browser) -> None:
    tess = cast.browser("tess")
    assert tess.get("/").status_code == 200
    assert olu.post(f"/people/{cast.ids['tess']}/end").status_code == 303
    assert tess.get("/you", follow_redirects=False).status_code == 303


def squares(page: str) -> list[str]:
    """Return what a camera reads of the codes drawn on a page: each row is a run of lines, `m` moves and `h` draws."""
    found = []
    for size, drawn in re.findall(r'<svg viewBox="0 0 (\d+) \d+" class="code"><path stroke="#000" d="([^"]+)"', page):
        dots = Image.new("L", (int(size), int(size)), 255)
        x = y = 0.0
        for step, numbers in re.findall(r"([Mmh])([-\d. ]+)", drawn):
            right, *down = (float(one) for one in numbers.split())
            if step == "h":
                for place in range(int(right)):
                    dots.putpixel((int(x) + place, int(y)), 0)
            x, y = (right, down[0]) if step == "M" else (x + right, y + (down[0] if down else 0))
        found += [code.text for code in zxingcpp.read_barcodes(dots.resize((int(size) * 8, int(size) * 8)))]
    return found


def test_a_sign_in_link_is_also_a_square_for_a_camera(cast: Cast, olu: Browser) -> None:
    invited = {"name": "New Hand", "email": "new@shop.example", "role": "technician"}
    for made in (olu.post("/people", invited), olu.post(f"/people/{cast.ids['tess']}/address")):
        link = made.text.split('<code class="label">')[1].split("<")[0]
        assert squares(made.text) == [link] and "/sign-in/" in link
    assert squares(olu.get("/people").text) == []


def test_a_program_comes_in_with_its_token_until_it_is_ended(cast: Cast, olu: Browser) -> None:
    made = olu.post(f"/people/{cast.ids['tess']}/tokens", {"role": "technician", "lasts_days": "30"})
    token = made.text.split('<code class="label">')[1].split("<")[0]
    ended = re.search(r"/tokens/([0-9a-f-]{36})/end", olu.get("/people").text)
    assert ended
    assert token not in olu.get("/people").text
    assert olu.post(f"/tokens/{ended[1]}/end").status_code == 303
    assert "Passwords of programs" not in olu.get("/people").text


def test_settings_change_how_the_shop_writes(olu: Browser) -> None:
    form = {
        "name": "Sample Bench",
        "time_zone": "America/Denver",
        "currency": "EUR",
        "units_first": "imperial",
        "paper": "Letter",
        "language": "en",
        "assurance": "90 %",
        "margin": "10 %",
    }
    assert set(sentences(olu.post("/settings", {**form, "time_zone": "Mars/Base"}))) == {"time_zone"}
    assert olu.post("/settings", form).status_code == 303
    assert 'value="EUR"' in olu.get("/settings").text
