"""The shop's materials, their prices and their carbon."""

from uuid import UUID

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse

from service.desk import materials
from service.web.authentication import OwnerCaller, SentForm, StaffCaller
from service.web.error_pages import form_of
from service.web.form_input import reading
from service.web.responses import local, page, see
from service.web.room import Room

router = Room(prefix="/materials")

KINDS = (
    ("sand", "Sand or fines"),
    ("cement", "Cement"),
    ("lime", "Lime"),
    ("soil", "Soil of the shop's own"),
    ("other", "Something else"),
)


@router.get("")
def show(request: Request, caller: StaffCaller) -> HTMLResponse:
    """Show the shelf."""
    return page(request, "materials.html", caller=caller, shelf=materials.shelf(caller), kinds=KINDS)


@router.post("")
@form_of("/materials")
def add(caller: StaffCaller, form: SentForm) -> RedirectResponse:
    """Put a material on the shelf."""
    with reading(form, caller.shop) as read:
        kind, name = read.choice("kind", tuple(kind for kind, _ in KINDS)), read.text("name", most=80)
    done = materials.add_material(caller, kind=kind, name=name)
    return see(f"/materials/{done.id}")


@router.get("/{material_id}")
def show_one(request: Request, caller: StaffCaller, material_id: UUID) -> HTMLResponse:
    """Show a material and every price it had."""
    return page(request, "material.html", caller=caller, material=materials.history(caller, material_id=material_id))


@router.post("/{material_id}/prices")
@form_of("/materials/{material_id}")
def set_price(caller: OwnerCaller, form: SentForm, material_id: UUID) -> RedirectResponse:
    """Keep a price from a day on."""
    with reading(form, caller.shop) as read:
        carbon, low, high = (
            read.maybe_quantity(name, "carbon") for name in ("carbon_kg_per_kg", "carbon_low", "carbon_high")
        )
        valid_from, price = read.day("valid_from"), read.maybe_price("per_kg")
        source, bag = read.text("source"), read.maybe_quantity("bag_kg", "mass")
        because = read.maybe_text("because", most=500)
    materials.set_price(
        caller,
        material_id=material_id,
        valid_from=valid_from,
        price=price,
        carbon_kg_per_kg=carbon.value if carbon else None,
        carbon_low=low.value if low else None,
        carbon_high=high.value if high else None,
        source=source,
        bag_kg=bag,
        because=because,
    )
    return see(f"/materials/{material_id}")


@router.post("/{material_id}/name")
@form_of("/materials/{material_id}")
def rename(caller: StaffCaller, form: SentForm, material_id: UUID) -> RedirectResponse:
    """Correct what a material is called."""
    with reading(form, caller.shop) as read:
        name, then = read.text("name", most=80), read.raw("then")
    materials.rename_material(caller, material_id=material_id, name=name)
    return see(local(then) if then else f"/materials/{material_id}")


@router.post("/{material_id}/end")
def end(caller: OwnerCaller, material_id: UUID) -> RedirectResponse:
    """Take a material off the shelf."""
    materials.end_material(caller, material_id=material_id)
    return see("/materials")
