"""One block: its crushing as a form, and everything that happened to it."""

from collections.abc import Mapping
from typing import Annotated, Any
from uuid import UUID

from fastapi import Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse

from service.desk.crushing import press, queue
from service.desk.crushing import reading as readings
from service.desk.crushing import sheet as sheets
from service.desk.crushing.came_to import came_to
from service.desk.crushing.given import OFFERED, Given
from service.desk.crushing.sheet import BlockSheet
from service.desk.curing import acts as curing
from service.desk.doorway import ShopFacts
from service.trade.block.durability_tests import PLANNED_TESTS
from service.trade.sources import SOURCES
from service.typed import number_of, put_back
from service.web.authentication import SentForm, StaffCaller
from service.web.error_pages import form_of
from service.web.form_input import FormReader, reading
from service.web.responses import page, see
from service.web.room import Room
from service.words.units import convert, offered

router = Room(prefix="/blocks/{block_id}")

Spell = Annotated[UUID | None, Query()]
After = Annotated[UUID | None, Query()]

SPOILED = (
    ("loaded before", "It had been under load before", "a note, not a reading"),
    ("not centred", "It was not in the middle"),
    ("uneven faces", "Faces or packing were uneven"),
    ("damaged before", "It was chipped or dropped before"),
    ("pumped in jerks", "It was pumped too fast or in jerks"),
    ("peak not read", "The peak was not read"),
    ("other", "Something else"),
)
FAILURES = (
    ("hourglass", "Hourglass, sides fell away"),
    ("split upright", "Split upright"),
    ("sheared across", "Sheared across"),
    ("corner gave way", "A corner or side gave way"),
    ("crumbled through", "Crumbled through"),
)
CHOICES = {
    "outcome": (
        ("broke", "It broke"),
        ("held", "It did not break", "stopped before it broke"),
        ("fell apart", "It fell apart", "in the water"),
        ("spoiled", "Test went wrong", "the reading does not count"),
    ),
    "state": (("as cured", "Not soaked"), ("air-dry", "Air-dry"), ("oven-dry", "Oven-dry"), ("soaked", "Soaked")),
    "held_because": (
        ("press limit", "Limit of the press"),
        ("agreed stop", "Agreed stop"),
        ("leak", "Leak"),
    ),
    "orientation": (("flat", "Flat, as pressed"), ("on edge", "On edge"), ("on end", "On end")),
    "faces": (("bare", "Bare"), ("packed", "Packed"), ("capped", "Capped"), ("ground", "Ground")),
    "peak_read": (
        ("held needle", "Needle that stays"),
        ("watched", "Watched by eye"),
        ("filmed", "Filmed"),
        ("logged", "Logged"),
    ),
    "spoiled_because": SPOILED,
    "failure": FAILURES,
}
SIDES = ("length_mm", "width_mm", "height_mm")


@router.get("")
def show(
    request: Request, caller: StaffCaller, block_id: UUID, press_session: Spell = None, after: After = None
) -> HTMLResponse:
    """Show a block and the form for its crushing."""
    sheet = sheets.sheet(caller, block_id=block_id, press_session_id=press_session)
    return page(
        request,
        "block.html",
        caller=caller,
        block=sheet,
        after=after,
        choices=CHOICES,
        values=_proposed(sheet, caller.shop),
        kept=_kept(sheet),
        factors=_factors(sheet),
        tests=PLANNED_TESTS,
        sources={key: one.named for key, one in SOURCES.items()},
    )


@router.get("/outcome")
def show_outcome(request: Request, caller: StaffCaller, block_id: UUID) -> HTMLResponse:
    """Show in a line what a block came to; the page of the next one fetches it from here."""
    return page(request, "outcome.html", caller=caller, block=came_to(caller, block_id=block_id))


def _factors(sheet: BlockSheet) -> dict[str, float]:
    dials = [sheet.press_session.unit] if sheet.press_session else []
    pressures = {unit: convert(1.0, unit, "MPa") for unit in (*offered("pressure", "metric"), *dials)}
    return pressures | {unit: convert(1.0, unit, "mm") for unit in offered("length", "metric")}


