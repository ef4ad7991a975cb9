"""The styles of all pages as one file, and their scripts: a slow tablet opens two files sooner than thirty.

What people read and change are the small files in ``static``; a changed one shows after a restart.
"""

from functools import cache

from fastapi.staticfiles import StaticFiles
from starlette.responses import Response
from starlette.types import Scope

from service.places import PACKAGE

FOLDER = PACKAGE / "web" / "static"
# Later styles may depend on earlier ones, and a script uses at once only what stands before it.
STYLES = (
    *("bench.css", "head.css", "forms.css", "tables.css", "marks.css", "mixing.css", "crushing.css", "results.css"),
    *("charts.css", "calculator.css", "tablet.css", "photos.css", "today.css"),
)
ON_PAPER = "print.css"
SCRIPTS = (
    *("store.js", "forms.js", "menu.js", "photos.js", "press.js", "rows.js", "tablet.js", "sending.js", "offline.js"),
    *("live.js", "scan.js", "today.js", "unsent.js", "whole.js"),
)
KINDS = {"all.css": "text/css", "all.js": "text/javascript"}


@cache
def joined(name: str) -> str:
    """Return all styles or all scripts, one after the other."""
    if name == "all.js":
        return "\n".join((FOLDER / one).read_text("utf-8") for one in SCRIPTS)
    styles = "\n".join((FOLDER / one).read_text("utf-8") for one in STYLES)
    return f"{styles}\n@media print {{\n{(FOLDER / ON_PAPER).read_text('utf-8')}}}\n"


class Files(StaticFiles):
    """The files of the folder, and the two that are made of them."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        """Answer with a file."""
        if path in KINDS:
            return Response(joined(path), media_type=KINDS[path])
        return await super().get_response(path, scope)
