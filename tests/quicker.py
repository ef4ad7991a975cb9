"""What makes thousands of small tests quick and changes nothing that they see.

Each test has engines of its own, and SQLAlchemy keeps what it compiled for one engine and its dialect alone: here what
was compiled once serves every engine of the same kind. And the collector of Python's garbage looks through all that the
libraries made, again and again: here it looks only at what came after the tests were collected.
"""

import gc
import os
from typing import Any

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


def collect_less() -> None:
    """Leave what stands now out of every later look for garbage."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)
