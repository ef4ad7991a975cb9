"""A server in a thread of the tests, which is gone with all its rounds before its database is."""

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from socket import socket

import uvicorn

# Longer than the service itself waits for its last requests, and for its rounds after them.
ENDS_WITHIN_S = 90.0


@contextmanager
def running(config: uvicorn.Config, *sockets: socket) -> Iterator[None]:
    """Serve as configured, on given sockets if any, until whoever asked has done."""
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, kwargs={"sockets": list(sockets) or None}, daemon=True)
    thread.start()
    while not server.started:
        assert thread.is_alive(), "The server did not start."
        time.sleep(0.01)
    try:
        yield
    finally:
        server.should_exit = True
        thread.join(ENDS_WITHIN_S)
    assert not thread.is_alive(), "The server did not end: its rounds would go on beside the next tests."
