"""Connections: whoever does not come to the point of a request, or does not take the answer, is not waited for."""

import asyncio
import fcntl
import struct
import termios

from uvicorn.protocols.http.h11_impl import H11Protocol

# How long the head of a request may take, and how many connections one process holds: Debian allows it 1024 files.
HEAD_SECONDS = 20.0
MOST_CONNECTIONS = 800
# How much of an answer that piles up has to be taken in how long; the slowest telephone takes more.
TAKEN_SECONDS = 20.0
LEAST_TAKEN_BYTES = 4096


class Patience(H11Protocol):
    """HTTP/1.1 whose patience ends, where the server's own begins anew with every byte and never ends for an answer."""

    _ends: asyncio.TimerHandle | None = None
    _looks: asyncio.TimerHandle | None = None

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

    def pause_writing(self) -> None:
        """Begin to look at what is taken once so much of an answer has piled up that no more is written."""
        super().pause_writing()
        self._look_later()

    def resume_writing(self) -> None:
        """Look no more: enough was taken."""
        super().resume_writing()
        self._stop_looking()

    def connection_lost(self, exc: Exception | None) -> None:
        """Wait for nothing more."""
        self._stop_waiting()
        self._stop_looking()
        super().connection_lost(exc)

    def _wait(self) -> None:
        self._stop_waiting()
        self._ends = self.loop.call_later(HEAD_SECONDS, self._close)

    def _stop_waiting(self) -> None:
        if self._ends is not None:
            self._ends.cancel()
            self._ends = None

    def _close(self) -> None:
        # What was written before is still sent, so a close alone never ends for somebody who does not read.
        self.transport.close()
        self._look_later()

    def _look_later(self) -> None:
        self._stop_looking()
        self._looks = self.loop.call_later(TAKEN_SECONDS, self._look, self._left())

    def _look(self, left_before: int) -> None:
        left = self._left()
        if left_before - left < min(LEAST_TAKEN_BYTES, left_before):
            self.transport.abort()
        elif left:
            self._look_later()

    def _left(self) -> int:
        # The system takes megabytes at once and then nothing more for long, while somebody slow takes them from it.
        socket = self.transport.get_extra_info("socket")
        (queued,) = struct.unpack("i", fcntl.ioctl(socket.fileno(), termios.TIOCOUTQ, bytes(4)))
        return self.transport.get_write_buffer_size() + int(queued)

    def _stop_looking(self) -> None:
        if self._looks is not None:
            self._looks.cancel()
            self._looks = None
