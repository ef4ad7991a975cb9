"""The tests of one block besides crushing: bending, water taken up, drip and spray, wetting and drying."""

from collections.abc import Callable, Mapping
from typing import Any
from uuid import UUID

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse

from service.desk.block_tests import recording
from service.desk.block_tests import sheet as sheets
from service.desk.block_tests.given import OFFERED, Bending, Eroding, Given, Weighing, Wetting
from service.desk.block_tests.sheet import TestedBlock, TestFacts
from service.desk.doorway import ShopFacts
from service.errors import NotFound
from service.typed import put_back
from service.web.authentication import SentForm, StaffCaller
from service.web.error_pages import form_of
from service.web.form_input import FormReader, reading
from service.web.responses import page, see
from service.web.room import Room
from service.words.units import convert, offered

router = Room(prefix="/blocks/{block_id}/tests")

NAMES = {
    "bending": "Bending",
    "absorption": "Water absorption",
    "erosion": "Drip and spray",
    "cycles": "Wetting and drying",
}
CHOICES = {
    "bending": {
        "outcome": (("broke", "It broke"), ("held", "It did not break", "stopped before it broke")),
        "state": (("as cured", "Not soaked"), ("air-dry", "Air-dry"), ("oven-dry", "Oven-dry"), ("soaked", "Soaked")),
        "laid": (("flat", "Flat, as pressed"), ("on edge", "On edge")),
    },
    "absorption": {
        "manner": (("under water", "Under water"), ("damp surface", "On a damp surface")),
        "state_before": (
            ("oven-dry", "Oven-dry", "an absorption"),
            ("air-dry", "Air-dry", "an uptake"),
            ("as cured", "Not dried", "an uptake"),
        ),
        "outcome": (("weighed", "It was weighed"), ("fell apart", "It fell apart", "or lost material")),
    },
    "erosion": {
        "manner": (("drip", "Water dripped on it"), ("spray", "It was sprayed")),
        "outcome": (("measured", "The depth was measured"), ("went through", "The water went through")),
    },
    "cycles": {"outcome": (("weighed", "It was weighed"), ("fell apart", "It fell apart"))},
}
KINDS = {"force_kn": "force", "gauge_mpa": "pressure", "pressure_mpa": "pressure", "water_min": "minutes"}
QUANTITIES = {
    "bending": ("gauge_mpa", "force_kn", "span_mm", "width_mm", "thickness_mm"),
    "absorption": ("before_kg", "after_kg"),
    "erosion": ("depth_mm", "water_min", "pressure_mpa"),
    "cycles": ("mass_kg",),
}


@router.get("")
def show_all(request: Request, caller: StaffCaller, block_id: UUID) -> HTMLResponse:
    """Show the tests of a block and which may be begun."""
    return page(request, "block_tests.html", caller=caller, block=sheets.block(caller, block_id=block_id), names=NAMES)


@router.get("/{test}")
def show(request: Request, caller: StaffCaller, block_id: UUID, test: str) -> HTMLResponse:
    """Show one test of a block with its form."""
    block = sheets.block(caller, block_id=block_id)
    if test not in NAMES:
        raise NotFound("There is no such test.")
    return page(
        request,
        "block_test.html",
        caller=caller,
        block=block,
        test=test,
        names=NAMES,
        choices=CHOICES[test],
        values=_proposed(block, test, caller.shop),
        kept={one.id: _kept(one, caller.shop) for one in block.of(test)},
    )


def _kind(name: str) -> str:
    return KINDS.get(name, "length" if name.endswith("_mm") else "mass")


def _proposed(block: TestedBlock, test: str, shop: ShopFacts) -> dict[str, Any]:
    """Return what the empty form is filled in with, each quantity as (text, unit)."""
    units = {name: offered(_kind(name), shop.units_first)[0] for name in QUANTITIES[test]}
    sides = {"width_mm": block.width_mm, "thickness_mm": block.height_mm}
    words: dict[str, Any] = dict.fromkeys((*OFFERED[test], "remark", "press_session_id"), "")
    words |= {"laid": "flat", "manner": {"absorption": "under water"}.get(test, "")}
    if test == "bending" and block.state != "soaked":
        words["state"] = block.state
    if test == "bending" and block.press_sessions:
        units["gauge_mpa"] = block.press_sessions[0].unit
    cycles = [one.words["number"] for one in block.of("cycles")]
    return {
        **words,
        **{name: (_side(sides.get(name), unit), unit) for name, unit in units.items()},
        "number": max(cycles, default=-1) + 1,
        "done_at": None,
        "wetted_at": None,
        "weighed_at": None,
    }


def _side(mm: float | None, unit: str) -> str:
    return "" if mm is None else f"{convert(mm, 'mm', unit):.5g}"


def _kept(one: TestFacts, shop: ShopFacts) -> dict[str, Any]:
    """Return a standing test as the form of its correction shows it."""
    units = {name: offered(_kind(name), shop.units_first)[0] for name in QUANTITIES[one.test]}
    read = one.as_read
    return {
        "done_at": None,
        **{name: "" if word is None and name != "weighed_at" else word for name, word in one.words.items()},
        **{name: _again(read.get(name, {}), unit) for name, unit in units.items()},
    }


