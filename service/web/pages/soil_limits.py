"""Limits a soil should meet: what a soil should meet, with how each was read, and the shop's own copies."""

from typing import Any
from uuid import UUID

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse

from service.desk import soil_limits
from service.trade.soil.soil_limits import ENVELOPE, LOSS, OWN_ENVELOPE, SHRINKAGE, THRESHOLD
from service.trade.sources import SOURCES
from service.web.authentication import OwnerCaller, SentForm, StaffCaller
from service.web.error_pages import form_of
from service.web.form_input import FormReader, at_rows, reading
from service.web.responses import page, see
from service.web.room import Room

router = Room(prefix="/soil-limits")

SPARE_ROWS, NEW_ROWS = 2, 8


@router.get("")
def show(request: Request, caller: StaffCaller) -> HTMLResponse:
    """Show every envelope, threshold and band with its standing."""
    return page(
        request,
        "soil_limits.html",
        caller=caller,
        view=soil_limits.known(caller),
        sources={key: one.named for key, one in SOURCES.items()},
        keys={"new": OWN_ENVELOPE, "shrinkage": SHRINKAGE, "loss": LOSS, "envelope": ENVELOPE, "threshold": THRESHOLD},
        spare=SPARE_ROWS,
        new_rows=NEW_ROWS,
    )


@router.post("")
@form_of("/soil-limits")
def keep(caller: OwnerCaller, form: SentForm) -> RedirectResponse:
    """Keep the shop's own copy of one."""
    with reading(form, caller.shop) as read:
        key = read.text("key", most=80)
        rows = read.numbered("bounds", ("size_mm", "low", "high")) + read.numbered("bands", ("from_mm", "parts"))
        values = {**_values(read, key, rows), "rests_on": read.text("rests_on", most=200)}
    with at_rows("bounds", rows):
        soil_limits.keep_own(caller, key=key, values=values)
    return see("/soil-limits")


def _values(read: FormReader, key: str, rows: list[int]) -> dict[str, Any]:
    if key.startswith(ENVELOPE):
        name = {"name": read.text("name", most=60)} if key.startswith(OWN_ENVELOPE) else {}
        return {**name, "bounds": [_bound(read, f"bounds.{row}") for row in rows]}
    if key == SHRINKAGE:
        steps = [
            [read.quantity(f"bands.{row}.from_mm", "length", "mm").value, read.count(f"bands.{row}.parts", most=100)]
            for row in rows
        ]
        return {"bands": steps, "to_mm": read.quantity("to_mm", "length", "mm").value}
    if key == LOSS:
        return {"high": read.quantity("high", "share", "%").value}
    low, high = (read.maybe_quantity(side, "moisture", "%") for side in ("low", "high"))
    return {"low": low.value if low else None, "high": high.value if high else None}


def _bound(read: FormReader, row: str) -> dict[str, float]:
    return {
        "size_mm": read.quantity(f"{row}.size_mm", "opening", "mm").value,
        "low": read.quantity(f"{row}.low", "share", "%").value,
        "high": read.quantity(f"{row}.high", "share", "%").value,
    }


@router.post("/{own_id}/end")
@form_of("/soil-limits")
def end(caller: OwnerCaller, own_id: UUID) -> RedirectResponse:
    """Use the published values again."""
    soil_limits.end_own(caller, own_id=own_id)
    return see("/soil-limits")
