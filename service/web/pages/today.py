"""The technician's first page, the way back from a slip, and where a scanned label leads."""

from typing import Annotated, Any
from urllib.parse import quote
from uuid import UUID

from fastapi import Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse

from service.desk import scanned
from service.desk.today import page as todays
from service.desk.today import undo as undoing
from service.web.authentication import SentForm, StaffCaller, as_uuid
from service.web.error_pages import form_of
from service.web.responses import page, see
from service.web.room import Room

router = Room()

Block = Annotated[UUID | None, Query()]
# More blocks than anybody crushes in a day.
MOST_BLOCKS_KEPT = 150
Label = Annotated[str, Query(max_length=300)]


@router.get("/today")
def show(request: Request, caller: StaffCaller, block: Block = None, label: Label = "") -> HTMLResponse:
    """Show what to do now, in the whole shop or with one block."""
    today = todays.page(caller, block_id=block)
    kept = "" if block else " ".join(_kept(today))
    order = " ".join(str(one.id) for task in today.tasks if task.do == "crush" for one in task.blocks)
    view: dict[str, Any] = {"today": today, "one": block, "label": label, "kept": kept, "order": order}
    return page(request, "today.html", caller=caller, **view)


def _kept(today: todays.Today) -> list[str]:
    """Return the pages that a tablet needs without a connection: the tasks of now and of the next days."""
    pages = ["/today", "/curing", "/crushing", "/unsent"]
    for task in today.tasks:
        if task.do in ("press", "weigh"):
            pages.append(f"/batches/{task.batch_id}")
        if task.do == "press":
            at = f"/batches/{task.batch_id}/press"
            pages += [at, *(f"{at}?position={task.pressed + n}" for n in range(1, task.count + 1))]
        if task.do == "weigh again":
            pages.append(f"/blocks/{task.blocks[0].id}/tests/{task.test}")
    ahead = [*today.tasks, *today.later]
    pages += [f"/blocks/{one.id}/tests/{task.test}" for task in ahead if task.do == "test" for one in task.blocks]
    blocks = [one.id for task in [*today.tasks, *today.soaking, *today.later] for one in task.blocks]
    return pages + [f"/blocks/{one}" for one in list(dict.fromkeys(blocks))[:MOST_BLOCKS_KEPT]]


@router.post("/today/undo/{position}")
@form_of("/today")
def undo(caller: StaffCaller, form: SentForm, position: int) -> RedirectResponse:
    """Take back what one has just done."""
    undoing.undo(caller, position=position)
    return see("/today")


@router.get("/at/{thing_id}")
def follow_label(caller: StaffCaller, thing_id: UUID) -> RedirectResponse:
    """Lead from a scanned label to the act that is due with what it is stuck on."""
    return see(_path(scanned.leads_to(caller, thing_id=thing_id)))


@router.get("/find")
def find(caller: StaffCaller, label: Label = "") -> RedirectResponse:
    """Lead from a typed label to the act that is due; one that nothing carries stays in its field."""
    wanted = label.strip()
    # A scanner that types slowly leaves the whole address in the field.
    address = as_uuid(wanted.rpartition("/at/")[2])
    if address is not None:
        return see(_path(scanned.leads_to(caller, thing_id=address)))
    found = scanned.by_label(caller, label=wanted) if wanted else None
    return see(_path(found) if found else f"/today?label={quote(wanted)}")


def _path(found: scanned.LeadsTo) -> str:
    match found.act:
        case "soak":
            return f"/today?block={found.id}"
        case "test":
            return f"/blocks/{found.id}/tests/{found.test}"
        case "crush" | "block":
            return f"/blocks/{found.id}"
        case "press":
            return f"/batches/{found.id}/press"
        case "batch":
            return f"/batches/{found.id}"
        case _:
            return f"/sacks/{found.id}"
