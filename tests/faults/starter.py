"""Starts ``loambook serve`` for every line it reads, in a process of its own that has the libraries already."""

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
    """Fork at each line, say the child's id, and let the child serve."""
    # Whoever was killed leaves nothing to wait for.
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)
    for _ in sys.stdin:
        child = os.fork()
        if child == 0:
            signal.signal(signal.SIGCHLD, signal.SIG_DFL)
            closing.obey(str(Path(os.environ["LOAMBOOK_DATA"]).parent))
            shop.serve()
            os._exit(0)
        sys.stdout.write(f"{child}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    start_for_every_line()
