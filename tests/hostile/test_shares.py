"""A share of the connections for each address on the network, and acts before readers."""

import asyncio
import time
from collections.abc import Callable, Coroutine, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import httpx
import pytest

from service.web import acts_first, slow_clients
from service.web.acts_first import ActsFirst
from service.web.slow_clients import share_of
from tests.cast import Cast
from tests.hostile.serving import run_apart, served
from tests.hostile.test_slow import connected

HALF = b"GET /sign-in HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Half: "
FEW = slow_clients.MOST_CONNECTIONS // 10


@pytest.fixture(autouse=True)
def few(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a share and all connections be fewer than they are, in the same proportion."""
    monkeypatch.setattr("service.app.MOST_CONNECTIONS", FEW)
    monkeypatch.setattr(slow_clients, "MOST_OF_ONE", slow_clients.MOST_OF_ONE // 10)


@pytest.fixture
def address(few: None, cast_on_sqlite: Cast, tmp_path: Path) -> Iterator[str]:
    """Yield where the shop is served, reached at two addresses of this machine."""
    with served(cast_on_sqlite, tmp_path) as made:
        yield made


def of_another(address: str) -> httpx.Client:
    """Return a client that comes from another address of this machine."""
    return httpx.Client(base_url=address, transport=httpx.HTTPTransport(local_address="127.0.0.2"), timeout=60)


def test_one_address_with_half_sent_requests_keeps_nobody_else_out(address: str) -> None:
    with ExitStack() as open_ones, of_another(address) as other:
        for _ in range(FEW + 10):
            one = open_ones.enter_context(connected(address))
            try:
                one.sendall(HALF)
            except OSError:
                continue
        assert other.get("/sign-in").status_code == 200
    # Once they are gone the address has its share again.
    deadline = time.monotonic() + 60
    while time.monotonic() < deadline:
        try:
            assert httpx.get(f"{address}/sign-in", timeout=60).status_code == 200
            return
        except httpx.TransportError:
            time.sleep(0.1)
    raise AssertionError("The share was not given back.")


def test_a_proxy_that_the_settings_name_has_no_share(cast_on_sqlite: Cast, tmp_path: Path) -> None:
    with served(cast_on_sqlite, tmp_path, proxies=("127.0.0.1",)) as address, ExitStack() as open_ones:
        for _ in range(slow_clients.MOST_OF_ONE + 5):
            open_ones.enter_context(connected(address)).sendall(HALF)
        assert httpx.get(f"{address}/sign-in", timeout=60).status_code == 200


def test_a_house_of_the_newer_kind_of_address_shares_one_count() -> None:
    assert share_of("2001:db8:1:2::5") == share_of("2001:db8:1:2:ffff::1") != share_of("2001:db8:1:3::5")
    assert [share_of(one) for one in ("192.0.2.1", "192.0.2.2", "")] == ["192.0.2.1", "192.0.2.2", ""]


class Shop:
    """An application that answers a reader when it is told to, and an act at once."""

    def __init__(self) -> None:
        self.let_go, self.reading, self.most, self.order = asyncio.Event(), 0, 0, list[str]()

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        reads = scope["method"] == "GET"
        if reads:
            self.reading += 1
            self.most = max(self.most, self.reading)
            await self.let_go.wait()
            self.reading -= 1
        self.order.append(scope["path"])
        await send({"type": "http.response.start", "status": 200 if reads else 303, "headers": []})
        await send({"type": "http.response.body", "body": b""})


def asking(app: ActsFirst) -> Callable[..., Coroutine[Any, Any, None]]:
    async def ask(method: str, path: str, cookie: bytes = b"", *, slow: asyncio.Event | None = None) -> None:
        async def send(message: Any) -> None:
            if slow is not None and message["type"] == "http.response.body":
                await slow.wait()

        headers = [(b"cookie", cookie)] if cookie else []
        await app({"type": "http", "method": method, "path": path, "headers": headers}, None, send)  # type: ignore[arg-type]

    return ask


def test_an_act_does_not_wait_for_readers_and_the_page_after_it_comes_first() -> None:
    async def tried() -> Shop:
        shop = Shop()
        ask = asking(ActsFirst(shop))
        readers = [asyncio.create_task(ask("GET", f"/read/{n}", b"cy")) for n in range(200)]
        await asyncio.sleep(0)
        await asyncio.wait_for(ask("POST", "/act", b"tess"), 1)
        after = asyncio.create_task(ask("GET", "/after", b"tess"))
        await asyncio.sleep(0)
        shop.let_go.set()
        await asyncio.gather(after, *readers)
        return shop

    shop = run_apart(tried())
    assert shop.order[0] == "/act" and shop.most == acts_first.AT_ONCE
    # Before it only those who were being answered already.
    assert shop.order.index("/after") <= acts_first.AT_ONCE + 1 and len(shop.order) == 202


def test_whoever_takes_the_answer_slowly_or_hangs_up_holds_no_place() -> None:
    async def tried() -> int:
        shop, never = Shop(), asyncio.Event()
        shop.let_go.set()
        ask = asking(ActsFirst(shop))
        slow = [asyncio.create_task(ask("GET", f"/slow/{n}", slow=never)) for n in range(3 * acts_first.AT_ONCE)]
        await asyncio.wait_for(ask("GET", "/quick"), 2)
        shop.let_go.clear()
        waiting = [asyncio.create_task(ask("GET", f"/wait/{n}")) for n in range(3 * acts_first.AT_ONCE)]
        await asyncio.sleep(0)
        for one in waiting:
            one.cancel()
        await asyncio.gather(*waiting, return_exceptions=True)
        shop.let_go.set()
        await asyncio.wait_for(asyncio.gather(*(ask("GET", f"/again/{n}") for n in range(50))), 2)
        never.set()
        await asyncio.gather(*slow)
        return len([path for path in shop.order if path.startswith("/again")])

    assert run_apart(tried()) == 50


def test_a_refused_act_puts_nobody_first() -> None:
    async def tried() -> list[str]:
        shop = Shop()
        app = ActsFirst(shop)
        ask = asking(app)

        async def refused(scope: Any, receive: Any, send: Any) -> None:
            await send({"type": "http.response.start", "status": 422, "headers": []})

        app.app = refused
        await ask("POST", "/refused", b"cy")
        app.app = shop
        readers = [asyncio.create_task(ask("GET", f"/read/{n}", b"tess")) for n in range(30)]
        await asyncio.sleep(0)
        last = asyncio.create_task(ask("GET", "/last", b"cy"))
        await asyncio.sleep(0)
        shop.let_go.set()
        await asyncio.gather(last, *readers)
        return shop.order

    assert run_apart(tried())[-1] == "/last"
