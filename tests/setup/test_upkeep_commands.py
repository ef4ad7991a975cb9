"""The commands for upkeep: log, archive, restore and check-up, on both databases."""

import json
import shutil
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import text
from typer.testing import CliRunner, Result

from service import cli
from service.desk import backups, mail, people
from service.desk.doorway import Role
from service.desk.signing_in import tablets
from service.records.database import migrating
from tests import mail_server
from tests.cast import Cast
from tests.records.test_trail import TRIGGERS

DRAWN = "q7Zk1vXw9Rb3Tn5Yp8Lm2Hs6Jd4Gf0Ca"
Run = Callable[..., Result]


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Run:
    """Return what runs a command on a database with a data folder of its own."""
    folder = tmp_path / "data"
    folder.mkdir(mode=0o700)

    def command(url: str, *words: str, **settings: str) -> Result:
        given = {"DATA": str(folder), "DATABASE_URL": url, "SECRET": DRAWN, **settings}
        for name, value in given.items():
            monkeypatch.setenv(f"LOAMBOOK_{name}", value)
        return CliRunner().invoke(cli.app, words)

    return command


def url_of(cast: Cast) -> str:
    return cast.stores.read.url.render_as_string(hide_password=False)


def finding(result: Result, what: str) -> str:
    return next(line for line in result.stdout.splitlines() if line[5:].strip().startswith(what))


def test_the_trail_is_shown_as_text_and_as_json_by_subject(cast: Cast, run: Run) -> None:
    done = people.add_customer(cast.tess, name="Ann", contact=None, language=None)
    shown = run(url_of(cast), "log", "--last", "1").stdout
    assert f"Tess  customer.add  customer {done.id}" in shown
    (line,) = run(url_of(cast), "log", "--about", str(done.id), "--json").stdout.splitlines()
    assert (json.loads(line)["act"], json.loads(line)["details"]) == ("customer.add", {"name": "Ann"})


@pytest.mark.parametrize(
    ("statements", "position"),
    [
        (["UPDATE trail SET details = '{}' WHERE position = 3"], 3),
        (["DELETE FROM replay", "DELETE FROM trail WHERE position = 2"], 2),
        (
            ["DELETE FROM replay"]
            + [f"UPDATE trail SET position = {new} WHERE position = {old}" for old, new in ((3, 99), (4, 3), (99, 4))],
            3,
        ),
    ],
    ids=["changed", "missing", "in another order"],
)
def test_verifying_finds_what_somebody_did_behind_the_trails_back(
    cast: Cast, run: Run, statements: list[str], position: int
) -> None:
    assert run(url_of(cast), "log", "--verify").stdout.startswith("The log is unaltered: ")
    with migrating(url_of(cast)) as connection:
        for statement in (*TRIGGERS[connection.dialect.name], *statements):
            connection.execute(text(statement))
    found = run(url_of(cast), "log", "--verify")
    assert found.exit_code == 1 and f"altered at entry {position}:" in found.stderr


def test_an_archive_moves_a_shop_to_another_database(
    cast: Cast, empty_database_url: str, run: Run, tmp_path: Path
) -> None:
    file = str(tmp_path / "moved.zip")
    made = run(url_of(cast), "archive", file)
    assert made.exit_code == 0 and " rows and 0 stored files" in made.stdout
    assert run(url_of(cast), "archive", "--verify", file).stdout == made.stdout
    assert run(empty_database_url, "restore", file).stdout == made.stdout
    assert run(empty_database_url, "log", "--verify").exit_code == 0
    assert "not empty" in run(empty_database_url, "restore", file).stderr


def test_a_damaged_archive_is_refused_before_anything_is_there(cast: Cast, run: Run, tmp_path: Path) -> None:
    file = tmp_path / "a.zip"
    run(url_of(cast), "archive", str(file))
    content = file.read_bytes()
    file.write_bytes(content[:500] + bytes([content[500] ^ 1]) + content[501:])
    for words in (("archive", "--verify", str(file)), ("restore", str(file))):
        refused = run(f"sqlite:///{tmp_path / 'new.sqlite'}", *words)
        assert refused.exit_code == 1 and "damaged" in refused.stderr
    assert not (tmp_path / "new.sqlite").exists()


