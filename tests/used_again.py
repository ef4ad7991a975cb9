"""PostgreSQL databases that tests use one after the other: put back as they were, for making one takes longer.

A copy of a template costs a tenth of a second of a core, and dropping it as much again; taking out the few rows that a
test wrote costs a tenth of that. Whatever changed in a database besides its rows is found, and such a one is dropped.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import chain
from typing import Any

import psycopg
from psycopg import sql

# Rows that are gone leave room behind them, which makes a database slower in the end.
MOST_TIMES = 40
# Everything but rows: tables, indexes, columns and who may use them; triggers and whether they fire; constraints,
# functions, schemas, settings.
SHAPE = """select md5(string_agg(told, '/' order by told)) from (
    select concat_ws(' ', oid, relname, relkind, relowner, relnatts, relchecks, relhasrules, relacl) told from pg_class
        where relnamespace = 'public'::regnamespace
    union all select concat_ws(' ', attrelid, attnum, attname, atttypid, attnotnull, attacl) from pg_attribute
        where attacl is not null or attisdropped
    union all select concat_ws(' ', oid, tgrelid, tgname, tgfoid, tgenabled) from pg_trigger
    union all select concat_ws(' ', oid, conrelid, conname, convalidated) from pg_constraint
    union all select concat_ws(' ', oid, proname, xmin) from pg_proc where pronamespace = 'public'::regnamespace
    union all select concat_ws(' ', oid, nspname, nspacl) from pg_namespace where nspname !~ '^pg_t'
    union all select concat_ws(' ', setdatabase, setrole, setconfig) from pg_db_role_setting
) parts"""
END_OTHERS = """select pg_terminate_backend(pid, 10000) from pg_stat_activity
    where datname = current_database() and pid <> pg_backend_pid()"""
TABLES = "select relname from pg_class where relkind = 'r' and relnamespace = 'public'::regnamespace order by relname"


@dataclass
class Used:
    """A copy of a template, with what it held when it was made."""

    name: str
    # Open as long as the database is in use: a new connection would read the whole catalogue anew.
    at: psycopg.Connection[Any]
    shape: str
    tables: list[str]
    held: dict[str, bytes]
    times: int = 1


@dataclass
class UsedAgain:
    """The copies of one server's templates that nobody uses just now."""

    waiting: dict[str, list[Used]] = field(default_factory=dict)

    @contextmanager
    def taken(self, address: str, template: str, make: Callable[[], str], drop: Callable[[str], None]) -> Iterator[str]:
        """Yield the name of a copy of ``template``, made by ``make`` if none waits; put it back, or ``drop`` it."""
        waiting = self.waiting.setdefault(template, [])
        if waiting:
            used = waiting.pop()
        else:
            name = make()
            used = _looked_at(psycopg.connect(address, dbname=name, autocommit=True), name)
        try:
            yield used.name
        finally:
            if used.times < MOST_TIMES and _put_back(used):
                used.times += 1
                waiting.append(used)
            else:
                used.at.close()
                drop(used.name)

    def close(self) -> None:
        """Let go of all that wait; their server is about to go."""
        for used in chain.from_iterable(self.waiting.values()):
            used.at.close()
        self.waiting.clear()


def _looked_at(fresh: psycopg.Connection[Any], name: str) -> Used:
    tables = [row[0] for row in fresh.execute(TABLES)]
    return Used(name, fresh, _shape(fresh), tables, {table: _rows(fresh, table) for table in _filled(fresh, tables)})


def _shape(at: psycopg.Connection[Any]) -> str:
    row = at.execute(SHAPE).fetchone()
    assert row is not None
    return str(row[0])


def _filled(at: psycopg.Connection[Any], tables: list[str]) -> list[str]:
    asked = [sql.SQL("exists(select from {})").format(sql.Identifier(table)) for table in tables]
    row = at.execute(sql.SQL("select {}").format(sql.SQL(", ").join(asked))).fetchone()
    assert row is not None
    return [table for table, filled in zip(tables, row, strict=True) if filled]


def _rows(at: psycopg.Connection[Any], table: str) -> bytes:
    with at.cursor() as cursor, cursor.copy(sql.SQL("copy {} to stdout").format(sql.Identifier(table))) as copied:
        return b"".join(bytes(part) for part in copied)


def _put_back(used: Used) -> bool:
    # Whether it is as it was made. A test may have dropped it, or changed what a table is.
    at = used.at
    try:
        at.execute(END_OTHERS)
        if _shape(at) != used.shape:
            return False
        # Neither keys between tables nor triggers that forbid it stand in the way of the superuser's copy.
        at.execute("set session_replication_role = replica")
        for table in {*_filled(at, used.tables), *used.held}:
            at.execute(sql.SQL("delete from {}").format(sql.Identifier(table)))
        for table, rows in used.held.items():
            entry = sql.SQL("copy {} from stdin").format(sql.Identifier(table))
            with at.cursor() as cursor, cursor.copy(entry) as copied:
                copied.write(rows)
    except psycopg.Error:
        return False
    return True
