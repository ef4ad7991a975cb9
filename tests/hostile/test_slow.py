"""Clients that come by the hundred, or that never come to the point: nobody else waits for them."""

import socket
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor, as_completed
from contextlib import ExitStack
from itertools import islice
from pathlib import Path
from threading import Event, Lock

import httpx
import pytest

from service.desk.signing_in import _passwords_and_pins
from service.desk.signing_in._passwords_and_pins import IN_ALL
from service.desk.signing_in.lifetimes_and_tries import MOST_TRIES
from service.web import request_guard, slow_clients
from service.web.slow_clients import Patience
from tests.cast import PASSWORD, Cast
from tests.hostile.serving import served

SLOW = 40
AT_ONCE = 200
# How many ask for more than they take: the first for one file, each for one more than the one before.
MOST_TIMES = 40
# How long the service waits in these tests, and how long a test does for what has to come, on however busy a machine.
SOON, PATIENCE = 0.5, 60


@pytest.fixture
def address(lasting_address: str, monkeypatch: pytest.MonkeyPatch) -> str:
    """Return where the shop is served with less patience; a connection cannot tell one database from the other."""
    monkeypatch.setattr(slow_clients, "HEAD_SECONDS", SOON)
    monkeypatch.setattr(slow_clients, "TAKEN_SECONDS", SOON)
    monkeypatch.setattr(request_guard, "BODY_SECONDS", SOON)
    return lasting_address


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
    one.settimeout(PATIENCE)
    one.connect((host, int(port)))
    return one


def test_whoever_sends_a_byte_now_and_then_holds_nobody_up_and_is_let_go(
    address: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    head = b"GET /health/live HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Slow: "
    with ExitStack() as open_ones:
        # Nobody is let go yet, so that what is answered now is answered while all of them are there.
        monkeypatch.setattr(slow_clients, "HEAD_SECONDS", PATIENCE)
        patient = [open_ones.enter_context(connected(address)) for _ in range(SLOW)]
        for one in patient:
            one.sendall(head)
        assert httpx.get(f"{address}/health/ready", timeout=PATIENCE).status_code == 200
        assert held(address) >= SLOW
        monkeypatch.setattr(slow_clients, "HEAD_SECONDS", SOON)
        slow = [open_ones.enter_context(connected(address)) for _ in range(SLOW)]
        for one in slow:
            one.sendall(head)
            one.setblocking(False)
        ends_at, let_go = time.monotonic() + PATIENCE, set[int]()
        while len(let_go) < SLOW and time.monotonic() < ends_at:
            let_go |= {number for number, one in enumerate(slow) if number not in let_go and _ended(one)}
            time.sleep(0.05)
    assert len(let_go) == SLOW


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
        assert httpx.get(f"{address}/health/ready", timeout=PATIENCE).status_code == 200
        answer = one.recv(65_536)
    assert answer.startswith(b"HTTP/1.1 408 ") and b"x-request-id" in answer.lower()


def test_a_connection_that_was_used_before_is_kept_waiting_no_longer(address: str) -> None:
    with connected(address) as one:
        one.sendall(b"GET /health/live HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
        assert one.recv(65_536).startswith(b"HTTP/1.1 200 ")
        one.setblocking(False)
        ends_at = time.monotonic() + PATIENCE
        one.sendall(b"GET /health/live HTTP/1.1\r\nX-Slow: ")
        while not (ended := _ended(one)) and time.monotonic() < ends_at:
            time.sleep(0.05)
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
        most = 0
        for times in range(1, MOST_TIMES):
            open_ones.enter_context(connected(address, takes_bytes=1)).sendall(LARGE * times)
            most = max(most, held(address))
        assert most > 0
        assert httpx.get(f"{address}/health/ready", timeout=PATIENCE).status_code == 200
        ends_at = time.monotonic() + PATIENCE
        while held(address) and time.monotonic() < ends_at:
            time.sleep(0.05)
        assert held(address) == 0


def test_whoever_takes_it_slowly_gets_all_of_it(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    looks, look = [0], Patience._look

    def counted(self: Patience, left_before: int) -> None:
        looks[0] += 1
        look(self, left_before)

    monkeypatch.setattr(Patience, "_look", counted)
    monkeypatch.setattr(slow_clients, "TAKEN_SECONDS", 2 * SOON)
    whole = httpx.get(f"{address}/vendor/htmx-2.min.js").raise_for_status().content
    with connected(address, takes_bytes=32_768) as one:
        one.sendall(LARGE * 100)
        taken = 0
        while taken < 100 * len(whole):
            got = len(one.recv(16_384))
            assert got > 0
            taken += got
            # So slowly that the service itself is rid of nothing from one look at it to the next.
            time.sleep(0.05 if looks[0] < 2 else 0)
    assert looks[0] >= 2


def test_two_hundred_who_sign_in_at_once_are_each_answered_and_two_hashes_are_worked_out_at_once(
    address_on_both: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    at_work, most_at_work, let_go, lock = [0], [0], Event(), Lock()
    verify = _passwords_and_pins._hashes.verify

    def held_up(*given: str) -> bool:
        with lock:
            at_work[0] += 1
            most_at_work[0] = max(most_at_work[0], at_work[0])
        let_go.wait(PATIENCE)
        with lock:
            at_work[0] -= 1
        return verify(*given)

    monkeypatch.setattr(_passwords_and_pins._hashes, "verify", held_up)
    # The count of one address's tries has tests of its own; here all of them come through to the password.
    monkeypatch.setitem(MOST_TRIES, "from", 10 * AT_ONCE)

    def sign_in(number: int) -> int:
        form = {"email": f"{number}@shop.example", "password": PASSWORD}
        return clients[number % len(clients)].post("/sign-in", data=form).status_code

    with ExitStack() as open_ones, ThreadPoolExecutor(AT_ONCE) as pool:
        # From several addresses of this machine, for one has a share of the connections.
        clients = [open_ones.enter_context(client_from(f"127.0.0.{n}", address_on_both)) for n in range(1, 5)]
        asked = [pool.submit(sign_in, number) for number in range(AT_ONCE)]
        told = [one.result() for one in islice(as_completed(asked, PATIENCE), AT_ONCE - IN_ALL)]
        let_go.set()
        answers = Counter(one.result() for one in asked)
        # Once the rush is over, whoever belongs here comes in.
        form = {"email": "cy@shop.example", "password": PASSWORD}
        assert clients[0].post("/sign-in", data=form).status_code == 303
    assert set(told) == {429} and answers == {429: AT_ONCE - IN_ALL, 422: IN_ALL}
    # A hash takes 64 MiB; two hundred at once would have taken 12 GiB.
    assert most_at_work[0] == _passwords_and_pins.AT_ONCE == 2


def client_from(local: str, address: str) -> httpx.Client:
    """Return a client with as many connections as it wants, from one of this machine's own addresses."""
    limits = httpx.Limits(max_connections=AT_ONCE)
    transport = httpx.HTTPTransport(local_address=local, verify=False, limits=limits)
    return httpx.Client(base_url=address, transport=transport, timeout=PATIENCE)
