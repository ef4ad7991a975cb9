"""What the night does: the archive, and all jobs fitted together, by whichever replica gets the turn."""

import logging
from datetime import time
from pathlib import Path
from secrets import token_hex

from service.desk import backups
from service.desk.doorway import Caller, Role, Stores, Via
from service.desk.results import expected_strength
from service.paper import archiving

log = logging.getLogger(__name__)


def archive_nightly(stores: Stores, *, folder: Path, nightly_at: time) -> bool:
    """Make the nightly archive if it is due and no other replica has the turn, and say whether it was made.

    Then all jobs are fitted together, where one came or changed.
    """
    caller = Caller(stores=stores, via=Via.ROUND, request_id=token_hex(8), role=Role.OWNER)
    if not backups.is_due(caller, nightly_at=nightly_at) or not backups.take_turn(caller).details["got"]:
        return False
    taken = archiving.make(caller, folder=folder)
    if taken is not None:
        log.info("archived %d rows and %d files", taken.rows, taken.files)
    # After it: nothing that goes wrong here may cost the archive.
    fitted = expected_strength.overnight(caller)
    if fitted is not None:
        expected_strength.keep(caller, fitted=fitted)
    return taken is not None
