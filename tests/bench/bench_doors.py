"""Print how long the doors take to say no, for each reason: medians of many, side by side.

``python -m tests.bench.bench_doors [TIMES]``; a stranger could tell reasons apart only where medians
differ by more than their own spread. Counts of hashes and statements are tests (tests/web/test_same_answer.py).
"""

import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from statistics import quantiles
from time import perf_counter
from typing import Any

from service.desk import people
from service.desk.doorway import Role
from service.desk.signing_in.lifetimes_and_tries import MOST_TRIES
from service.records.database import migrate
from service.web.authentication import sha256
from tests.cast import Cast, open_cast

TIMES = 200


def took_ms(ask: Callable[[], Any]) -> float:
    """Return the milliseconds of one answer."""
    started = perf_counter()
    ask()
    return (perf_counter() - started) * 1000


def asks(cast: Cast) -> dict[str, Callable[[], Any]]:
    """Return a request for each reason to say no."""
    people.invite(
        cast.olu, name="Ina", email="ina@shop.example", role=Role.TECHNICIAN, customer_id=None, token_sha256=sha256("i")
    )
    people.make_address(cast.olu, person_id=cast.ids["tess"], token_sha256=sha256("used"))
    people.end_person(cast.olu, person_id=cast.ids["dov"])
    stranger, client = cast.browser(None), cast.browser(None).client
    cast.browser(None).post("/sign-in/used")

    def sign_in(email: str) -> Callable[[], Any]:
        form = {"email": email, "password": "guess"}
        return lambda: stranger.post("/sign-in", form, headers={"hx-request": "true"})

    return {
        "sign in, unknown": sign_in("who@shop.example"),
        "sign in, wrong password": sign_in("tess@shop.example"),
        "sign in, no password yet": sign_in("ina@shop.example"),
        "sign in, let in no longer": sign_in("dov@shop.example"),
        "address, never was": lambda: client.get("/sign-in/never"),
        "address, used": lambda: client.get("/sign-in/used"),
        "token, never was": lambda: client.get("/api/v1/jobs", headers={"authorization": "Bearer never"}),
        "token, of another kind": lambda: client.get("/api/v1/jobs", headers={"authorization": "Bearer used"}),
    }


def main() -> None:
    """Print the quartiles for each reason, taken in turn so that a busy moment meets all of them."""
    times = int(sys.argv[1]) if len(sys.argv) > 1 else TIMES
    MOST_TRIES.update(dict.fromkeys(MOST_TRIES, 10**9))
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'shop.sqlite'}"
        migrate(url)
        cast = open_cast(url, Path(folder))
        reasons = asks(cast)
        taken: dict[str, list[float]] = {why: [] for why in reasons}
        for _ in range(times):
            for why, ask in reasons.items():
                taken[why].append(took_ms(ask))
    sys.stdout.write(f"{'why':28} {'median':>9} {'quartiles, ms':>18}   of {times}\n")
    for why, each in taken.items():
        low, middle, high = quantiles(each, n=4)
        sys.stdout.write(f"{why:28} {middle:9.1f} {low:9.1f} {high:8.1f}\n")


if __name__ == "__main__":
    main()
