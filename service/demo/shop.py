"""The demo shop: loaded once, through the desks, from the invented story in shop.toml."""

import hmac
import tomllib
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from secrets import token_hex, token_urlsafe
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from service.demo.invented_days import Clock, Teller, set_price, typed
from service.demo.job import tell_job
from service.demo.soil import test_soil
from service.desk import materials, people, press_tools, presses
from service.desk.doorway import Caller, Role, ShopFacts, Stores, Via
from service.desk.intake import soil_tests
from service.desk.press_tools import GaugeGiven, MouldGiven, PressGiven
from service.desk.signing_in import sessions, sign_in
from service.typed import Typed
from service.web.authentication import sha256

STORY = Path(__file__).with_name("shop.toml")
OPENED_DAYS_AGO = 420


@dataclass(frozen=True)
class Welcome:
    """A one-use way in for somebody of the demo."""

    name: str
    role: str
    token: str


def load(stores: Stores, *, now: datetime, tell: Callable[[str], object] = lambda line: None) -> None:
    """Tell the story into an empty shop; one that was told already keeps what people did since."""
    if sessions.is_open(_nobody(stores)):
        return
    tell("Writing the example shop, which takes a moment the first time.")
    story = tomllib.loads(STORY.read_text("utf-8"))
    clock = Clock(now - timedelta(days=OPENED_DAYS_AGO))
    teller = Teller(replace(stores, clock=clock), clock, now, ZoneInfo(story["shop"]["time_zone"]))
    _open(teller, story)
    for material in story["material"]:
        _add_material(teller, material)
    for mould in story["mould"]:
        sides = {side: typed(mould[side], "length") for side in ("length_mm", "width_mm", "height_mm")}
        teller.ids[mould["name"]] = press_tools.add_mould(teller.owner, given=MouldGiven(mould["name"], **sides)).id
    for press in story["press"]:
        _add_press(teller, press)
    for number, job in enumerate(story["job"], start=1):
        tell(f"  job {number} of {len(story['job'])}: {job['site']}")
        tell_job(teller, job)


def password(stores: Stores) -> str:
    """Return the password of everybody in the demo, which follows from the demo's own secret."""
    return hmac.digest(stores.key, b"the password of the demo", "sha256").hex()[:24]


def welcomes(stores: Stores) -> list[Welcome]:
    """Return fresh one-use ways in for the people of the demo."""
    nobody = _nobody(stores)
    story = tomllib.loads(STORY.read_text("utf-8"))
    made = [Welcome(one["name"], one["role"], token_urlsafe(32)) for one in story["person"]]
    for person, welcome in zip(story["person"], made, strict=True):
        people.make_address_by_command(nobody, email=person["email"], token_sha256=sha256(welcome.token))
    return made


def _nobody(stores: Stores) -> Caller:
    return Caller(stores=stores, via=Via.COMMAND, request_id=token_hex(8))


def _open(teller: Teller, story: dict[str, Any]) -> None:
    nobody = _nobody(teller.stores)
    owner, *others = story["person"]
    facts, invited = ShopFacts(**story["shop"]), token_hex()
    people.open_shop(
        nobody,
        facts=facts,
        owner_name=owner["name"],
        owner_email=owner["email"],
        token_sha256=sha256(invited),
    )
    teller.callers["owner"] = _come_in(nobody, invited)
    people.change_shop(teller.owner, facts=facts, letterhead=story["letterhead"]["text"])
    for customer in story["customer"]:
        added = people.add_customer(teller.owner, name=customer["name"], contact=customer["contact"], language=None)
        teller.ids[customer["name"]] = added.id
    for person in others:
        invited = token_hex()
        people.invite(
            teller.owner,
            name=person["name"],
            email=person["email"],
            role=Role(person["role"]),
            customer_id=teller.ids.get(person.get("customer", "")),
            token_sha256=sha256(invited),
        )
        known = _come_in(nobody, invited)
        if person["role"] == "technician":
            teller.callers["technician"] = known


def _come_in(nobody: Caller, invited: str) -> Caller:
    session = token_hex()
    sign_in.use_address(
        nobody,
        token_sha256=sha256(invited),
        session_sha256=sha256(session),
        new_password=password(nobody.stores),
    )
    known = sessions.recognise(nobody, token_sha256=sha256(session), kind="session")
    if known is None:
        raise RuntimeError("Somebody of the demo could not come in.")
    return known.caller


def _add_material(teller: Teller, told: dict[str, Any]) -> None:
    material_id = materials.add_material(teller.owner, kind=told["kind"], name=told["name"]).id
    teller.ids[told["name"]] = material_id
    for price in told["prices"]:
        set_price(teller, material_id, price)
    test_soil(teller, material_id, soil_tests.About(done_at=teller.at(told["tested"], 15)), told)


def _add_press(teller: Teller, told: dict[str, Any]) -> None:
    teller.at(-OPENED_DAYS_AGO)
    force = {name: typed(told[name], "force") for name in ("rating_kn", "working_limit_kn") if name in told}
    given = PressGiven(
        name=told["name"],
        forms=told.get("forms", False),
        crushes=told.get("crushes", False),
        ram_diameter_mm=typed(told["ram_diameter_mm"], "length"),
        rams=told["rams"],
        efficiency=typed(told["efficiency"], "share"),
        rating_kn=force.get("rating_kn"),
        working_limit_kn=force.get("working_limit_kn"),
    )
    press_id = press_tools.add_press(teller.owner, given=given).id
    for gauge in told["gauge"]:
        dial = GaugeGiven(
            name=gauge["name"],
            graduation_mpa=typed(gauge["graduation_mpa"], "pressure"),
            least_mpa=None,
            full_scale_mpa=typed(gauge["full_scale_mpa"], "pressure"),
        )
        gauge_id = press_tools.add_gauge(teller.owner, press_id=press_id, unit=gauge["unit"], given=dial).id
        teller.ids[gauge["name"]] = gauge_id
        if "calibration" in gauge:
            _calibrate(teller, gauge_id, gauge["calibration"])


def _calibrate(teller: Teller, gauge_id: UUID, told: dict[str, Any]) -> None:
    done_on = teller.at(told["day"]).date()
    presses.add_calibration(
        teller.owner,
        gauge_id=gauge_id,
        done_on=done_on,
        valid_from=done_on,
        valid_until=(teller.today + timedelta(days=told["until"])).date(),
        reference=told["reference"],
        reference_uncertainty=typed(told["uncertainty"], "share"),
        coverage_factor=Typed(told["coverage"], f"{told['coverage']:g}", "of 1") if "coverage" in told else None,
        points=[(typed(f"{gauge} MPa", "pressure"), typed(f"{force} kN", "force")) for gauge, force in told["points"]],
    )
