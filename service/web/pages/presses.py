"""Presses, gauges, moulds and calibrations."""

from typing import Any
from uuid import UUID

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse

from service.desk import presses
from service.typed import Typed
from service.web.authentication import OwnerCaller, SentForm, StaffCaller
from service.web.error_pages import form_of
from service.web.form_input import FormReader, reading
from service.web.responses import page, see
from service.words.numbers_to_text import unit_label

router = APIRouter(prefix="/presses")

GAUGE_UNITS = ("MPa", "psi", "bar", "kPa", "kgf/cm2")
POINT_ROWS = 10


@router.get("")
def show(request: Request, caller: StaffCaller) -> HTMLResponse:
    """Show what is on the bench."""
    units = [(unit, unit_label(unit)) for unit in GAUGE_UNITS]
    return page(
        request, "presses.html", caller=caller, bench=presses.bench(caller), gauge_units=units, rows=range(POINT_ROWS)
    )


@router.post("")
@form_of("/presses")
def add_press(caller: OwnerCaller, form: SentForm) -> RedirectResponse:
    """Add a press."""
    with reading(form, caller.shop) as read:
        given: dict[str, Any] = {
            "name": read.text("name", most=80),
            "forms": read.tick("forms"),
            "crushes": read.tick("crushes"),
            "ram_diameter_mm": read.quantity("ram_diameter_mm", "length"),
            "rams": read.count("rams", least=1, most=12),
            "efficiency": read.quantity("efficiency", "share"),
            "rating_kn": read.maybe_quantity("rating_kn", "force"),
            "working_limit_kn": read.maybe_quantity("working_limit_kn", "force"),
        }
    presses.add_press(caller, **given)
    return see("/presses")


@router.post("/moulds")
@form_of("/presses")
def add_mould(caller: OwnerCaller, form: SentForm) -> RedirectResponse:
    """Add a mould."""
    with reading(form, caller.shop) as read:
        name = read.text("name", most=80)
        length, width, height = (read.quantity(f"{side}_mm", "length") for side in ("length", "width", "height"))
    presses.add_mould(caller, name=name, length_mm=length, width_mm=width, height_mm=height)
    return see("/presses")


@router.post("/{press_id}/gauges")
@form_of("/presses")
def add_gauge(caller: OwnerCaller, form: SentForm, press_id: UUID) -> RedirectResponse:
    """Add a gauge to a press."""
    with reading(form, caller.shop) as read:
        given: dict[str, Any] = {
            "name": read.text("name", most=80),
            "unit": read.choice("unit", GAUGE_UNITS),
            "graduation_mpa": read.quantity("graduation_mpa", "pressure"),
            "least_mpa": read.maybe_quantity("least_mpa", "pressure"),
            "full_scale_mpa": read.quantity("full_scale_mpa", "pressure"),
        }
    presses.add_gauge(caller, press_id=press_id, **given)
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
            "points": _points(read),
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
