"""The migrations, on SQLite and PostgreSQL: one head, both ways, and the schema that the records declare."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from itertools import groupby
from operator import itemgetter
from typing import Any

import pytest
import sqlalchemy as sa
from alembic import command
from alembic.script import ScriptDirectory
from sqlalchemy import Connection

from service.errors import Conflict
from service.records.database import METADATA, known_revisions, migrate, migrating, migration_config, open_engines
from tests import postgres


@pytest.fixture
def scripts(sqlite_url: str) -> ScriptDirectory:
    with migrating(sqlite_url) as connection:
        return ScriptDirectory.from_config(migration_config(connection))


def reflected(connection: Connection) -> dict[str, Any]:
    """Return everything the database itself says of its tables, in an order of no meaning."""
    if connection.dialect.name != "sqlite":
        # For all tables at once: what PostgreSQL is asked does not grow with their number.
        return asked_of(connection)
    # SQLite keeps a table as the words that made it, so the same words are taken apart once.
    rows = connection.exec_driver_sql("SELECT tbl_name, sql FROM sqlite_master WHERE sql IS NOT NULL ORDER BY 1, 2")
    words = {table: tuple(sql for _, sql in found) for table, found in groupby(rows, key=itemgetter(0))}
    for table, said in words.items():
        if said not in TAKEN_APART:
            TAKEN_APART[said] = asked_of(connection, table)
    return {name: found for said in words.values() for name, found in TAKEN_APART[said].items()}


TAKEN_APART: dict[tuple[str, ...], dict[str, Any]] = {}


def asked_of(connection: Connection, *tables: str) -> dict[str, Any]:
    """Return what the database says of some tables, of all without names."""
    inspector = sa.inspect(connection)
    asks: tuple[Any, ...] = (
        inspector.get_multi_columns,
        inspector.get_multi_pk_constraint,
        inspector.get_multi_check_constraints,
        inspector.get_multi_unique_constraints,
        inspector.get_multi_foreign_keys,
        inspector.get_multi_indexes,
    )
    columns, keys, checks, uniques, foreign, indexes = [
        {name: found for (_, name), found in asked(filter_names=tables or None).items()} for asked in asks
    ]
    return {
        table: {
            "columns": {c["name"]: (repr(c["type"]), c["nullable"], c["default"]) for c in columns[table]},
            "primary key": keys[table],
            "checks": {c["name"]: c["sqltext"] for c in checks[table]},
            "uniques": {u["name"]: u["column_names"] for u in uniques[table]},
            "foreign keys": {
                f["name"]: (f["constrained_columns"], f["referred_table"], f["referred_columns"])
                for f in foreign[table]
            },
            "indexes": {i["name"]: (i["column_names"], i["unique"], where(i)) for i in indexes[table]},
        }
        for table in columns
        if table != "alembic_version"
    }


def where(index: Any) -> str | None:
    """Return the condition of a partial index."""
    options = index.get("dialect_options", {})
    condition = options.get("sqlite_where", options.get("postgresql_where"))
    return None if condition is None else str(condition)


@contextmanager
def opened(url: str) -> Iterator[Connection]:
    engines = open_engines(url)
    with engines.read.connect() as connection:
        yield connection
    engines.dispose()


def declared(url: str) -> dict[str, Any]:
    """Return the schema that the declared tables make by themselves, and leave the database empty."""
    engines = open_engines(url)
    with engines.write.begin() as connection:
        METADATA.create_all(connection)
        said = reflected(connection)
        METADATA.drop_all(connection)
    engines.dispose()
    return said


def test_there_is_one_head(scripts: ScriptDirectory) -> None:
    assert len(scripts.get_heads()) == 1


def test_the_steps_known_by_their_files_are_those_alembic_walks(scripts: ScriptDirectory) -> None:
    assert list(known_revisions()) == [script.revision for script in scripts.walk_revisions()]


def test_no_step_imports_the_service(scripts: ScriptDirectory) -> None:
    for script in scripts.walk_revisions():
        names = vars(script.module)
        assert not [name for name, value in names.items() if getattr(value, "__module__", "").startswith("service")]
        assert not [name for name, value in names.items() if getattr(value, "__name__", "").startswith("service")]


def test_the_migrated_schema_is_the_declared_one(empty_database_url: str) -> None:
    expected = declared(empty_database_url)
    migrate(empty_database_url)
    with opened(empty_database_url) as connection:
        migrated = reflected(connection)
    assert migrated.keys() == expected.keys()
    for table, said in expected.items():
        assert migrated[table] == said, table


def test_every_step_goes_up_down_and_up_again(empty_database_url: str) -> None:
    with migrating(empty_database_url) as connection:
        config = migration_config(connection)
        steps = [s.revision for s in reversed(list(ScriptDirectory.from_config(config).walk_revisions()))]
        before = reflected(connection)
        for step in steps:
            command.upgrade(config, step)
            after = reflected(connection)
            command.downgrade(config, "-1")
            assert reflected(connection) == before, step
            command.upgrade(config, step)
            assert reflected(connection) == after, step
            before = after


def test_the_way_back_leaves_nothing(database_url: str) -> None:
    with migrating(database_url) as connection:
        command.downgrade(migration_config(connection), "base")
        assert reflected(connection) == {}


def test_migrating_twice_changes_nothing(database_url: str) -> None:
    with opened(database_url) as connection:
        before = reflected(connection)
    migrate(database_url)
    with opened(database_url) as connection:
        assert reflected(connection) == before


def test_a_database_of_a_newer_version_is_refused_untouched(database_url: str) -> None:
    with migrating(database_url) as connection:
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = '9999'")
    with pytest.raises(Conflict, match="newer version"):
        migrate(database_url)
    with opened(database_url) as connection:
        assert connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar_one() == "9999"
        assert "crushing" in reflected(connection)


def test_a_step_that_fails_leaves_the_database_as_it_was(empty_database_url: str) -> None:
    with pytest.raises(RuntimeError), migrating(empty_database_url) as connection:
        command.upgrade(migration_config(connection), "head")
        raise RuntimeError
    with opened(empty_database_url) as connection:
        assert reflected(connection) == {}


def test_four_replicas_that_start_at_once_migrate_once(postgres_server: str) -> None:
    with postgres.database(postgres_server) as url:
        with ThreadPoolExecutor(4) as pool:
            list(pool.map(migrate, [url] * 4))
        with opened(url) as connection:
            assert connection.exec_driver_sql("SELECT count(*) FROM alembic_version").scalar_one() == 1
            assert "crushing" in reflected(connection)
