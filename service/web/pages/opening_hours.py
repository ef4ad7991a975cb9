"""When the shop is closed: its week, its hours and single days."""

from uuid import UUID

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse

from service.desk import closed_days
from service.web.authentication import OwnerCaller, SentForm
from service.web.error_pages import form_of
from service.web.form_input import reading
from service.web.responses import page, see
from service.web.room import Room

router = Room(prefix="/opening-hours")

NAMES = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


@router.get("")
def show(request: Request, caller: OwnerCaller) -> HTMLResponse:
    """Show when the shop is closed."""
    week = list(zip(closed_days.WEEKDAYS, NAMES, strict=True))
    return page(request, "opening_hours.html", caller=caller, opening=closed_days.opening(caller), week=week)


@router.post("")
@form_of("/opening-hours")
def set_hours(caller: OwnerCaller, form: SentForm) -> RedirectResponse:
    """Set the days of the week on which the shop is closed, and its hours."""
    with reading(form, caller.shop) as read:
        closed = [digit for digit in closed_days.WEEKDAYS if read.tick(f"closed.{digit}")]
        opens_at, closes_at = read.maybe_hour("opens_at"), read.maybe_hour("closes_at")
    closed_days.set_hours(caller, closed_weekdays=closed, opens_at=opens_at, closes_at=closes_at)
    return see("/opening-hours")


@router.post("/days")
@form_of("/opening-hours")
def close_on(caller: OwnerCaller, form: SentForm) -> RedirectResponse:
    """Close the shop on a single day."""
    with reading(form, caller.shop) as read:
        day, name = read.day("day"), read.text("name", most=60)
    closed_days.close_on(caller, day=day, name=name)
    return see("/opening-hours")


@router.post("/days/{closed_day_id}/open")
@form_of("/opening-hours")
def open_on(caller: OwnerCaller, closed_day_id: UUID) -> RedirectResponse:
    """Open the shop again on such a day."""
    closed_days.open_on(caller, closed_day_id=closed_day_id)
    return see("/opening-hours")