@pytest.mark.parametrize(
    "words", [("serve",), ("migrate",), ("log",), ("archive", "a.zip"), ("checkup",)], ids=" ".join
)
def test_a_database_of_a_newer_version_is_refused(
    database_url: str, run: Run, words: tuple[str, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    with migrating(database_url) as connection:
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = '9999'")
    refused = run(database_url, *words)
    assert refused.exit_code == 1 and "newer version" in refused.output
    assert not (tmp_path / "a.zip").exists()


@pytest.mark.parametrize("words", [("log",), ("archive", "a.zip"), ("checkup",)], ids=" ".join)
def test_a_command_that_looks_makes_no_database(run: Run, tmp_path: Path, words: tuple[str, ...]) -> None:
    told = run(f"sqlite:///{tmp_path / 'none.sqlite'}", *words)
    assert told.exit_code == 1 and "There is no database in" in told.output
    assert not (tmp_path / "none.sqlite").exists()


def test_a_checkup_of_a_shop_in_order_says_so(empty_database_url: str, run: Run, tmp_path: Path) -> None:
    run(empty_database_url, "open", "Yard lab", "--owner", "Olu", "--email", "olu@yard.example")
    run(empty_database_url, "archive", str(tmp_path / "a.zip"))
    told = run(empty_database_url, "checkup")
    assert told.exit_code == 0, told.stdout
    assert [line[:5] for line in told.stdout.splitlines()] == ["well "] * 10


def test_a_checkup_without_an_open_shop_says_so(database_url: str, run: Run) -> None:
    told = run(database_url, "checkup")
    assert told.exit_code == 1
    assert "no shop is open here. Run 'loambook open'" in finding(told, "shop")


def test_a_checkup_says_what_is_wrong_and_what_to_do(cast: Cast, run: Run, tmp_path: Path) -> None:
    (tmp_path / "data").chmod(0o755)
    told = run(url_of(cast), "checkup", SECRET="short", ARCHIVES=str(tmp_path / "no folder"))
    assert told.exit_code == 1
    assert "is shorter than 32 characters: draw one" in finding(told, "secret")
    assert "chmod 700" in finding(told, "folder")
    assert "is not there. Make it" in told.stdout
    assert "Run 'loambook archive FILE'" in finding(told, "archive")
    # The cast records in the year 2027.
    assert "Set the clock of this machine" in finding(told, "clock")


def test_a_checkup_tells_of_a_disk_that_is_nearly_full(cast: Cast, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    real = shutil.disk_usage
    monkeypatch.setattr(shutil, "disk_usage", lambda path: real(path)._replace(free=3_200_000))
    assert "has 3 MB left on its disk. Make room" in finding(run(url_of(cast), "checkup"), "folder")


def test_records_that_can_only_be_read_are_told_in_a_sentence(run: Run, tmp_path: Path) -> None:
    (tmp_path / "shop.sqlite").touch()
    told = run(f"sqlite:///file:{tmp_path / 'shop.sqlite'}?mode=ro&uri=true", "migrate")
    assert told.exit_code == 1
    assert told.stderr.startswith(
        "The records cannot be written to: their disk, folder or file is closed to this account."
    )


def test_somebody_locked_out_is_reset_by_a_command(cast: Cast, run: Run) -> None:
    # The command goes by the clock of this machine.
    cast.clock.now = datetime.now(UTC)
    olu = cast.browser("olu")
    address = run(url_of(cast), "reset", "Olu@shop.example", ADDRESS="http://localhost").stdout.strip()
    assert olu.get("/you", follow_redirects=False).status_code == 303
    stranger = cast.browser(None)
    path = address.removeprefix("http://localhost")
    assert stranger.post(path, {"new_password": "damp loam under straw"}).status_code == 303
    assert stranger.get("/people").status_code == 200
    refused = run(url_of(cast), "reset", "nobody@shop.example")
    assert refused.exit_code == 1 and "Nobody signs in with this address." in refused.stderr


def test_the_trail_names_the_tablet_beside_the_person(cast: Cast, run: Run) -> None:
    enrolled = tablets.enrol(cast.olu, name="Press bench", token_sha256="0" * 64)
    people.add_customer(replace(cast.tess, device_id=enrolled.id), name="Ann", contact=None, language=None)
    assert "Tess on Press bench  customer.add" in run(url_of(cast), "log", "--last", "1").stdout


def test_a_checkup_tells_of_a_database_that_does_not_answer(run: Run) -> None:
    told = run("postgresql://nobody@127.0.0.1:1/nothing", "checkup")
    assert told.exit_code == 1 and "No database server answers at this address" in finding(told, "database")


def test_a_broken_trail_is_found_by_a_checkup(cast: Cast, run: Run) -> None:
    with migrating(url_of(cast)) as connection:
        for statement in (*TRIGGERS[connection.dialect.name], "UPDATE trail SET act = 'x' WHERE position = 2"):
            connection.execute(text(statement))
    assert "entry 2 is not as it was written" in finding(run(url_of(cast), "checkup"), "log")
    assert backups.verify(cast.olu).broken_at == 2


def test_mail_that_does_not_go_is_told_and_sent_by_a_command(cast: Cast, run: Run) -> None:
    shop = cast.with_mail()
    people.invite(
        shop.olu, name="Ina", email="ina@shop.example", role=Role.TECHNICIAN, customer_id=None, token_sha256="a" * 64
    )
    assert "E-mail is not set up" in run(url_of(cast), "mail").output
    claimed = mail.claim(shop.olu)
    mail.note(shop.olu, mail_id=claimed.id, outcome="never", error="550 No such mailbox")
    assert "1 of them do not go" in finding(run(url_of(cast), "checkup"), "mail")
    mail.send_again(shop.olu, mail_id=claimed.id)
    with mail_server.serving() as post:
        settings = {"SMTP_HOST": "127.0.0.1", "SMTP_PORT": str(post.port), "SMTP_TLS": "none"}
        settings["SMTP_FROM"] = "bench@shop.example"
        assert "took a test mail" in run(url_of(cast), "mail", "--try", "olu@shop.example", **settings).output
        post.answers["rcpt"] = "550 Not here"
        refused = run(url_of(cast), "mail", "--try", "olu@shop.example", **settings)
        assert refused.exit_code == 1 and "550 Not here" in refused.output
