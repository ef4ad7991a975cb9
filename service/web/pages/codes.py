"""Criteria: which rules there are, how well they are known, and the shop's own."""

from typing import Any
from uuid import UUID

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse

from service.desk import codes
from service.web.authentication import OwnerCaller, SentForm, StaffCaller
from service.web.error_pages import form_of
from service.web.form_input import FormReader, reading
from service.web.responses import page, see
from service.web.room import Room

router = Room(prefix="/codes")

STATISTICS = (
    ("each", "each block"),
    ("mean", "the mean"),
    ("characteristic", "the value 19 in 20 blocks reach"),
)
SHAPES = {
    "krefeld": "Krefeld 1938, from memory",
    "heathcote-jankulovski": "Heathcote and Jankulovski 1992, from memory",
    "en-772-1": "EN 772-1 Annex A, made for other units",
}
WAYS = (
    ("en-1990-d1", "EN 1990, Annex D, Table D1"),
    ("nzs-4298", "NZS 4298, five specimens, from memory"),
)
# How well a text is known, in the words of the page.
KNOWN_HOW = {
    "seen": "We have read this text.",
    "second-hand": "We have not read this standard. Values as quoted by others.",
    "memory": "We have not read this standard. Values from memory.",
    "own": "",
}
STATES = (("as cured", "not soaked"), ("air-dry", "air-dry"), ("oven-dry", "oven-dry"), ("soaked", "soaked"))


TESTS = (
    ("absorption", "absorption, under water"),
    ("damp surface", "gain on a damp surface"),
    ("bending", "bending strength"),
    ("drip", "erosion by drops, index"),
    ("spray", "erosion by spray, index"),
    ("wetting and drying", "mass lost in wetting and drying"),
)
LIMIT_UNITS = ("%", "MPa", "psi", "index")


@router.get("")
def show(request: Request, caller: StaffCaller) -> HTMLResponse:
    """Show every criterion with its standing."""
    return page(
        request,
        "codes.html",
        caller=caller,
        known=codes.known(caller),
        known_how=KNOWN_HOW,
        statistics=STATISTICS,
        states=STATES,
        shapes=SHAPES,
        ways=WAYS,
        tests=TESTS,
        limit_units=LIMIT_UNITS,
    )


@router.post("/published/{key}")
@form_of("/codes")
def note_reading(caller: OwnerCaller, form: SentForm, key: str) -> RedirectResponse:
    """Note that the owner has read the current text."""
    with reading(form, caller.shop) as read:
        note = read.text("note", most=1000)
    codes.note_reading(caller, key=key, note=note)
    return see("/codes")


@router.post("")
@form_of("/codes")
def add_own(caller: OwnerCaller, form: SentForm) -> RedirectResponse:
    """Keep a rule of the shop's own."""
    with reading(form, caller.shop) as read:
        name, rests_on, demand = read.text("name", most=80), read.text("rests_on"), _demand(read)
        by = read.maybe_choice("characteristic_by", tuple(way for way, _ in WAYS))
        if by and demand["statistic"] != "characteristic":
            read.wrong("characteristic_by", "This goes with the value 19 in 20 blocks reach only.")
    codes.add_own(caller, name=name, rests_on=rests_on, demands=[demand], characteristic_by=by or "")
    return see("/codes")


@router.post("/limits")
@form_of("/codes")
def add_own_limit(caller: OwnerCaller, form: SentForm) -> RedirectResponse:
    """Keep a limit of the shop's own on another test than crushing."""
    with reading(form, caller.shop) as read:
        name, rests_on, limit = read.text("name", most=80), read.text("rests_on"), _limit(read)
    codes.add_own_limit(caller, name=name, rests_on=rests_on, limit=limit)
    return see("/codes")


def _limit(read: FormReader) -> dict[str, Any]:
    test = read.choice("test", tuple(test for test, _ in TESTS))
    if test in ("drip", "spray"):
        value, unit = float(read.count("limit", least=1, most=5)), "index"
    elif test == "bending":
        value, unit = read.quantity("limit", "pressure").value, "MPa"
    else:
        value, unit = 100 * read.quantity("limit", "share").value, "%"
    if value == 0 and "limit" not in read.errors:
        read.wrong("limit", "Give a limit above 0.")
    hours = read.maybe_quantity("hours", "hours") if test in ("absorption", "damp surface") else None
    return {
        "name": read.text("demand", most=80),
        "test": test,
        "statistic": read.choice("statistic", ("each", "mean")),
        "limit": value,
        "unit": unit,
        "blocks": read.count("blocks", least=1, most=100),
        "hours": hours.value if hours else None,
        "cycles": read.maybe_count("cycles", least=1, most=100) if test == "wetting and drying" else None,
    }


def _demand(read: FormReader) -> dict[str, Any]:
    state = read.choice("state", tuple(state for state, _ in STATES))
    limit = read.quantity("limit", "pressure")
    soak, age = read.maybe_quantity("soak_hours", "hours"), read.maybe_quantity("age_days", "days")
    if state == "soaked" and soak is None:
        read.wrong("soak_hours", "Say how long the block is under water at the least.")
    return {
        "name": read.text("demand", most=80),
        "statistic": read.choice("statistic", tuple(statistic for statistic, _ in STATISTICS)),
        "limit": limit.value,
        "unit": "MPa",
        "states": [state],
        "blocks": read.count("blocks", least=1, most=100),
        "soak_hours": soak.value if soak and state == "soaked" else None,
        "age_days": age.value if age else None,
    }


@router.post("/own/{own_id}/name")
@form_of("/codes")
def rename_own(caller: OwnerCaller, form: SentForm, own_id: UUID) -> RedirectResponse:
    """Correct what a rule of the shop's own is called."""
    with reading(form, caller.shop) as read:
        name = read.text("new_name", most=80)
    codes.rename_own(caller, own_id=own_id, name=name)
    return see("/codes")


@router.post("/own/{own_id}/end")
def end_own(caller: OwnerCaller, own_id: UUID) -> RedirectResponse:
    """Offer a rule of the shop's own no longer."""
    codes.end_own(caller, own_id=own_id)
    return see("/codes")
