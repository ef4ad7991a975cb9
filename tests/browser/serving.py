"""A served application for a real browser."""

import socket
from collections.abc import Iterator
from contextlib import contextmanager

import uvicorn
from fastapi import FastAPI

from tests.served import running

# A machine that does much else at once must not make a test fail: one step that takes so long is a failure.
ONE_STEP_MS = 90_000
# A browser that keeps a request open must not hold up the tests.
LAST_REQUESTS_S = 2


@contextmanager
def serving(app: FastAPI) -> Iterator[str]:
    """Serve an application on a free port of this machine and yield its address."""
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        config = uvicorn.Config(app, log_level="warning", timeout_graceful_shutdown=LAST_REQUESTS_S)
        with running(config, listening):
            yield f"http://127.0.0.1:{listening.getsockname()[1]}"
