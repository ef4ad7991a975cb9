"""The mixer's card of a recipe, to print and hang at the mixer."""

from uuid import UUID

from fastapi import Request
from fastapi.responses import HTMLResponse

from service.desk import jobs_in_hand
from service.desk.mixing import site_sheet as sites
from service.desk.mixing.site_sheet import SiteAsked
from service.errors import Invalid
from service.web.authentication import StaffCaller
from service.web.form_input import FormReader, reading
from service.web.responses import page
from service.web.room import Room

router = Room(prefix="/recipes/{recipe_id}/site")


@router.get("")
def show(request: Request, caller: StaffCaller, recipe_id: UUID) -> HTMLResponse:
    """Show the card worked from what stands in the address, or the form that asks for it."""
    typed = dict(request.query_params)
    sheet, fault = sites.site(caller, recipe_id=recipe_id), Invalid("")
    if "bag_kg" in typed:
        try:
            with reading(typed, caller.shop) as read:
                asked = _asked(read)
            sheet = sites.site(caller, recipe_id=recipe_id, asked=asked)
        except Invalid as refused:
            fault = refused
    return page(
        request,
        "site.html",
        caller=caller,
        code=422 if fault.sentence else 200,
        job=jobs_in_hand.card(caller, job_id=sheet.job_id),
        sheet=sheet,
        typed=typed,
        errors=fault.fields,
        refusal=fault.sentence,
    )


def _asked(read: FormReader) -> SiteAsked:
    return SiteAsked(
        bag_kg=read.quantity("bag_kg", "mass"),
        bucket_l=read.quantity("bucket_l", "volume"),
        blocks=read.count("blocks", least=1, most=1_000_000),
        dry_mass_per_block_kg=read.quantity("dry_mass_per_block_kg", "mass"),
        waste=read.quantity("waste", "share", unit="%"),
        moistures=read.by_id("moistures", kind="moisture", unit="%"),
    )
