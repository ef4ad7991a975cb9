"""Presses, gauges, moulds and calibrations."""

from functools import partial
from typing import Any
from uuid import UUID

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse

from service.desk import press_tools, presses
from service.desk.press_tools import GaugeGiven, MouldGiven, PressGiven
from service.typed import Typed
from service.web.authentication import OwnerCaller, SentForm, StaffCaller
from service.web.error_pages import form_of
from service.web.form_input import FormReader, reading
from service.web.responses import page, see
from service.web.room import Room
from service.words.units import DIAL_FORCES, KINDS, Units, convert, dial_unit, offered, unit_label

router = Room(prefix="/presses")

PRESSURES = ("MPa", "psi", "bar", "kPa", "kgf/cm2")
GAUGE_UNITS = PRESSURES + DIAL_FORCES
POINT_ROWS = 10


@router.get("")
def show(request: Request, caller: StaffCaller) -> HTMLResponse:
    """Show what is on the bench."""
    units = [
        (unit, f"{unit_label(unit)}, as force on the ram" if unit in DIAL_FORCES else unit_label(unit))
        for unit in GAUGE_UNITS
    ]
    return page(
        request,
        "presses.html",
        caller=caller,
        bench=presses.bench(caller),
        gauge_units=units,
        rows=range(POINT_ROWS),
        force_units=[(unit, unit_label(unit)) for unit in offered("force", caller.shop.units_first)],
        mpa_in=lambda unit: convert(1.0, unit, "MPa"),
        shown_as=partial(_shown_as, units=caller.shop.units_first),
    )


def _shown_as(tool: Any, name: str, kind: str, *, units: Units, unit: str = "") -> dict[str, str]:
    """Return a measure of a press, gauge or mould as its correction shows it: as typed, else in the shop's unit."""
    typed = tool.typed.get(name)
    if typed:
        return {"value": typed["text"], "unit": typed["unit"]}
    value, shown = getattr(tool, name), unit or offered(kind, units)[0]
    return {"value": "" if value is None else f"{convert(value, KINDS[kind].stored_in, shown):.6g}", "unit": shown}


def _press(read: FormReader) -> PressGiven:
    return PressGiven(
        name=read.text("name", most=80),
        forms=read.tick("forms"),
        crushes=read.tick("crushes"),
        ram_diameter_mm=read.quantity("ram_diameter_mm", "length"),
        rams=read.count("rams", least=1, most=12),
        efficiency=read.maybe_quantity("efficiency", "share"),
        rating_kn=read.maybe_quantity("rating_kn", "force"),
        working_limit_kn=read.maybe_quantity("working_limit_kn", "force"),
    )


@router.post("")
@form_of("/presses")
def add_press(caller: OwnerCaller, form: SentForm) -> RedirectResponse:
    """Add a press."""
    with reading(form, caller.shop) as read:
        given = _press(read)
    press_tools.add_press(caller, given=given)
    return see("/presses")


@router.post("/{press_id}/corrections")
@form_of("/presses")
def correct_press(caller: OwnerCaller, form: SentForm, press_id: UUID) -> RedirectResponse:
    """Correct a press."""
    with reading(form, caller.shop) as read:
        given, because = _press(read), read.text("because", most=500)
    press_tools.correct_press(caller, press_id=press_id, given=given, because=because)
    return see("/presses")


@router.post("/{press_id}/end")
@form_of("/presses")
def retire_press(caller: OwnerCaller, press_id: UUID) -> RedirectResponse:
    """Take a press out of use."""
    press_tools.retire_press(caller, press_id=press_id)
    return see("/presses")


def _mould(read: FormReader) -> MouldGiven:
    sides = (read.quantity(f"{side}_mm", "length") for side in ("length", "width", "height"))
    return MouldGiven(read.text("name", most=80), *sides)


@router.post("/moulds")
@form_of("/presses")
def add_mould(caller: OwnerCaller, form: SentForm) -> RedirectResponse:
    """Add a mould."""
    with reading(form, caller.shop) as read:
        given = _mould(read)
    press_tools.add_mould(caller, given=given)
    return see("/presses")