def _again(read: Mapping[str, str], unit: str) -> tuple[str, str]:
    again = put_back(read)
    return again.get("text", ""), again.get("unit") or unit


def _bending(read: FormReader) -> Bending:
    return Bending(
        outcome=read.choice("outcome", OFFERED["bending"]["outcome"]),
        state=read.choice("state", OFFERED["bending"]["state"]),
        laid=read.choice("laid", OFFERED["bending"]["laid"]),
        span_mm=read.quantity("span_mm", "length"),
        width_mm=read.quantity("width_mm", "length"),
        thickness_mm=read.quantity("thickness_mm", "length"),
        press_session_id=read.maybe_id("press_session_id"),
        gauge_mpa=read.maybe_quantity("gauge_mpa", "pressure"),
        above_limit=read.tick("above_limit"),
        force_kn=read.maybe_quantity("force_kn", "force"),
        remark=read.maybe_text("remark", most=500),
        done_at=read.maybe_moment("done_at"),
    )


def _wetting(read: FormReader) -> Wetting:
    return Wetting(
        manner=read.choice("manner", OFFERED["absorption"]["manner"]),
        state_before=read.choice("state_before", OFFERED["absorption"]["state_before"]),
        before_kg=read.quantity("before_kg", "mass"),
        wetted_at=read.maybe_moment("wetted_at"),
        outcome=read.maybe_choice("outcome", OFFERED["absorption"]["outcome"]),
        after_kg=read.maybe_quantity("after_kg", "mass"),
        weighed_at=read.maybe_moment("weighed_at"),
        remark=read.maybe_text("remark", most=500),
    )


def _eroding(read: FormReader) -> Eroding:
    return Eroding(
        manner=read.choice("manner", OFFERED["erosion"]["manner"]),
        outcome=read.choice("outcome", OFFERED["erosion"]["outcome"]),
        water_min=read.quantity("water_min", "minutes"),
        depth_mm=read.maybe_quantity("depth_mm", "length"),
        pressure_mpa=read.maybe_quantity("pressure_mpa", "pressure"),
        remark=read.maybe_text("remark", most=500),
        done_at=read.maybe_moment("done_at"),
    )


def _weighing(read: FormReader) -> Weighing:
    return Weighing(
        number=read.count("number", most=1_000),
        outcome=read.choice("outcome", OFFERED["cycles"]["outcome"]),
        mass_kg=read.maybe_quantity("mass_kg", "mass"),
        remark=read.maybe_text("remark", most=500),
        done_at=read.maybe_moment("done_at"),
    )


READ: dict[str, Callable[[FormReader], Given]] = {
    "bending": _bending,
    "absorption": _wetting,
    "erosion": _eroding,
    "cycles": _weighing,
}


def _given(read: FormReader, test: str) -> Given:
    if test not in READ:
        raise NotFound("There is no such test.")
    return READ[test](read)


@router.post("/{test}")
@form_of("/blocks/{block_id}/tests/{test}")
def record(caller: StaffCaller, form: SentForm, block_id: UUID, test: str) -> RedirectResponse:
    """Record a test of a block."""
    with reading(form, caller.shop) as read:
        given = _given(read, test)
    recording.record(caller, block_id=block_id, given=given)
    return see(f"/blocks/{block_id}/tests/{test}")


@router.post("/absorption/after")
@form_of("/blocks/{block_id}/tests/absorption")
def weigh_again(caller: StaffCaller, form: SentForm, block_id: UUID) -> RedirectResponse:
    """Record what a block weighs after the water."""
    with reading(form, caller.shop) as read:
        outcome = read.choice("outcome", OFFERED["absorption"]["outcome"])
        after, at = read.maybe_quantity("after_kg", "mass"), read.maybe_moment("weighed_at")
    recording.weigh_again(caller, block_id=block_id, outcome=outcome, after_kg=after, weighed_at=at)
    return see(f"/blocks/{block_id}/tests/absorption")


@router.post("/{test}/{reading_id}/corrections")
@form_of("/blocks/{block_id}/tests/{test}")
def correct(caller: StaffCaller, form: SentForm, block_id: UUID, test: str, reading_id: UUID) -> RedirectResponse:
    """Correct a test, with a reason."""
    with reading(form, caller.shop) as read:
        given, because = _given(read, test), read.text("because", most=500)
    recording.correct(caller, block_id=block_id, reading_id=reading_id, given=given, because=because)
    return see(f"/blocks/{block_id}/tests/{test}")


@router.post("/{test}/{reading_id}/exclude")
@form_of("/blocks/{block_id}/tests/{test}")
def exclude(caller: StaffCaller, form: SentForm, block_id: UUID, test: str, reading_id: UUID) -> RedirectResponse:
    """Set a test aside, with a reason."""
    with reading(form, caller.shop) as read:
        because = read.text("because", most=500)
    recording.exclude(caller, block_id=block_id, test=test, reading_id=reading_id, because=because)
    return see(f"/blocks/{block_id}/tests/{test}")
