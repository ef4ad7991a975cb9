"""Old readings in: a file is brought, its columns are matched, what is wrong is shown by row, then it is taken in."""

from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from fastapi import Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse
from starlette.datastructures import FormData

from service.desk import imports
from service.desk.doorway import Caller
from service.errors import Invalid
from service.paper import importing
from service.paper.import_columns import FIELDS, Choice, Choices, guessed
from service.paper.importing import Checked
from service.paper.tables import as_csv
from service.paper.tables_read import FIELD, MOST_TABLE_BYTES, Sheet, read_table
from service.web.authentication import COSTLY_PAPER, OwnerCaller, SentForm
from service.web.error_pages import form_of
from service.web.form_input import reading
from service.web.responses import page, see
from service.web.room import Room
from service.words.units import offered

router = Room(prefix="/import")

SHOWN = 200
SAMPLES = 3
KEPT = ("mark", "order", "gauge")


@router.get("")
def show(request: Request, caller: OwnerCaller) -> HTMLResponse:
    """Show the files that were brought, and where to bring another."""
    return page(request, "import.html", caller=caller, files=imports.brought(caller))


@router.post("", dependencies=[COSTLY_PAPER])
@form_of("/import")
def bring(caller: OwnerCaller, form: SentForm) -> RedirectResponse:
    """Bring a file; its columns are matched on its page."""
    sent = form.get(FIELD)
    if sent is None or isinstance(sent, str):
        raise Invalid("No file was sent.", {FIELD: "Choose a file first."})
    content = sent.file.read(MOST_TABLE_BYTES + 1)
    with reading({"name": sent.filename or ""}, caller.shop) as read:
        name = read.text("name", most=120, needed=False)
    return see(f"/import/{importing.bring(caller, name=name, content=content)}")


@router.get("/{file_id}", dependencies=[COSTLY_PAPER])
def show_file(request: Request, caller: OwnerCaller, file_id: UUID) -> HTMLResponse:
    """Show how a file is read, and what is wrong with it once that was asked; or what came of it."""
    file = imports.show(caller, file_id=file_id)
    if file.imported_at is not None:
        return page(request, "imported.html", caller=caller, file=file, jobs=imports.jobs_of(caller, file_id=file_id))
    sheet = read_table(imports.content(caller, file_id=file_id))
    asked = dict(request.query_params)
    choices = _choices(asked, sheet, caller) if "checked" in asked else guessed(sheet, units=caller.shop.units_first)
    checked = importing.check(sheet, choices) if "checked" in asked else None
    return page(
        request,
        "import_file.html",
        caller=caller,
        file=file,
        sheet=sheet,
        fields=FIELDS,
        choices=choices,
        checked=checked,
        shown=SHOWN,
        samples=[[row[place] for _, row in sheet.rows[:SAMPLES]] for place in range(len(sheet.head))],
        gauges=imports.gauges(caller),
        units_of={name: offered(field.kind, caller.shop.units_first) for name, field in FIELDS.items() if field.kind},
        query=request.url.query,
    )


@router.get("/{file_id}/problems.csv", dependencies=[COSTLY_PAPER])
def show_problems(request: Request, caller: OwnerCaller, file_id: UUID) -> Response:
    """Give everything that is wrong with a file as a table."""
    sheet = read_table(imports.content(caller, file_id=file_id))
    checked = importing.check(sheet, _choices(dict(request.query_params), sheet, caller))
    rows = [(one.row, one.head, one.cell, one.sentence) for one in checked.problems]
    headers = {"Content-Disposition": 'attachment; filename="problems.csv"', "Cache-Control": "private, no-store"}
    table = as_csv(("row", "column", "cell", "problem"), rows)
    return Response(table, media_type="text/csv; charset=utf-8", headers=headers)


@router.post("/{file_id}", dependencies=[COSTLY_PAPER])
@form_of("/import/{file_id}")
def take_in(caller: OwnerCaller, form: SentForm, file_id: UUID) -> RedirectResponse:
    """Take a file in whole; where something is wrong nothing is taken, and its page says what."""
    typed = _typed(form)
    sheet = read_table(imports.content(caller, file_id=file_id))
    checked: Checked = importing.take_in(caller, file_id=file_id, choices=_choices(typed, sheet, caller))
    return see(f"/import/{file_id}?{urlencode(typed)}" if checked.problems else f"/import/{file_id}")


@router.post("/{file_id}/end")
@form_of("/import/{file_id}")
def end(caller: OwnerCaller, form: SentForm, file_id: UUID) -> RedirectResponse:
    """Let the readings of a file count no longer."""
    with reading(form, caller.shop) as read:
        because = read.text("because", most=200)
    imports.end(caller, file_id=file_id, because=because)
    return see(f"/import/{file_id}")


def _typed(form: FormData) -> dict[str, str]:
    """Return the choices of a form, as they stand in the address of its page."""
    named = {f"{name}.{part}" for name in FIELDS for part in ("column", "fixed", "unit")} | set(KEPT)
    return {"checked": "yes"} | {
        name: value for name, value in form.items() if isinstance(value, str) and value and name in named
    }


def _choices(typed: Mapping[str, Any], sheet: Sheet, caller: Caller) -> Choices:
    with reading(typed, caller.shop) as read:
        of = {}
        for name, field in FIELDS.items():
            column = read.maybe_count(f"{name}.column", most=len(sheet.head) - 1)
            units = offered(field.kind, caller.shop.units_first) if field.kind else ()
            unit = read.maybe_choice(f"{name}.unit", units) or (units[0] if units else "")
            of[name] = Choice(column, read.text(f"{name}.fixed", most=80, needed=False), unit)
        mark = read.maybe_choice("mark", (".", ",")) or "."
        order = read.maybe_choice("order", ("day", "month")) or "day"
        gauge = read.maybe_choice("gauge", tuple(str(one.id) for one in imports.gauges(caller))) or ""
    return Choices(of, mark, order, gauge)  # type: ignore[arg-type]
