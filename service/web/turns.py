"""Turns at what takes long: few at once, in all and of one caller, and nobody waits in a thread that serves pages."""

import asyncio
from collections import Counter, defaultdict
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from weakref import WeakKeyDictionary

from service.errors import TooMany

# How many are worked out at once, and of one person or program; a page needs the rest of the machine.
AT_ONCE, OF_ONE_CALLER = 2, 1
# How many of one person or program wait at once, and how long a wait may be.
WAITING_OF_ONE, WAITS_S = 20, 60.0
FULL = "You have several requests waiting. Send the next when one is answered."
BUSY = "The service is busy. Try again in a minute."


class _Turns:
    """The turns of one loop of events."""

    def __init__(self) -> None:
        self.overall = asyncio.Semaphore(AT_ONCE)
        self.own: defaultdict[str, asyncio.Semaphore] = defaultdict(lambda: asyncio.Semaphore(OF_ONE_CALLER))
        self.there: Counter[str] = Counter()


_of_loops: WeakKeyDictionary[asyncio.AbstractEventLoop, defaultdict[str, _Turns]] = WeakKeyDictionary()


@asynccontextmanager
async def turn(kind: str, caller_key: str) -> AsyncIterator[None]:
    """Hold a turn at a kind of work; whoever has too many waiting, or waits too long, is told so."""
    turns = _of_loops.setdefault(asyncio.get_running_loop(), defaultdict(_Turns))[kind]
    if turns.there[caller_key] >= WAITING_OF_ONE + OF_ONE_CALLER:
        raise TooMany(FULL)
    turns.there[caller_key] += 1
    try:
        # First among one's own, so that whoever sends many stands in the line of all with one of them only.
        own = turns.own[caller_key]
        async with _within(own), _within(turns.overall):
            yield
    finally:
        turns.there[caller_key] -= 1
        if not turns.there[caller_key]:
            del turns.there[caller_key], turns.own[caller_key]


@asynccontextmanager
async def _within(places: asyncio.Semaphore) -> AsyncIterator[None]:
    try:
        async with asyncio.timeout(WAITS_S):
            await places.acquire()
    except TimeoutError:
        raise TooMany(BUSY) from None
    try:
        yield
    finally:
        places.release()
