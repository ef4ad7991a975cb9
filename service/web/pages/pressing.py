"""At the press: the trial block, every block in turn, its label, and the correction of what was typed."""

from typing import Annotated, Any
from uuid import UUID

from fastapi import Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse

from service.desk import jobs_in_hand, label_stock
from service.desk.mixing import at_press, pressing, sheets
from service.desk.mixing.pressing import Pressed
from service.paper.square_code import code
from service.web.authentication import SentForm, StaffCaller
from service.web.error_pages import form_of
from service.web.form_input import FormReader, reading
from service.web.responses import page, see
from service.web.room import Room

router = Room()

CORNERS = 4
BECAME = (("whole", "whole"), ("cracked", "cracked"), ("lost", "damaged or missing"))
Position = Annotated[int | None, Query(ge=1, le=1000)]


@router.get("/batches/{batch_id}/press")
def show(request: Request, caller: StaffCaller, batch_id: UUID, position: Position = None) -> HTMLResponse:
    """Show the page for the next block."""
    asked = at_press.press_form(caller, batch_id=batch_id, position=position)
    return page(request, "press.html", caller=caller, asked=asked, corners=range(CORNERS), became=BECAME)


@router.post("/batches/{batch_id}/press")
@form_of("/batches/{batch_id}/press")
def press(caller: StaffCaller, form: SentForm, batch_id: UUID) -> RedirectResponse:
    """Keep a block."""
    with reading(form, caller.shop) as read:
        position, became = (
            read.count("position", least=1, most=1000),
            read.choice("became", ("whole", "cracked", "lost")),
        )
        reason = read.text("reason") if became != "whole" else None
        at, pressed = read.maybe_moment("pressed_at"), _pressed(read, cracked=reason if became == "cracked" else None)
    lost = reason if became == "lost" else None
    pressing.press_block(
        caller, batch_id=batch_id, position=position, pressed=pressed, lost_because=lost, pressed_at=at
    )
    return see(f"/batches/{batch_id}/press")


@router.get("/batches/{batch_id}/test-charge")
def show_trial(request: Request, caller: StaffCaller, batch_id: UUID) -> HTMLResponse:
    """Show the page for a trial block."""
    asked = at_press.press_form(caller, batch_id=batch_id, is_trial=True)
    return page(request, "test_charge.html", caller=caller, asked=asked)


@router.post("/batches/{batch_id}/test-charge")
@form_of("/batches/{batch_id}/test-charge")
def try_charge(caller: StaffCaller, form: SentForm, batch_id: UUID) -> RedirectResponse:
    """Keep a trial block."""
    with reading(form, caller.shop) as read:
        given: dict[str, Any] = {
            "charge_kg": read.quantity("charge_kg", "mass"),
            "height_mm": read.quantity("height_mm", "length"),
            "wet_mass_kg": read.maybe_quantity("wet_mass_kg", "mass"),
            "pressed_gauge_mpa": read.maybe_quantity("pressed_gauge_mpa", "pressure"),
            "pressed_stroke_mm": read.maybe_quantity("pressed_stroke_mm", "length"),
            "press_gauge_id": read.maybe_id("press_gauge_id"),
            "accepted": read.tick("accepted"),
            "above_limit": read.tick("above_limit"),
        }
    pressing.try_charge(caller, batch_id=batch_id, **given)
    return see(f"/batches/{batch_id}/{'press' if given['accepted'] else 'test-charge'}")


@router.get("/batches/{batch_id}/labels")
def labels(request: Request, caller: StaffCaller, batch_id: UUID) -> HTMLResponse:
    """Show the labels of a batch's blocks, to print and stick."""
    sheet = sheets.batch(caller, batch_id=batch_id)
    job = jobs_in_hand.card(caller, job_id=sheet.job_id)
    address = request.app.state.address.rstrip("/")
    codes = {block.id: code(f"{address}/at/{block.id}") for block in sheet.blocks}
    stock = label_stock.stock(caller)
    return page(request, "labels.html", caller=caller, job=job, batch=sheet, codes=codes, stock=stock)


@router.get("/blocks/{block_id}/pressing")
def show_block(request: Request, caller: StaffCaller, block_id: UUID) -> HTMLResponse:
    """Show what was typed of a block when it was pressed, to correct it."""
    block = at_press.block_form(caller, block_id=block_id)
    return page(request, "pressed.html", caller=caller, block=block, corners=range(CORNERS))


@router.post("/blocks/{block_id}/pressing")
@form_of("/blocks/{block_id}/pressing")
def correct(caller: StaffCaller, form: SentForm, block_id: UUID) -> RedirectResponse:
    """Correct what was typed of a block."""
    with reading(form, caller.shop) as read:
        because, batch_id = read.text("because", most=400), read.id("batch_id")
        at, pressed = read.maybe_moment("pressed_at"), _pressed(read, cracked=read.maybe_text("cracked_because"))
    pressing.correct_block(caller, block_id=block_id, pressed=pressed, because=because, pressed_at=at)
    return see(f"/batches/{batch_id}")


@router.post("/blocks/{block_id}/lost")
@form_of("/blocks/{block_id}/pressing")
def lose(caller: StaffCaller, form: SentForm, block_id: UUID) -> RedirectResponse:
    """Count a block as lost, with the reason."""
    with reading(form, caller.shop) as read:
        because, batch_id = read.text("because", most=400), read.id("batch_id")
    pressing.lose_block(caller, block_id=block_id, because=because)
    return see(f"/batches/{batch_id}")


def _pressed(read: FormReader, *, cracked: str | None) -> Pressed:
    corners = [f"heights_mm.{corner}" for corner in range(CORNERS)]
    heights = [typed for name in corners if (typed := read.maybe_quantity(name, "length")) is not None]
    gauge = read.maybe_quantity("pressed_gauge_mpa", "pressure")
    return Pressed(
        charge_kg=read.maybe_quantity("charge_kg", "mass"),
        heights_mm=tuple(heights),
        wet_mass_kg=read.maybe_quantity("wet_mass_kg", "mass"),
        # Which gauge is known without a reading on it, and means nothing then.
        press_gauge_id=read.maybe_id("press_gauge_id") if gauge is not None else None,
        pressed_gauge_mpa=gauge,
        pressed_stroke_mm=read.maybe_quantity("pressed_stroke_mm", "length"),
        dwell_s=read.maybe_quantity("dwell_s", "seconds"),
        mould_release=read.maybe_text("mould_release", most=80),
        cracked_because=cracked,
        remark=read.maybe_text("remark", most=400),
        above_limit=read.tick("above_limit"),
    )