@router.post("/moulds/{mould_id}/corrections")
@form_of("/presses")
def correct_mould(caller: OwnerCaller, form: SentForm, mould_id: UUID) -> RedirectResponse:
    """Correct a mould."""
    with reading(form, caller.shop) as read:
        given, because = _mould(read), read.text("because", most=500)
    press_tools.correct_mould(caller, mould_id=mould_id, given=given, because=because)
    return see("/presses")


@router.post("/moulds/{mould_id}/end")
@form_of("/presses")
def retire_mould(caller: OwnerCaller, mould_id: UUID) -> RedirectResponse:
    """Take a mould out of use."""
    press_tools.retire_mould(caller, mould_id=mould_id)
    return see("/presses")


def _gauge(read: FormReader, unit: str | None) -> GaugeGiven:
    return GaugeGiven(
        name=read.text("name", most=80),
        graduation_mpa=read.quantity("graduation_mpa", "pressure", unit),
        least_mpa=read.maybe_quantity("least_mpa", "pressure", unit),
        full_scale_mpa=read.quantity("full_scale_mpa", "pressure", unit),
    )


@router.post("/{press_id}/gauges")
@form_of("/presses")
def add_gauge(caller: OwnerCaller, form: SentForm, press_id: UUID) -> RedirectResponse:
    """Add a gauge to a press; its dial may show force, which is then read as pressure on the rams."""
    press = next((one for one in presses.bench(caller).presses if one.id == press_id), None)
    with reading(form, caller.shop) as read:
        unit = read.choice("unit", GAUGE_UNITS) or "MPa"
        if press is not None and unit in DIAL_FORCES:
            unit = dial_unit(unit, press.ram_area_mm2)
        given = _gauge(read, unit)
    press_tools.add_gauge(caller, press_id=press_id, unit=unit, given=given)
    return see("/presses")


@router.post("/gauges/{gauge_id}/corrections")
@form_of("/presses")
def correct_gauge(caller: OwnerCaller, form: SentForm, gauge_id: UUID) -> RedirectResponse:
    """Correct a gauge."""
    with reading(form, caller.shop) as read:
        given, because = _gauge(read, None), read.text("because", most=500)
    press_tools.correct_gauge(caller, gauge_id=gauge_id, given=given, because=because)
    return see("/presses")


@router.post("/gauges/{gauge_id}/end")
@form_of("/presses")
def retire_gauge(caller: OwnerCaller, gauge_id: UUID) -> RedirectResponse:
    """Take a gauge out of use."""
    press_tools.retire_gauge(caller, gauge_id=gauge_id)
    return see("/presses")


@router.post("/gauges/{gauge_id}/calibrations")
@form_of("/presses")
def add_calibration(caller: OwnerCaller, form: SentForm, gauge_id: UUID) -> RedirectResponse:
    """Keep a calibration of a gauge, in place of another when it replaces one."""
    with reading(form, caller.shop) as read:
        replaces_id = read.maybe_id("replaces_id")
        given: dict[str, Any] = {
            "done_on": read.day("done_on"),
            "valid_from": read.day("valid_from"),
            "valid_until": read.day("valid_until"),
            "reference": read.text("reference"),
            "reference_uncertainty": read.maybe_quantity("reference_uncertainty", "share"),
            "coverage_factor": read.maybe_quantity("coverage_factor", "plain", unit="of 1"),
            "points": _points(read),
            "zero_mpa": read.maybe_quantity("zero_mpa", "gauge_zero"),
            "replaces_id": replaces_id,
            "replaced_because": read.text("replaced_because") if replaces_id else None,
        }
    presses.add_calibration(caller, gauge_id=gauge_id, **given)
    return see("/presses")


def _points(read: FormReader) -> list[tuple[Typed, Typed]]:
    # One unit for the whole column, so that ten rows need no ten selects.
    units = {"gauge_mpa": read.raw("gauge_unit"), "force_kn": read.raw("force_unit")}
    rows = read.rows("gauge_mpa", most=POINT_ROWS)
    return [
        (
            read.quantity(f"gauge_mpa.{row}", "pressure", unit=units["gauge_mpa"]),
            read.quantity(f"force_kn.{row}", "force", unit=units["force_kn"]),
        )
        for row in rows
    ]
