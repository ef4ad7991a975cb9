"""A sack and its cans of moisture."""

from uuid import UUID

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse

from service.desk import jobs_in_hand, photos
from service.desk.intake import cans, sheet, unfinished
from service.desk.intake.cans import CanGiven
from service.typed import Typed
from service.web.authentication import SentForm, StaffCaller
from service.web.error_pages import form_of
from service.web.form_input import FormReader, at_rows, reading
from service.web.responses import page, see
from service.web.room import Room
from service.words.units import offered, unit_label

router = Room(prefix="/sacks/{receipt_id}")

METHODS = (
    ("oven", "Oven"),
    ("microwave", "Microwave"),
    ("stove", "Stove or hot plate"),
    ("air", "Air"),
)
MASSES = ("wet_kg", "dry_kg", "can_kg")
ROWS = 4


@router.get("")
def show(request: Request, caller: StaffCaller, receipt_id: UUID) -> HTMLResponse:
    """Show a sack with its cans."""
    sack = sheet.sack(caller, receipt_id=receipt_id)
    return page(
        request,
        "sack.html",
        caller=caller,
        sack=sack,
        halves=unfinished.halves(caller, subject_id=receipt_id),
        photos=photos.album(caller, of="sack", thing_id=receipt_id).photos,
        job=jobs_in_hand.card(caller, job_id=sack.job_id),
        methods=METHODS,
        rows=range(ROWS),
        mass_units=[(unit, unit_label(unit)) for unit in offered("small_mass", caller.shop.units_first)],
        stripped=(("yes", "Stripped"), ("no", "Not stripped")),
    )


@router.post("/cans")
@form_of("/sacks/{receipt_id}")
def weigh_cans(caller: StaffCaller, form: SentForm, receipt_id: UUID) -> RedirectResponse:
    """Save cans that were dried in one go."""
    with reading(form, caller.shop) as read:
        rows = read.numbered("cans", MASSES)
        given = [_can(read, f"cans.{row}.", unit=read.raw("mass_unit")) for row in rows]
        method, temperature = _dried(read)
        done_at = read.maybe_moment("done_at")
    with at_rows("cans", rows):
        cans.weigh_cans(
            caller, receipt_id=receipt_id, cans=given, method=method, temperature_c=temperature, done_at=done_at
        )
    return see(f"/sacks/{receipt_id}")


def _can(read: FormReader, prefix: str = "", *, unit: str | None = None) -> CanGiven:
    return CanGiven(
        wet_kg=read.quantity(f"{prefix}wet_kg", "small_mass", unit),
        dry_kg=read.quantity(f"{prefix}dry_kg", "small_mass", unit),
        can_kg=read.maybe_quantity(f"{prefix}can_kg", "small_mass", unit),
    )


def _dried(read: FormReader) -> tuple[str, Typed | None]:
    method = read.choice("method", tuple(method for method, _ in METHODS))
    return method, read.maybe_quantity("temperature_c", "temperature")


@router.post("/cans/{can_id}")
@form_of("/sacks/{receipt_id}")
def correct_can(caller: StaffCaller, form: SentForm, receipt_id: UUID, can_id: UUID) -> RedirectResponse:
    """Correct a can."""
    with reading(form, caller.shop) as read:
        can, because = _can(read), read.text("because")
        method, temperature = _dried(read)
    cans.correct_can(caller, can_id=can_id, can=can, method=method, temperature_c=temperature, because=because)
    return see(f"/sacks/{receipt_id}")


@router.post("/cans/{can_id}/end")
@form_of("/sacks/{receipt_id}")
def exclude_can(caller: StaffCaller, form: SentForm, receipt_id: UUID, can_id: UUID) -> RedirectResponse:
    """Let a can no longer count."""
    with reading(form, caller.shop) as read:
        because = read.text("because")
    cans.exclude_can(caller, can_id=can_id, because=because)
    return see(f"/sacks/{receipt_id}")


@router.post("/later")
@form_of("/sacks/{receipt_id}")
def keep_for_later(caller: StaffCaller, form: SentForm, receipt_id: UUID) -> RedirectResponse:
    """Keep what was typed of a form that is finished another day."""
    with reading(form, caller.shop) as read:
        typed = read.so_far()
    unfinished.keep(caller, subject_id=receipt_id, form=typed.get("form", ""), typed=typed)
    return see(f"/sacks/{receipt_id}")
