"""What a page may ask of the database: at most twelve statements, no more in a bigger shop, and nothing of its past."""

import re
import shutil
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import Connection, event, insert, select

from service.records.database import METADATA
from tests.demo_pages import Demo, kind_of, told, walk

MOST, JOBS = 12, METADATA.tables["job"]
# The page before issuing works out both the result and the site sheet of the recipe that will do, once a job. The form
# of a batch looks up what a block took in the batch before it.
MOST_OF_A_KIND = {"/jobs/*/issue": 18, "/recipes/*/mix": 13}
# What grows with the years. Gone through from end to end, a table of these makes a page slower each year.
GROWING = frozenset({
    "job", "customer", "receipt", "recipe", "recipe_group", "recipe_part", "batch", "batch_part", "block",
    "block_height", "soak", "crushing", "absorption", "flexure", "erosion", "wet_dry_cycle", "issued_result",
    "moisture_can", "preparation", "soil_test", "trail", "photo", "correction", "material", "price",
})  # fmt: skip
# Pages about the past: the history of starting values, a search among all soils, and what was not paid in any year.
OF_THE_PAST = frozenset({"/expected-strength", "/search", "/jobs/closed", "/invoice-lines"})
# An index read in order up to the limit of the page is no reading of the past.
ENDS_EARLY = (
    *("ix_customer_name_id", "ix_customer_created_at", "sqlite_autoindex_trail_1"),
    *("ix_recipe_created_at", "ix_batch_created_at", "ix_block_created_at"),
)
SCAN, ALIAS = (
    re.compile(r"SCAN (\w+)(?: USING (?:COVERING )?INDEX (\w+))?"),
    re.compile(r"(?:FROM|JOIN) (\w+) AS (\w+)"),
)

Sent = list[tuple[str, Any]]
Walked = Callable[[str], dict[str, Sent]]


@pytest.fixture(scope="module")
def demo(told_demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Demo]:
    # A page sends the same statements to either kind of database.
    folder = tmp_path_factory.mktemp("demo")
    shutil.copytree(told_demo, folder, dirs_exist_ok=True)
    with told(folder) as opened:
        yield opened


@pytest.fixture(scope="module")
def sent(demo: Demo) -> Iterator[Sent]:
    statements: Sent = []

    def keep(connection: object, cursor: object, statement: str, parameters: object, *rest: object) -> None:
        if statement.lstrip().startswith(("SELECT", "INSERT", "UPDATE", "DELETE", "WITH")):
            statements.append((statement, parameters))

    for engine in (demo.stores.read, demo.stores.write):
        event.listen(engine, "before_cursor_execute", keep)
    yield statements
    for engine in (demo.stores.read, demo.stores.write):
        event.remove(engine, "before_cursor_execute", keep)


class Noting:
    """A browser that notes what each page asked."""

    def __init__(self, client: TestClient, sent: Sent) -> None:
        self.client, self.sent, self.asked = client, sent, dict[str, Sent]()

    def get(self, path: str, **given: Any) -> Any:
        self.sent.clear()
        answer = self.client.get(path, **given)
        self.asked[path] = list(self.sent)
        return answer


@pytest.fixture(scope="module")
def walked(demo: Demo, sent: Sent) -> Walked:
    # Each page is asked for once for all that is held against it.
    @cache
    def walked_by(role: str) -> dict[str, Sent]:
        noting = Noting(demo.client(role), sent)
        # That a session is in use is noted at the first page of a visit.
        noting.get("/")
        return {path: noting.asked[path] for path, _ in walk(noting)}

    return walked_by


def asked_by(client: TestClient, path: str, sent: Sent) -> int:
    sent.clear()
    assert client.get(path).status_code == 200
    return len(sent)


@pytest.mark.parametrize("role", ["owner", "technician", "customer"])
def test_every_page_of_the_demo_asks_at_most_twelve_times(walked: Walked, role: str) -> None:
    asked = {path: len(statements) for path, statements in walked(role).items()}
    assert len(asked) > (50 if role != "customer" else 3)
    assert {path: count for path, count in asked.items() if count > MOST_OF_A_KIND.get(kind_of(path), MOST)} == {}


def test_no_page_of_the_day_goes_through_what_grows_with_the_years(demo: Demo, walked: Walked) -> None:
    # How SQLite answers is settled by the question and the indexes alone; PostgreSQL decides by what it counted.
    asked = {
        (kind_of(path), statement): parameters
        for path, statements in walked("owner").items()
        for statement, parameters in statements
        if kind_of(path) not in OF_THE_PAST and statement.lstrip().startswith(("SELECT", "WITH"))
    }
    with demo.stores.read.connect() as connection:
        plans = {statement: _gone_through(connection, statement, given) for (_, statement), given in asked.items()}
    gone_through = {
        kind: found for kind, statement in asked if (found := sorted(GROWING.intersection(plans[statement])))
    }
    assert gone_through == {}


def _gone_through(connection: Connection, statement: str, parameters: Any) -> list[str]:
    names = {alias: table for table, alias in ALIAS.findall(statement)}
    steps = connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", parameters)
    scans = [SCAN.match(step.detail) for step in steps]
    return [names.get(one[1], one[1]) for one in scans if one and one[2] not in ENDS_EARLY]


def test_a_search_takes_materials_in_the_order_of_their_names_and_sorts_none(demo: Demo, sent: Sent) -> None:
    # With 47,000 of them, sorting those that match took 50 ms, the first twenty in order a tenth of one.
    asked_by(demo.client("owner"), "/search?q=a", sent)
    ((statement, given),) = [(text, given) for text, given in sent if "FROM material LEFT OUTER JOIN" in text]
    with demo.stores.read.connect() as connection:
        steps = [one.detail for one in connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", given)]
    assert steps[0] == "SCAN material USING INDEX ix_material_in_use"
    assert not any("TEMP B-TREE" in step for step in steps)


def test_a_shop_with_six_hundred_jobs_more_asks_no_more_often(demo: Demo, sent: Sent) -> None:
    client = demo.client("owner")
    paths = ("/", "/curing", "/crushing", "/customers", "/search?q=a")
    before = {path: asked_by(client, path, sent) for path in paths}
    _add_jobs(demo, 600)
    assert {path: asked_by(client, path, sent) for path in paths} == before
    assert "Page 1 of" in client.get("/").text


def _add_jobs(demo: Demo, many: int) -> None:
    # Only the number of rows matters here, so they are copied instead of told.
    with demo.stores.write.begin() as connection:
        one = connection.execute(select(JOBS).order_by(JOBS.c.number.desc()).limit(1)).mappings().one()
        rows = [dict(one) | {"id": UUID(int=number), "number": 1000 + number} for number in range(many)]
        connection.execute(insert(JOBS), rows)
