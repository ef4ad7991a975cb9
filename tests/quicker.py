"""What makes thousands of small tests quick and changes nothing that they see.

Each test has engines of its own, and SQLAlchemy keeps what it compiled for one engine and its dialect alone: here what
was compiled once serves every engine of the same kind. The collector of Python's garbage looks through all that the
libraries made, again and again: here it looks only at what came after the tests were collected. And a test client
starts a loop and threads for every request: here all share one loop, as the requests of a served shop do.
"""

import atexit
import gc
import os
from contextlib import ExitStack
from functools import cache
from typing import Any

from anyio.from_thread import start_blocking_portal
from sqlalchemy import Connection, Engine, event
from sqlalchemy.engine.default import DefaultDialect
from sqlalchemy.util import LRUCache

from tests.postgres import quick_place

COMPILED: LRUCache[Any, Any] = LRUCache(5_000)


def write_in_memory() -> None:
    """Put what tests write where no disk is waited for, unless somebody says where: every act waits for its disk."""
    place = quick_place()
    if place:
        os.environ.setdefault("PYTEST_DEBUG_TEMPROOT", str(place))


def compile_once() -> None:
    """Let every engine of a kind use what was compiled for another."""

    @event.listens_for(Engine, "engine_connect")
    def share(connection: Connection) -> None:
        connection.engine._compiled_cache = COMPILED

    def kind(self: DefaultDialect) -> tuple[Any, ...]:
        return (self.name, self.driver, getattr(self, "server_version_info", None))

    DefaultDialect.__hash__ = lambda self: hash(kind(self)[:2])  # type: ignore[method-assign,arg-type]
    DefaultDialect.__eq__ = (  # type: ignore[method-assign,assignment]
        lambda self, other: isinstance(other, DefaultDialect) and kind(self) == kind(other)
    )


@cache
def answer_in_one_loop() -> None:
    """Let every test client of this process send its requests to one loop."""
    from starlette.testclient import TestClient

    running = ExitStack()

    def start() -> None:
        TestClient.portal = running.enter_context(start_blocking_portal())

    start()
    # A fork has none of the threads: a mutation is tried in one.
    os.register_at_fork(after_in_child=start)
    atexit.register(running.close)


def collect_less() -> None:
    """Leave what stands now out of every later look for garbage."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)
