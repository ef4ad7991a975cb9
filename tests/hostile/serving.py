"""The shop behind the server that a real one has, for what only a connection shows."""

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import uvicorn

from service.app import server_config
from service.settings import Settings
from tests.cast import Cast
from tests.postgres import free_port


@contextmanager
def served(cast: Cast, folder: Path, **more: Any) -> Iterator[str]:
    """Serve the shop as ``loambook serve`` does it, and give the address."""
    settings = Settings(data=folder, port=free_port(), **more)
    server = uvicorn.Server(server_config(settings, cast.app))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    yield settings.address
    server.should_exit = True
    thread.join(20)
