"""Starts ``loambook serve`` for every line it reads, in a process of its own that has the libraries already."""

import json
import os
import signal
import sys
from pathlib import Path

from service import app
from service.cli import shop
from service.records import database
from tests.faults import closing

# What serve imports is imported here, once for all of its starts.
READY = (app.create_app, database.migrate)


def start_for_every_line() -> None:
    """Fork at each line, say the child's id, and let the child serve with the settings of the line."""
    # Whoever was killed leaves nothing to wait for.
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)
    for line in sys.stdin:
        child = os.fork()
        if child == 0:
            _serve(json.loads(line))
        sys.stdout.write(f"{child}\n")
        sys.stdout.flush()


def _serve(settings: dict[str, str]) -> None:
    signal.signal(signal.SIGCHLD, signal.SIG_DFL)
    os.environ.update(settings)
    folder = Path(settings["LOAMBOOK_DATA"])
    log = os.open(folder / "log", os.O_CREAT | os.O_APPEND | os.O_WRONLY)
    os.dup2(log, sys.stdout.fileno())
    os.dup2(log, sys.stderr.fileno())
    closing.obey(str(folder.parent))
    try:
        shop.serve()
    finally:
        os._exit(1)


if __name__ == "__main__":
    start_for_every_line()
