"""The shop behind the server that a real one has, for what only a connection shows."""

import asyncio
from collections.abc import Coroutine, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TypeVar

from service.app import server_config
from service.settings import Settings
from tests.cast import Cast
from tests.postgres import free_port
from tests.served import running

T = TypeVar("T")


@contextmanager
def served(cast: Cast, folder: Path, **more: Any) -> Iterator[str]:
    """Serve the shop as ``loambook serve`` does it, and give the address."""
    settings = Settings(data=folder, port=free_port(), **more)
    with running(server_config(settings, cast.app)):
        yield settings.address


def run_apart(work: Coroutine[Any, Any, T]) -> T:
    """Return what comes of some work in a loop of its own; Chromium's driver leaves one running here."""
    with ThreadPoolExecutor(1) as pool:
        return pool.submit(asyncio.run, work).result()
