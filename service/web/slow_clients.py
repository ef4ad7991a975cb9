"""Connections: whoever does not come to the point of a request, or does not take the answer, is not waited for."""

import asyncio
import fcntl
import struct
import termios
from collections import Counter
from ipaddress import ip_address, ip_network
from typing import ClassVar

from uvicorn.protocols.http.h11_impl import H11Protocol

# How long the head of a request may take, and how many connections one process holds: Debian allows it 1024 files.
HEAD_SECONDS = 20.0
MOST_CONNECTIONS = 800
# How many of them one address on the network may hold. A proxy that the settings name is not counted: it keeps the
# shares of those behind it.
MOST_OF_ONE = 100
CLOSE = (b"connection", b"close")
# How much of an answer that piles up has to be taken in how long; the slowest telephone takes more.
TAKEN_SECONDS = 20.0
LEAST_TAKEN_BYTES = 4096


class Patience(H11Protocol):
    """HTTP/1.1 whose patience ends, where the server's own begins anew with every byte and never ends for an answer."""

    _ends: asyncio.TimerHandle | None = None
    _looks: asyncio.TimerHandle | None = None
    _of: str = ""
    _held: ClassVar[Counter[str]] = Counter()

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to wait for a first request, unless this address holds its share of connections already."""
        super().connection_made(transport)
        address = share_of(self.client[0]) if self.client else ""
        if address and not self._is_proxy():
            if self._held[address] >= MOST_OF_ONE:
                transport.abort()
                return
            self._of = address
            self._held[address] += 1
        self._wait()

    def _is_proxy(self) -> bool:
        named = self.config.forwarded_allow_ips or []
        return self.config.proxy_headers and self.client is not None and ("*" in named or self.client[0] in named)

    def handle_events(self) -> None:
        """Wait no longer once the head of a request is whole; its body is the guard's to wait for."""
        before = self.cycle
        super().handle_events()
        if self.cycle is not before:
            self._stop_waiting()
            names = {name for name, _ in self.headers}
            if {b"content-length", b"transfer-encoding"} <= names:
                # RFC 9112, 6.1: another reader may have gone by the length, so nothing behind this body is answered.
                self.headers.append(CLOSE)

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
        if self._of:
            self._held[self._of] -= 1
            if not self._held[self._of]:
                del self._held[self._of]
            self._of = ""
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


def share_of(address: str) -> str:
    """Return what an address shares a count with: itself, or of the newer kind the network that one house gets."""
    try:
        read = ip_address(address)
    except ValueError:
        return address
    return address if read.version == 4 else str(ip_network(f"{address}/64", strict=False))
