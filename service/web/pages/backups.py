"""Where the shop's records stand: the owner looks at the age of the last archive, makes one and takes it away."""

from fastapi import Request
from fastapi.responses import FileResponse, HTMLResponse, RedirectResponse

from service.desk import backups
from service.paper import archiving
from service.web.authentication import COSTLY_PAPER, OwnerCaller
from service.web.error_pages import form_of
from service.web.responses import page, see
from service.web.room import Room

router = Room()


@router.get("/backups")
def show(request: Request, caller: OwnerCaller) -> HTMLResponse:
    """Show the state of the archives, the trail and the database."""
    folder = request.app.state.archives
    here = {path.name for path in folder.glob("*.zip")} if folder.is_dir() else set()
    return page(request, "backups.html", caller=caller, kept=backups.show(caller), here=here)


@router.post("/backups/archives", dependencies=[COSTLY_PAPER])
@form_of("/backups")
def make(request: Request, caller: OwnerCaller) -> RedirectResponse:
    """Back up now."""
    archiving.make(caller, folder=request.app.state.archives)
    return see("/backups")


@router.post("/backups/archives/{name}")
@form_of("/backups")
def take_away(request: Request, caller: OwnerCaller, name: str) -> FileResponse:
    """Give the file of an archive; the trail says who took it."""
    path = archiving.hand_out(caller, folder=request.app.state.archives, name=name)
    return FileResponse(path, media_type="application/zip", filename=name, headers={"Cache-Control": "no-store"})
