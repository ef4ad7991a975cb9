"""How long a page of each kind of the demo shop takes, and a PDF: ``python -m tests.bench.bench_pages``.

With a folder behind it (``docs``) it writes pages_speed.md there: the two figures that have a limit, and the ten pages
that take longest. Milliseconds are of processor time.
"""

import gc
import sys
import tempfile
from operator import itemgetter
from pathlib import Path
from time import process_time

from fastapi.testclient import TestClient

from service.paper.pdf import pdf
from service.records.database import migrate
from tests.bench.bench_tables import against, empty_loop_s
from tests.demo_pages import kind_of, told, walk
from tests.rows import forget_results

AGAIN, LONGEST = 5, 10
RESULT, MOST_RESULT_MS, MOST_PDF_MS = "/jobs/*/results", 45, 800
HEAD = """# Speed of pages

Written by `python -m tests.bench.bench_pages docs`: the demo shop on SQLite, the server in the same process.
Milliseconds are of processor time: the first of a result after something was recorded, then the best of {again} when
nothing is new. An empty loop of 5,000,000 steps took
{slow:.2f} s just before: on a machine that is busy with other work everything takes longer.

| what | first | again | at most |
|---|---|---|---|
"""


def say(line: str) -> None:
    """Write one line."""
    sys.stdout.write(f"{line}\n")


def took_ms(client: TestClient, path: str) -> float:
    """Return the milliseconds of one answer."""
    started = process_time()
    client.get(path)
    return (process_time() - started) * 1000


def took(client: TestClient, path: str) -> tuple[float, float]:
    """Return the milliseconds of the first answer, no result of a job kept ready, and of the best one after it."""
    forget_results()
    return took_ms(client, path), min(took_ms(client, path) for _ in range(AGAIN))


def drawn_ms(page: str) -> float:
    """Return the milliseconds of one PDF."""
    started = process_time()
    pdf(page)
    return (process_time() - started) * 1000


def measured() -> tuple[dict[str, tuple[float, float]], tuple[float, float]]:
    """Return what each kind of page took, first and again, and what the PDF of the longest result took."""
    with tempfile.TemporaryDirectory() as folder:
        migrate(f"sqlite:///{Path(folder) / 'shop.sqlite'}")
        with told(Path(folder)) as demo:
            client = demo.client("owner")
            paths = [path for path, _ in walk(demo.client("owner"), most=7)]
            # As a served shop does once it is loaded (cli/installation.quick_start).
            gc.collect()
            gc.freeze()
            pages: dict[str, tuple[float, float]] = {}
            for path in {kind_of(path): path for path in paths if kind_of(path) != RESULT}.values():
                pages[kind_of(path)] = took(client, path)
            # Of results the slowest job counts.
            pages[RESULT] = max((took(client, path) for path in paths if kind_of(path) == RESULT), key=itemgetter(1))
            issued = max((client.get(path).text for path in paths if kind_of(path) == "/results/*"), key=len)
            return pages, (drawn_ms(issued), min(drawn_ms(issued) for _ in range(AGAIN)))


def table(pages: dict[str, tuple[float, float]], drawn: tuple[float, float], *, slow: float) -> str:
    """Return the page for docs."""
    first, again = pages[RESULT]
    lines = [
        HEAD.format(again=AGAIN, slow=slow),
        f"| results, the slowest job, `{RESULT}` | {first:.0f} | {against(again, MOST_RESULT_MS, digits=0)} |\n",
        f"| PDF of the longest result | {drawn[0]:.0f} | {against(drawn[1], MOST_PDF_MS, digits=0)} |\n",
    ]
    slowest = sorted(pages, key=lambda kind: -pages[kind][1])[:LONGEST]
    lines += [f"| `{kind}` | {pages[kind][0]:.0f} | {pages[kind][1]:.0f} | - |\n" for kind in slowest if kind != RESULT]
    return "".join(lines)


def main() -> None:
    """Print one line for each kind of page, or write the short table."""
    slow = empty_loop_s()
    pages, drawn = measured()
    if len(sys.argv) > 1:
        (Path(sys.argv[1]) / "pages_speed.md").write_text(table(pages, drawn, slow=slow))
        return
    say(f"{'page':<28}{'first ms':>10}{'again ms':>10}")
    for kind, (first, again) in [*sorted(pages.items()), ("the PDF of a result", drawn)]:
        say(f"{kind:<28}{first:>10.0f}{again:>10.0f}")


if __name__ == "__main__":
    main()
