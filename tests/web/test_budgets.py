"""What a page may ask of the database: at most twelve statements, and no more when the shop has grown."""

import shutil
from collections.abc import Iterator
from pathlib import Path
from uuid import UUID

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import event, insert, select

from service.records.database import METADATA
from tests.demo_pages import Demo, told, walk

MOST, JOBS = 12, METADATA.tables["job"]


@pytest.fixture(scope="module")
def demo(told_demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Demo]:
    # A page sends the same statements to either kind of database.
    folder = tmp_path_factory.mktemp("demo")
    shutil.copytree(told_demo, folder, dirs_exist_ok=True)
    with told(folder) as opened:
        yield opened


@pytest.fixture
def sent(demo: Demo) -> Iterator[list[str]]:
    statements: list[str] = []

    def keep(connection: object, cursor: object, statement: str, *rest: object) -> None:
        if statement.lstrip().startswith(("SELECT", "INSERT", "UPDATE", "DELETE", "WITH")):
            statements.append(statement)

    for engine in (demo.stores.read, demo.stores.write):
        event.listen(engine, "before_cursor_execute", keep)
    yield statements
    for engine in (demo.stores.read, demo.stores.write):
        event.remove(engine, "before_cursor_execute", keep)


def asked_by(client: TestClient, path: str, sent: list[str]) -> int:
    sent.clear()
    assert client.get(path).status_code == 200
    return len(sent)


@pytest.mark.parametrize("role", ["owner", "technician", "customer"])
def test_every_page_of_the_demo_asks_at_most_twelve_times(demo: Demo, sent: list[str], role: str) -> None:
    client = demo.client(role)
    # The walk also meets files and addresses that lead elsewhere: each request counts for itself.
    client.event_hooks["request"].append(lambda request: sent.clear())
    asked = {path: len(sent) for path, _ in walk(client)}
    assert len(asked) > (50 if role != "customer" else 3)
    assert {path: count for path, count in asked.items() if count > MOST} == {}


def test_a_shop_with_six_hundred_jobs_more_asks_no_more_often(demo: Demo, sent: list[str]) -> None:
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
