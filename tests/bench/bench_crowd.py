"""Print what an act waits for while 200 people read, and a page while one customer asks for 45 calculations.

``python -m tests.bench.bench_crowd``. Counted as well as timed: how many pages were answered between the sending of an
act and its answer is the same on a busy machine. Client and service share one process and so one processor.
"""

import asyncio
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from contextlib import AsyncExitStack, contextmanager
from itertools import cycle
from pathlib import Path
from statistics import median, quantiles
from time import monotonic
from uuid import uuid4

import httpx

from service.records.database import migrate
from service.web.cookies import COOKIE
from service.work.examples import EXAMPLES
from tests.cast import Cast, open_cast
from tests.hostile.serving import served

READERS, ACTS, ASKED, ADDRESSES = 200, 20, 45, 4
Seen = list[tuple[float, int]]


@contextmanager
def shop() -> Iterator[tuple[Cast, str]]:
    """Yield a served shop with its cast."""
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'shop.sqlite'}"
        migrate(url)
        cast = open_cast(url, Path(folder))
        with served(cast, Path(folder)) as address:
            yield cast, address


def client_of(cast: Cast, name: str, address: str, local: str) -> httpx.AsyncClient:
    """Return somebody's browser, at one of this machine's own addresses."""
    session = cast.browser(name).client.cookies[COOKIE]
    transport = httpx.AsyncHTTPTransport(local_address=local, verify=False, limits=httpx.Limits(max_connections=None))
    headers = {"cookie": f"{COOKIE}={session}", "sec-fetch-site": "same-origin"}
    return httpx.AsyncClient(base_url=address, transport=transport, headers=headers, timeout=300)


async def among_readers(cast: Cast, address: str, *, readers: int) -> dict[str, Seen]:
    """Return of each kind of request how long it took and how many pages of readers were answered meanwhile."""
    answered, enough = [0], asyncio.Event()
    seen: dict[str, Seen] = {"a page of a reader": [], "an act": [], "the page after it": []}

    async def note(kind: str, asked: "asyncio.Future[httpx.Response] | asyncio.Task[httpx.Response]") -> httpx.Response:
        began, before = monotonic(), answered[0]
        answer = await asked
        assert answer.status_code in (200, 303), answer.status_code
        seen[kind].append((monotonic() - began, answered[0] - before))
        return answer

    async def read(client: httpx.AsyncClient) -> None:
        while not enough.is_set():
            await note("a page of a reader", asyncio.ensure_future(client.get("/jobs")))
            answered[0] += 1

    async with AsyncExitStack() as stack:
        places = [f"127.0.0.{n}" for n in range(1, ADDRESSES + 1)]
        browsers = [await stack.enter_async_context(client_of(cast, "olu", address, local)) for local in places]
        tess = await stack.enter_async_context(client_of(cast, "tess", address, "127.0.0.9"))
        tasks = [asyncio.create_task(read(client)) for client, _ in zip(cycle(browsers), range(readers), strict=False)]
        while readers and answered[0] < readers:
            await asyncio.sleep(0.1)
        for number in range(ACTS):
            form = {"name": f"Customer {number}", "request_key": uuid4().hex}
            done = await note("an act", asyncio.ensure_future(tess.post("/customers", data=form)))
            await note("the page after it", asyncio.ensure_future(tess.get(done.headers["location"])))
        enough.set()
        await asyncio.gather(*tasks)
    return seen


async def beside_calculations(cast: Cast, address: str) -> tuple[Counter[int], list[float]]:
    """Return how the calculations of one customer were answered, and the seconds of each page meanwhile."""
    cast.add_token("cy", "cy token")
    body, took = EXAMPLES["strength"], list[float]()
    async with httpx.AsyncClient(base_url=address, timeout=300, verify=False) as cy:
        headers = {"authorization": "Bearer cy token"}
        asked = [
            asyncio.create_task(cy.post("/api/v1/work/strength", json=body, headers=headers)) for _ in range(ASKED)
        ]
        async with client_of(cast, "tess", address, "127.0.0.9") as tess:
            while not all(one.done() for one in asked):
                began = monotonic()
                assert (await tess.get("/jobs")).status_code == 200
                took.append(monotonic() - began)
        return Counter(one.result().status_code for one in asked), took


def say(kind: str, seen: Seen) -> None:
    """Print one line."""
    seconds, pages = [one[0] for one in seen], [one[1] for one in seen]
    most = quantiles(seconds, n=100)[98] if len(seconds) > 1 else seconds[0]
    sys.stdout.write(f"{kind:<22}{median(seconds):>10.2f}{most:>10.2f}{median(pages):>10.0f}{max(pages):>10}\n")


def main() -> None:
    """Print every figure."""
    with shop() as (cast, address):
        for readers in (0, READERS):
            seen = asyncio.run(among_readers(cast, address, readers=readers))
            sys.stdout.write(f"\n{readers} readers            median s      99 % s     pages      most\n")
            for kind in seen:
                if seen[kind]:
                    say(kind, seen[kind])
        answers, took = asyncio.run(beside_calculations(cast, address))
        sys.stdout.write(f"\n{ASKED} calculations of one customer: {dict(answers)}\n")
        say("a page meanwhile", [(one, 0) for one in took])


if __name__ == "__main__":
    main()