def _proposed(sheet: BlockSheet, shop: ShopFacts) -> dict[str, Any]:
    """Return what the empty form is filled in with, each quantity as (text, unit)."""
    proposed = sheet.proposed
    length = offered("length", shop.units_first)[0]
    unit = sheet.press_session.unit if sheet.press_session else "MPa"
    return {
        "outcome": "",
        "state": proposed.state,
        "gauge_mpa": ("", proposed.units.get("gauge_mpa", unit)),
        "mass_kg": ("", proposed.units.get("mass_kg", offered("mass", shop.units_first)[0])),
        # Both follow from the times in the water; filled in for now they would contradict an earlier crushing.
        "water_hours": ("", "h"),
        "out_of_water_min": ("", "min"),
        "loading_s": ("", "s"),
        **{name: _side(proposed.sides[name], length) for name in SIDES},
        "orientation": proposed.orientation,
        "faces": proposed.faces,
        "peak_read": proposed.peak_read,
        "held_because": proposed.held_because,
        "spoiled_because": "",
        "spoiled_other": "",
        "failure": "",
        "remark": "",
        "crushed_at": None,
    }


def _side(typed: dict[str, str], unit: str) -> tuple[str, str]:
    number = number_of(typed["text"])
    if number is None or typed["unit"] == unit:
        again = put_back(typed) if typed["text"] else typed
        return again["text"], again["unit"] or unit
    return f"{convert(float(number), typed['unit'], unit):.4g}", unit


def _again(read: Mapping[str, str], unit: str) -> tuple[str, str]:
    again = put_back(read)
    return again.get("text", ""), again.get("unit") or unit


def _kept(sheet: BlockSheet) -> dict[str, Any]:
    """Return the standing reading as the form of its correction shows it."""
    standing = sheet.standing
    if standing is None:
        return {}
    how, read = standing.how, standing.how.as_read
    known = how.spoiled_because in {reason[0] for reason in SPOILED}
    units = {"gauge_mpa": "MPa", "mass_kg": "kg", "water_hours": "h", "out_of_water_min": "min", "loading_s": "s"}
    units |= dict.fromkeys(SIDES, "mm")
    return {
        **{name: getattr(how, name) for name in ("outcome", "state", "orientation", "faces", "failure", "remark")},
        "peak_read": how.peak_read or "",
        "held_because": how.held_because or "",
        "spoiled_because": how.spoiled_because if known else ("other" if how.spoiled_because else ""),
        "spoiled_other": "" if known else how.spoiled_because or "",
        **{name: _again(read.get(name, {}), unit) for name, unit in units.items()},
        "crushed_at": standing.crushed_at,
    }


def _read_given(read: FormReader) -> Given:
    outcome = read.choice("outcome", OFFERED["outcome"])
    loaded = outcome in ("broke", "held")
    spoiled = read.maybe_text("spoiled_because") if outcome == "spoiled" else None
    if spoiled == "other":
        spoiled = read.text("spoiled_other")
    return Given(
        outcome=outcome,
        state=read.choice("state", OFFERED["state"]),
        press_session_id=read.maybe_id("press_session_id"),
        gauge_mpa=read.quantity("gauge_mpa", "pressure") if loaded else read.maybe_quantity("gauge_mpa", "pressure"),
        peak_read=read.maybe_choice("peak_read", OFFERED["peak_read"]),
        held_because=read.choice("held_because", OFFERED["held_because"]) if outcome == "held" else None,
        spoiled_because=spoiled,
        failure=read.maybe_text("failure"),
        orientation=read.choice("orientation", OFFERED["orientation"]),
        faces=read.choice("faces", OFFERED["faces"]),
        length_mm=read.maybe_quantity("length_mm", "length"),
        width_mm=read.maybe_quantity("width_mm", "length"),
        height_mm=read.maybe_quantity("height_mm", "length"),
        mass_kg=read.maybe_quantity("mass_kg", "mass"),
        water_hours=read.maybe_quantity("water_hours", "hours"),
        out_of_water_min=read.maybe_quantity("out_of_water_min", "minutes"),
        loading_s=read.maybe_quantity("loading_s", "seconds"),
        remark=read.maybe_text("remark", most=500),
        crushed_at=read.maybe_moment("crushed_at"),
        above_limit=read.tick("above_limit"),
    )


