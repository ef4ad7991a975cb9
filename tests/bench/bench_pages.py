"""Print how long the server takes for a page of each kind of the demo shop, first and again, and for a PDF."""

import sys
import tempfile
from pathlib import Path
from time import perf_counter

from fastapi.testclient import TestClient

from service.paper.pdf import pdf
from service.records.database import migrate
from tests.demo_pages import kind_of, told, walk

AGAIN = 5


def say(line: str) -> None:
    """Write one line."""
    sys.stdout.write(f"{line}\n")


def took_ms(client: TestClient, path: str) -> float:
    """Return the milliseconds of one answer."""
    started = perf_counter()
    client.get(path)
    return (perf_counter() - started) * 1000


def drawn_ms(page: str) -> float:
    """Return the milliseconds of one PDF."""
    started = perf_counter()
    pdf(page)
    return (perf_counter() - started) * 1000


def main() -> None:
    """Print one line for each kind of page."""
    with tempfile.TemporaryDirectory() as folder:
        migrate(f"sqlite:///{Path(folder) / 'shop.sqlite'}")
        with told(Path(folder)) as demo:
            client = demo.client("owner")
            kinds = {kind_of(path): path for path, _ in walk(demo.client("owner"))}
            say(f"{'page':<28}{'first ms':>10}{'again ms':>10}")
            for kind, path in sorted(kinds.items()):
                first = took_ms(client, path)
                again = min(took_ms(client, path) for _ in range(AGAIN))
                say(f"{kind:<28}{first:>10.0f}{again:>10.0f}")
            issued = client.get(kinds["/results/*"]).text
            first, again = drawn_ms(issued), min(drawn_ms(issued) for _ in range(2))
            say(f"{'the PDF of a result':<28}{first:>10.0f}{again:>10.0f}")


if __name__ == "__main__":
    main()
