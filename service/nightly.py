"""The rounds that nobody asks for: the nightly archive, made by whichever replica gets the turn."""

import logging
from dataclasses import dataclass, field
from datetime import time
from pathlib import Path
from secrets import token_hex
from threading import Event, Thread

from service.desk import backups
from service.desk.doorway import Caller, Role, Stores, Via
from service.paper import archiving

log = logging.getLogger(__name__)

# How long a stop waits for an archive that is just being written; one broken off is never under its final name.
STOP_S = 20.0


@dataclass
class Rounds:
    """A thread that looks now and then whether something is due."""

    stores: Stores
    folder: Path
    nightly_at: time
    every_s: float = 60.0
    _stopped: Event = field(default_factory=Event)
    _thread: Thread | None = None

    def start(self) -> None:
        """Begin to look."""
        self._thread = Thread(target=self._run, name="rounds", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Look no more; wait for what is under way."""
        self._stopped.set()
        if self._thread is not None:
            self._thread.join(STOP_S)

    def _run(self) -> None:
        while not self._stopped.wait(self.every_s):
            try:
                archive_nightly(self.stores, folder=self.folder, nightly_at=self.nightly_at)
            except Exception:
                # Tonight's failure must not end the rounds: the turn runs out and the next look tries again.
                log.exception("the nightly archive could not be made")


def archive_nightly(stores: Stores, *, folder: Path, nightly_at: time) -> bool:
    """Make the nightly archive if it is due and no other replica has the turn, and say whether it was made."""
    caller = Caller(stores=stores, via=Via.ROUND, request_id=token_hex(8), role=Role.OWNER)
    if not backups.is_due(caller, nightly_at=nightly_at) or not backups.take_turn(caller).details["got"]:
        return False
    taken = archiving.make(caller, folder=folder)
    if taken is not None:
        log.info("archived %d rows and %d files", taken.rows, taken.files)
    return taken is not None
