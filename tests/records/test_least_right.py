"""Two accounts on PostgreSQL, made by docker/grants.sql: what the service's own may do, and what it may not."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from uuid import uuid4

import psycopg
import pytest
from psycopg import errors, sql

from service.desk import backups, materials
from service.errors import Unavailable
from service.records.database import migrate
from tests import postgres
from tests.cast import Cast, open_cast

GRANTS = Path(__file__).parents[2] / "docker" / "grants.sql"


@dataclass(frozen=True)
class Accounts:
    """The addresses of one database for the account that owns its tables and for the service's."""

    owner: str
    service: str

    def run(self, statement: str) -> None:
        """Run a statement as the service's account."""
        with psycopg.connect(postgres.plain(self.service)) as connection:
            connection.execute(sql.SQL(statement))  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def accounts(postgres_server: str) -> Iterator[Accounts]:
    """Yield an empty database with the two accounts; roles belong to the whole server, so their names are our own."""
    names = {name: f"{name}_{uuid4().hex[:8]}" for name in ("loambook_migrate", "loambook")}
    lines = re.sub(r"\b(loambook_migrate|loambook)\b", lambda found: names[found[1]], GRANTS.read_text())
    with postgres.database(postgres_server) as url:
        with psycopg.connect(postgres.plain(url), autocommit=True) as admin:
            for name in names.values():
                admin.execute(sql.SQL("CREATE ROLE {} LOGIN PASSWORD 'x'").format(sql.Identifier(name)))
            admin.execute(sql.SQL(lines))  # type: ignore[arg-type]
        yield Accounts(*(re.sub(r"//[^@]*@", f"//{name}:x@", url) for name in names.values()))
        with psycopg.connect(postgres.plain(url), autocommit=True) as admin:
            for name in names.values():
                admin.execute(sql.SQL("DROP OWNED BY {0}").format(sql.Identifier(name)))
                admin.execute(sql.SQL("DROP ROLE {}").format(sql.Identifier(name)))


def test_it_says_what_to_do_when_the_tables_are_not_of_its_version(accounts: Accounts) -> None:
    with pytest.raises(Unavailable, match="LOAMBOOK_MIGRATE_URL naming the account that owns them"):
        migrate(accounts.service)


@pytest.fixture(scope="module")
def opened(accounts: Accounts, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cast]:
    """Yield a shop that the service's account opened in tables of the other's."""
    migrate(accounts.owner)
    cast = open_cast(accounts.service, tmp_path_factory.mktemp("files"))
    yield cast
    cast.stores.read.dispose()
    cast.stores.write.dispose()


def test_the_account_of_the_service_does_everything_the_shop_needs(accounts: Accounts, opened: Cast) -> None:
    materials.add_material(opened.olu, kind="sand", name="Quarry fines")
    assert opened.browser("olu").get("/materials").text.count("Quarry fines") > 0
    assert opened.browser("olu").post("/backups/archives").status_code == 303
    assert backups.verify(opened.olu).broken_at is None
    # At its own version a start has nothing to change, and needs no right to.
    migrate(accounts.service)


@pytest.mark.parametrize(
    "statement",
    [
        "CREATE TABLE of_my_own (id integer)",
        "DROP TABLE replay",
        "ALTER TABLE person ADD COLUMN way_in text",
        "ALTER TABLE trail DISABLE TRIGGER ALL",
        "DROP TRIGGER trail_no_change ON trail",
        "TRUNCATE trail",
        "CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NEW; END'",
        "SET session_replication_role = replica",
    ],
)
def test_it_may_not_change_tables_and_triggers(accounts: Accounts, opened: Cast, statement: str) -> None:
    with pytest.raises(errors.InsufficientPrivilege):
        accounts.run(statement)


@pytest.mark.parametrize("statement", ["UPDATE trail SET act = 'x'", "DELETE FROM trail"])
def test_it_may_not_change_the_trail(accounts: Accounts, opened: Cast, statement: str) -> None:
    with pytest.raises(errors.IntegrityConstraintViolation, match="trail is never changed"):
        accounts.run(statement)
