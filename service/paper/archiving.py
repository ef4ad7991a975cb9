"""Archives in their folder: made, handed out, and thinned to the last days and weeks."""

import re
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from time import time

from service.desk import backups
from service.desk.backups import Taken
from service.desk.doorway import Caller
from service.errors import Conflict, NotFound, Refusal

# Of this many days and of this many weeks that have an archive, the newest one is kept.
DAYS, WEEKS = 7, 5
UNFINISHED_S = 24 * 3600.0
NAME = re.compile(r"loambook-(\d{8}T\d{6}Z)\.zip")


def make(caller: Caller, *, folder: Path) -> Taken | None:
    """Make an archive in the folder and note it; the same form sent twice makes one."""
    if backups.answered(caller):
        return None
    name = f"loambook-{caller.stores.clock():%Y%m%dT%H%M%SZ}.zip"
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        taken = backups.take(caller, path=folder / name)
    except (OSError, Refusal) as failure:
        # With the disk full even the note may fail; what is told is the first failure.
        with suppress(Exception):
            backups.note(caller, name=name, sha256=None, ok=False)
        if isinstance(failure, OSError):
            raise Conflict(f"The archive could not be written: {failure.strerror}.") from failure
        raise
    backups.note(caller, name=name, sha256=taken.sha256, ok=taken.is_whole)
    # While the newest archive lacks something, an older one may be the only place that still has it.
    if taken.is_whole:
        thin(folder, at=caller.stores.clock())
    return taken


def thin(folder: Path, *, at: datetime) -> None:
    """Delete the archives of the folder that are neither of the last days nor of the last weeks."""
    there = {path.name for path in folder.iterdir() if NAME.fullmatch(path.name)}
    for name in there - kept(there, at=at):
        (folder / name).unlink(missing_ok=True)
    for unfinished in folder.glob("loambook-*.zip.part"):
        # A stop in the middle of one leaves it lying; a fresh one may still be growing.
        if unfinished.stat().st_mtime < time() - UNFINISHED_S:
            unfinished.unlink(missing_ok=True)


def kept(names: set[str], *, at: datetime) -> set[str]:
    """Return which archives stay: the newest of each of the last days, and of each of the last weeks.

    One dated in the future stays too, but takes no other's place.
    """
    dated = {datetime.strptime(name, "loambook-%Y%m%dT%H%M%S%z.zip"): name for name in sorted(names)}
    made = {moment: name for moment, name in dated.items() if moment <= at}
    days = {moment.date(): moment for moment in sorted(made)}
    weeks = {moment.isocalendar()[:2]: moment for moment in sorted(made)}
    newest = [days[day] for day in sorted(days)[-DAYS:]] + [weeks[week] for week in sorted(weeks)[-WEEKS:]]
    return {made[moment] for moment in newest} | (names - set(made.values()))


def hand_out(caller: Caller, *, folder: Path, name: str) -> Path:
    """Return the file of an archive for the owner to take away."""
    path = folder / name
    if not NAME.fullmatch(name) or not path.is_file():
        raise NotFound("This archive is not in the folder of this machine any more.")
    backups.hand_out(caller, name=name)
    return path
