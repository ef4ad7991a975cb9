"""Print labels, and the stock of labels that the shop has."""

from typing import Annotated
from uuid import UUID

from fastapi import Query, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse

from service.desk import label_stock, labels
from service.desk.doorway import Caller
from service.desk.label_stock import SIZES, Stock
from service.desk.labels import Label
from service.paper.label_sheet import label_sheet
from service.web.authentication import OwnerCaller, SentForm, StaffCaller
from service.web.error_pages import form_of
from service.web.form_input import reading
from service.web.responses import page, see
from service.web.room import Room

router = Room()

First = Annotated[int, Query(ge=1, le=500)]


@router.get("/labels")
def show(request: Request, caller: OwnerCaller) -> HTMLResponse:
    """Show which labels the shop has."""
    return page(request, "label_stock.html", caller=caller, stock=label_stock.stock(caller))


@router.post("/labels")
@form_of("/labels")
def choose(caller: OwnerCaller, form: SentForm) -> RedirectResponse:
    """Say which labels the shop has."""
    with reading(form, caller.shop) as read:
        name, across, down = read.text("name", most=60), read.count("across", least=1), read.count("down", least=1)
        sizes = {field: read.quantity(field, "length").value for field in SIZES}
    label_stock.set_stock(caller, wanted=Stock(name, across=across, down=down, **sizes))
    return see("/labels")


@router.get("/batches/{batch_id}/labels.pdf")
def of_batch(request: Request, caller: StaffCaller, batch_id: UUID, first: First = 1) -> Response:
    """Give the labels of a batch and its blocks to print."""
    return _printed(request, caller, labels.of_batch(caller, batch_id=batch_id), first)


@router.get("/blocks/{block_id}/label.pdf")
def of_block(request: Request, caller: StaffCaller, block_id: UUID, first: First = 1) -> Response:
    """Give the label of one block to print."""
    return _printed(request, caller, labels.of_block(caller, block_id=block_id), first)


@router.get("/sacks/{receipt_id}/label.pdf")
def of_sack(request: Request, caller: StaffCaller, receipt_id: UUID, first: First = 1) -> Response:
    """Give the label of one sack to print."""
    return _printed(request, caller, labels.of_sack(caller, receipt_id=receipt_id), first)


def _printed(request: Request, caller: Caller, wanted: list[Label], first: int) -> Response:
    written = label_sheet(wanted, label_stock.stock(caller), address=request.app.state.address, first=first)
    return Response(
        written, media_type="application/pdf", headers={"Content-Disposition": "inline; filename=labels.pdf"}
    )