@router.post("/crushings")
@form_of("/blocks/{block_id}")
def record(caller: StaffCaller, form: SentForm, block_id: UUID) -> RedirectResponse:
    """Record how the block ended, and go on with the next one of the job."""
    with reading(form, caller.shop) as read:
        given = _read_given(read)
    readings.record(caller, block_id=block_id, given=given)
    following = queue.next_block(caller, block_id=block_id)
    if following.block_id is None:
        return see(f"/jobs/{following.job_id}/readings")
    return see(f"/blocks/{following.block_id}?after={block_id}")


@router.post("/crushings/{crushing_id}/corrections")
@form_of("/blocks/{block_id}")
def correct(caller: StaffCaller, form: SentForm, block_id: UUID, crushing_id: UUID) -> RedirectResponse:
    """Correct the reading, with a reason."""
    with reading(form, caller.shop) as read:
        given, because, gauge_id = _read_given(read), read.text("because", most=500), read.maybe_id("gauge_id")
    readings.correct(
        caller, crushing_id=crushing_id, given=given, because=because, gauge_id=gauge_id, block_id=block_id
    )
    return see(f"/blocks/{block_id}")


@router.post("/crushings/{crushing_id}/withdrawals")
@form_of("/blocks/{block_id}")
def withdraw(caller: StaffCaller, form: SentForm, block_id: UUID, crushing_id: UUID) -> RedirectResponse:
    """Take a reading back that belongs to another block."""
    with reading(form, caller.shop) as read:
        because = read.text("because", most=500)
    readings.withdraw(caller, crushing_id=crushing_id, because=because, block_id=block_id)
    return see(f"/blocks/{block_id}")


@router.post("/notes")
@form_of("/blocks/{block_id}")
def add_note(caller: StaffCaller, form: SentForm, block_id: UUID) -> RedirectResponse:
    """Write a note on the block."""
    with reading(form, caller.shop) as read:
        remark = read.text("remark", most=500)
    readings.add_note(caller, block_id=block_id, remark=remark)
    return see(f"/blocks/{block_id}")


@router.post("/sessions")
@form_of("/blocks/{block_id}")
def open_press_session(caller: StaffCaller, form: SentForm, block_id: UUID) -> RedirectResponse:
    """Open a gauge with its zero, and come back to the block."""
    with reading(form, caller.shop) as read:
        gauge_id, zero = read.id("gauge_id"), read.quantity("zero_before_mpa", "gauge_zero")
    press.open_press_session(caller, gauge_id=gauge_id, zero_before_mpa=zero)
    return see(f"/blocks/{block_id}")


@router.post("/losses")
@form_of("/blocks/{block_id}")
def lose(caller: StaffCaller, form: SentForm, block_id: UUID) -> RedirectResponse:
    """Count the block as lost."""
    with reading(form, caller.shop) as read:
        because = read.text("because", most=200)
    curing.lose(caller, block_id=block_id, because=because)
    return see(f"/blocks/{block_id}")


@router.post("/found")
@form_of("/blocks/{block_id}")
def find_again(caller: StaffCaller, form: SentForm, block_id: UUID) -> RedirectResponse:
    """Take back that the block was lost."""
    with reading(form, caller.shop) as read:
        because = read.text("because", most=500)
    curing.find_again(caller, block_id=block_id, because=because)
    return see(f"/blocks/{block_id}")


@router.post("/soaks/{soak_id}/corrections")
@form_of("/blocks/{block_id}")
def correct_soak(caller: StaffCaller, form: SentForm, block_id: UUID, soak_id: UUID) -> RedirectResponse:
    """Correct when the block was in the water."""
    with reading(form, caller.shop) as read:
        started_at, ended_at = read.moment("started_at"), read.maybe_moment("ended_at")
        because = read.text("because", most=500)
    curing.correct_soak(
        caller, soak_id=soak_id, started_at=started_at, ended_at=ended_at, because=because, block_id=block_id
    )
    return see(f"/blocks/{block_id}")
