"""Connections: whoever begins a request and does not come to its point is not waited for."""

import asyncio

from uvicorn.protocols.http.h11_impl import H11Protocol

# How long the head of a request may take, and how many connections one process holds: Debian allows it 1024 files.
HEAD_SECONDS = 20.0
MOST_CONNECTIONS = 800


class Patience(H11Protocol):
    """HTTP/1.1 whose patience ends, where the server's own begins anew with every byte."""

    _ends: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to wait for a first request."""
        super().connection_made(transport)
        self._wait()

    def handle_events(self) -> None:
        """Wait no longer once the head of a request is whole; its body is the guard's to wait for."""
        before = self.cycle
        super().handle_events()
        if self.cycle is not before:
            self._stop_waiting()

    def on_response_complete(self) -> None:
        """Begin to wait for the next request."""
        self._wait()
        super().on_response_complete()

    def connection_lost(self, exc: Exception | None) -> None:
        """Wait for nothing more."""
        self._stop_waiting()
        super().connection_lost(exc)

    def _wait(self) -> None:
        self._stop_waiting()
        self._ends = self.loop.call_later(HEAD_SECONDS, self.transport.close)

    def _stop_waiting(self) -> None:
        if self._ends is not None:
            self._ends.cancel()
            self._ends = None
