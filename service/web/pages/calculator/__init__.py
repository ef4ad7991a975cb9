"""The Calculator: every worked calculation as a small form with its picture, formula and sources. Nothing is stored."""

import json
import re
from functools import partial
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse

from service.desk.doorway import Caller
from service.errors import Invalid
from service.trade.sources import SOURCES
from service.web.authentication import COSTLY_FORM, SentForm, StaffCaller
from service.web.error_pages import form_of
from service.web.pages.calculator import echo, examples, reading, sheets, showing
from service.web.pages.calculator.parts import Tree
from service.web.pages.calculator.pictures import charts
from service.web.responses import page
from service.web.room import Room
from service.work import answering, registry
from service.work.examples import EXAMPLES

router = Room(prefix="/calculator")

# One formula ends at a semicolon, unless it stands between brackets.
FORMULAS_END = re.compile(r"; (?![^()]*\))")


@router.get("")
def show_all(request: Request, caller: StaffCaller) -> HTMLResponse:
    """List the calculations."""
    return page(request, "calculator_list.html", caller=caller, shelves=sheets.SHELVES)


@router.get("/{name}")
def show(request: Request, caller: StaffCaller, name: str, way: str = "", example: str = "") -> HTMLResponse:
    """Show the form of one calculation, empty or with its example filled in."""
    sheet = sheets.sheet_of(name)
    if example:
        filled = examples.example_typed(sheet.way(way), EXAMPLES[name], caller.shop)
        request.state.typed = filled or {}
    return _page(request, caller, name, way)


# No act and no key: the same form sent twice gives the same answer twice, and neither leaves a trace.
@router.post("/{name}", dependencies=[COSTLY_FORM])
@form_of("/calculator/{name}")
def reckon(request: Request, caller: StaffCaller, form: SentForm, name: str, way: str = "") -> HTMLResponse:
    """Answer what was typed, on the page of the form or, for htmx, alone."""
    chosen = sheets.sheet_of(name).way(way)
    found = reading.read_way(form, chosen, caller.shop)
    try:
        answer = answering.answer_text(name, json.dumps(found.given))
    except Invalid as refusal:
        raise reading.at_fields(refusal, chosen, found) from refusal
    request.state.typed = {key: value for key, value in form.items() if isinstance(value, str)}
    return _page(request, caller, name, way, found=found, answer=answer)


def _page(
    request: Request,
    caller: Caller,
    name: str,
    way: str,
    *,
    found: reading.Input | None = None,
    answer: Tree | None = None,
) -> HTMLResponse:
    sheet, calculation = sheets.sheet_of(name), registry.find(name)
    chosen = sheet.way(way)
    typed = getattr(request.state, "typed", {})
    view: dict[str, Any] = {
        "name": name,
        "sheet": sheet,
        "way": chosen,
        "formula": FORMULAS_END.split(calculation.formula),
        "sources": [SOURCES[key] for key in calculation.source_keys],
        "rows_shown": examples.rows_shown(chosen.parts, typed),
        "has_example": examples.example_typed(chosen, EXAMPLES[name], caller.shop) is not None,
        "offers": partial(examples.offers, units=caller.shop.units_first),
        "shown": None,
    }
    if answer is not None and found is not None:
        view |= {
            "shown": showing.show(name, sheet, answer, caller.shop),
            "charts": charts(sheet.charts, found.given, answer),
            "raw": json.dumps(answer, indent=2, ensure_ascii=False),
            "asked": json.dumps(found.given, indent=2, ensure_ascii=False),
            "typed_in": echo.typed_in(chosen, typed),
        }
    return page(request, "calculator.html", caller=caller, **view)
