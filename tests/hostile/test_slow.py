"""Clients that come by the hundred, or that never come to the point: nobody else waits for them."""

import resource
import socket
import threading
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from pathlib import Path
from threading import Barrier

import httpx
import pytest

from service.desk.signing_in import _passwords
from service.desk.signing_in.limits import MOST_TRIES
from service.web import request_guard, slow_clients
from tests.cast import PASSWORD, SLOW_HASHES, Cast
from tests.hostile.serving import served

SLOW = 40
AT_ONCE = 200
MOST_TIMES = 80


@pytest.fixture
def address(cast_on_sqlite: Cast, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """Yield where the shop is served with less patience; a connection cannot tell one database from the other."""
    monkeypatch.setattr(slow_clients, "HEAD_SECONDS", 1.5)
    monkeypatch.setattr(slow_clients, "TAKEN_SECONDS", 1.5)
    monkeypatch.setattr(request_guard, "BODY_SECONDS", 1.5)
    with served(cast_on_sqlite, tmp_path) as made:
        yield made


@pytest.fixture
def address_on_both(cast: Cast, tmp_path: Path) -> Iterator[str]:
    """Yield where the shop is served, on either database in turn."""
    with served(cast, tmp_path) as made:
        yield made


def connected(address: str, *, takes_bytes: int | None = None) -> socket.socket:
    """Return a connection, of the smallest room for answers where it is to fill soon."""
    host, _, port = address.removeprefix("http://").rpartition(":")
    one = socket.socket()
    if takes_bytes is not None:
        one.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, takes_bytes)
    one.settimeout(10)
    one.connect((host, int(port)))
    return one


def test_whoever_sends_a_byte_now_and_then_holds_nobody_up_and_is_let_go(address: str) -> None:
    head = b"GET /health/live HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Slow: "
    with ExitStack() as open_ones:
        slow = [open_ones.enter_context(connected(address)) for _ in range(SLOW)]
        ends_at, let_go, longest = time.monotonic() + 10, set[int](), 0.0
        for one in slow:
            one.sendall(head)
            one.setblocking(False)
        while len(let_go) < SLOW and time.monotonic() < ends_at:
            began = time.monotonic()
            assert httpx.get(f"{address}/health/ready", timeout=5).status_code == 200
            longest = max(longest, time.monotonic() - began)
            for number, one in enumerate(slow):
                if number not in let_go and _ended(one):
                    let_go.add(number)
            time.sleep(0.1)
    assert len(let_go) == SLOW and longest < 5


def _ended(one: socket.socket) -> bool:
    """Send another byte, and return whether the other side is gone."""
    try:
        one.sendall(b"x")
        return one.recv(100) == b""
    except BlockingIOError:
        return False
    except OSError:
        return True


def test_a_body_that_never_becomes_whole_is_told_so(address: str) -> None:
    with connected(address) as one:
        one.sendall(
            b"POST /sign-in HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/x-www-form-urlencoded\r\n"
            b"Content-Length: 100\r\n\r\nemail="
        )
        assert httpx.get(f"{address}/health/ready", timeout=5).status_code == 200
        answer = one.recv(65_536)
    assert answer.startswith(b"HTTP/1.1 408 ") and b"x-request-id" in answer.lower()


def test_a_connection_that_was_used_before_is_kept_waiting_no_longer(address: str) -> None:
    with connected(address) as one:
        one.sendall(b"GET /health/live HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
        assert one.recv(65_536).startswith(b"HTTP/1.1 200 ")
        one.setblocking(False)
        ends_at = time.monotonic() + 10
        one.sendall(b"GET /health/live HTTP/1.1\r\nX-Slow: ")
        while not (ended := _ended(one)) and time.monotonic() < ends_at:
            time.sleep(0.1)
    assert ended


LARGE = b"GET /vendor/htmx-2.min.js HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"


def held(address: str) -> int:
    """Return how many connections the service itself still holds, whatever the system does for it."""
    port = f":{int(address.rpartition(':')[2]):04X}"
    lines = [line.split() for line in Path("/proc/net/tcp").read_text("ascii").splitlines()]
    # 01 is open, 08 closed by the other side alone.
    return sum(line[1].endswith(port) and line[3] in ("01", "08") for line in lines)


def test_whoever_does_not_take_what_he_asked_for_is_let_go(address: str) -> None:
    with ExitStack() as open_ones:
        # Some ask for less than the system takes off the service's hands, some for more, some for a little more.
        for times in range(1, MOST_TIMES):
            open_ones.enter_context(connected(address, takes_bytes=1)).sendall(LARGE * times)
        assert held(address) > MOST_TIMES / 2
        ends_at = time.monotonic() + 30
        while held(address) and time.monotonic() < ends_at:
            assert httpx.get(f"{address}/health/ready", timeout=10).status_code == 200
            time.sleep(0.2)
        assert held(address) == 0


def test_whoever_takes_it_slowly_gets_all_of_it(address: str) -> None:
    whole = httpx.get(f"{address}/vendor/htmx-2.min.js").raise_for_status().content
    with connected(address, takes_bytes=32_768) as one:
        one.sendall(LARGE * 100)
        taken, began = 0, time.monotonic()
        while taken < 100 * len(whole):
            got = len(one.recv(16_384))
            assert got > 0
            taken += got
            # So slowly that for longer than anybody is waited for the service itself is rid of nothing.
            time.sleep(0.05 if time.monotonic() - began < 5 else 0)


def test_two_hundred_who_sign_in_at_once_are_each_answered_within_bounded_memory(
    address_on_both: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    together, at_work, most_at_work = Barrier(AT_ONCE), [0], [0]
    # The service's own hashes, for unknown people at least: light ones would be over before the next comes.
    nobodys = SLOW_HASHES.hash("nobody")
    monkeypatch.setattr(_passwords, "_nobodys_hash", lambda: nobodys)
    verify, lock = _passwords._hashes.verify, threading.Lock()

    def counted(*given: str) -> bool:
        with lock:
            at_work[0] += 1
            most_at_work[0] = max(most_at_work[0], at_work[0])
        try:
            return verify(*given)
        finally:
            with lock:
                at_work[0] -= 1

    monkeypatch.setattr(_passwords._hashes, "verify", counted)
    # The count of one address's tries has tests of its own; here all of them come through to the password.
    monkeypatch.setitem(MOST_TRIES, "from", 10 * AT_ONCE)
    before_kb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss

    def sign_in(number: int) -> int:
        form = {"email": f"{number}@shop.example" if number % 4 else "tess@shop.example", "password": PASSWORD}
        with httpx.Client(timeout=60) as client:
            together.wait()
            return client.post(f"{address_on_both}/sign-in", data=form).status_code

    with ThreadPoolExecutor(AT_ONCE) as pool:
        answers = Counter(pool.map(sign_in, range(AT_ONCE)))
    assert set(answers) <= {303, 422, 429} and answers[429] > 0 and answers[422] > 0
    assert most_at_work[0] <= _passwords.AT_ONCE
    # A hash takes 64 MiB; two hundred at once would have taken 12 GiB.
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before_kb < 500 * 1024
    # Once the rush is over, whoever belongs here comes in.
    with httpx.Client(timeout=60) as client:
        form = {"email": "cy@shop.example", "password": PASSWORD}
        assert client.post(f"{address_on_both}/sign-in", data=form).status_code == 303
