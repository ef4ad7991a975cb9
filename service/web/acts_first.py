"""Acts first: few pages are worked out at once, so that no act waits behind readers for a thread or the processor."""

import asyncio
from collections import deque
from time import monotonic
from weakref import WeakKeyDictionary

from starlette.types import ASGIApp, Message, Receive, Scope, Send

READS = frozenset({"GET", "HEAD"})
# So many pages are worked out at once; more would only take turns at the same processors.
AT_ONCE = 6
# Files and probes cost next to nothing; the shop's history has turns of its own.
FREE = ("/static/", "/vendor/", "/health/", "/metrics", "/expected-strength")
# Whoever has just recorded something sees the page that follows before others who only read.
FOLLOWS_WITHIN_S, MOST_KNOWN = 10.0, 2000


class _Places:
    """The places of one loop of events, and who waits for one."""

    def __init__(self) -> None:
        self.free = AT_ONCE
        self.first: deque[asyncio.Future[None]] = deque()
        self.others: deque[asyncio.Future[None]] = deque()

    async def take(self, *, first: bool) -> None:
        if self.free:
            self.free -= 1
            return
        line, mine = self.first if first else self.others, asyncio.get_running_loop().create_future()
        line.append(mine)
        try:
            await mine
        except asyncio.CancelledError:
            if mine.done() and not mine.cancelled():
                self.give_back()
            raise

    def give_back(self) -> None:
        for line in (self.first, self.others):
            while line:
                waiting = line.popleft()
                if not waiting.done():
                    waiting.set_result(None)
                    return
        self.free += 1


class ActsFirst:
    """Let acts through at once and readers by turns."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app
        self._places: WeakKeyDictionary[asyncio.AbstractEventLoop, _Places] = WeakKeyDictionary()
        self._acted: dict[bytes, float] = {}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass an act on; let a reader wait for his turn, which ends where his answer begins."""
        if scope["type"] != "http" or scope["path"].startswith(FREE):
            await self.app(scope, receive, send)
            return
        cookie = next((value for name, value in scope["headers"] if name == b"cookie"), b"")
        if scope["method"] not in READS:
            await self.app(scope, receive, self._noting(cookie, send))
            return
        places = self._places.setdefault(asyncio.get_running_loop(), _Places())
        await places.take(first=monotonic() - self._acted.get(cookie, -FOLLOWS_WITHIN_S) < FOLLOWS_WITHIN_S)
        held = True

        async def answering(message: Message) -> None:
            nonlocal held
            if held and message["type"] == "http.response.start":
                # However slowly the answer is taken, nobody waits for it.
                held = False
                places.give_back()
            await send(message)

        try:
            await self.app(scope, receive, answering)
        finally:
            if held:
                places.give_back()

    def _noting(self, cookie: bytes, send: Send) -> Send:
        async def noting(message: Message) -> None:
            # What was done leads to a page; what was refused does not put anybody first.
            if cookie and message["type"] == "http.response.start" and message["status"] < 400:
                if len(self._acted) >= MOST_KNOWN:
                    self._acted.clear()
                self._acted[cookie] = monotonic()
            await send(message)

        return noting
