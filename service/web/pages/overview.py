"""How the shop does, on one page: weeks behind and ahead, what is late and what runs out."""

from uuid import UUID

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse

from service.desk import overview
from service.web.authentication import SentForm, StaffCaller
from service.web.error_pages import form_of
from service.web.form_input import reading
from service.web.responses import page, see
from service.web.room import Room

router = Room()


@router.get("/overview")
def show(request: Request, caller: StaffCaller) -> HTMLResponse:
    """Show how the shop does."""
    return page(request, "overview.html", caller=caller, found=overview.overview(caller))


@router.post("/overview/sacks/{receipt_id}/discarded")
@form_of("/overview")
def discard(caller: StaffCaller, receipt_id: UUID) -> RedirectResponse:
    """Write down that what was kept of a sack was discarded."""
    overview.discard(caller, receipt_id=receipt_id)
    return see("/overview")


@router.post("/materials/{material_id}/good-until")
@form_of("/materials/{material_id}")
def set_good_until(caller: StaffCaller, form: SentForm, material_id: UUID) -> RedirectResponse:
    """Keep until when the bags of a material are good."""
    with reading(form, caller.shop) as read:
        day = read.maybe_day("good_until")
    overview.set_good_until(caller, material_id=material_id, good_until=day)
    return see(f"/materials/{material_id}")
