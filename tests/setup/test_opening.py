"""Opening a shop by one command: what is not given is asked for, what is wrong is asked again, a secret is kept."""

import stat
from collections.abc import Callable
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from service import __version__, cli
from service.cli import shop
from service.settings import Settings, fault_of

GIVEN = ["open", "Yard lab", "--owner", "Olu", "--email", "olu@yard.example"]
Run = Callable[..., Result]


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Run:
    """Return what runs a command in an empty folder, with answers typed one a line."""
    for name in Settings.model_fields:
        monkeypatch.delenv(f"LOAMBOOK_{name.upper()}", raising=False)
    monkeypatch.setenv("LOAMBOOK_DATA", str(tmp_path / "shop"))

    def command(*words: str, typed: str = "", **settings: str) -> Result:
        for name, value in settings.items():
            monkeypatch.setenv(f"LOAMBOOK_{name}", value)
        return CliRunner().invoke(cli.app, words, input=typed)

    return command


def facts(tmp_path: Path) -> tuple[str, ...]:
    """Return what the shop in the folder was opened with."""
    import sqlite3
    from contextlib import closing

    asked = "SELECT shop.name, person.name, email, time_zone, currency, paper, units_first FROM shop, person"
    with closing(sqlite3.connect(tmp_path / "shop" / "shop.sqlite")) as file:
        (row,) = file.execute(asked).fetchall()
    return tuple(row)


def test_a_shop_is_opened_once_and_its_secret_is_kept_for_this_account_alone(run: Run, tmp_path: Path) -> None:
    first = run(*GIVEN, "--time-zone", "America/Denver", ADDRESS="https://yard.example")
    assert first.stdout.startswith("https://yard.example/sign-in/") and first.exit_code == 0
    kept = tmp_path / "shop" / "secret.txt"
    assert stat.S_IMODE(kept.stat().st_mode) == 0o600 and fault_of(kept.read_text()) is None
    again = run(*GIVEN)
    assert (again.exit_code, again.stdout, again.stderr) == (1, "", "This shop is open already.\n")
    assert facts(tmp_path)[3] == "America/Denver"


def test_what_is_not_given_is_asked_for_and_what_is_wrong_asked_again(run: Run, tmp_path: Path) -> None:
    typed = ["Yard lab", "Olu", "nonsense", "Mars", "mxn", "letter", "imperial"]
    typed += ["olu@yard.example", "America/Hermosillo"]
    opened = run("open", typed="\n".join(typed) + "\n")
    assert opened.exit_code == 0, opened.output
    assert "nonsense: An address such as olu@yard.example." in opened.stderr
    assert "Mars: A name such as America/Denver." in opened.stderr
    wanted = ("Yard lab", "Olu", "olu@yard.example", "America/Hermosillo", "MXN", "Letter", "imperial")
    assert facts(tmp_path) == wanted


def test_with_everything_needed_given_nothing_is_asked_and_the_machines_own_time_zone_counts(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(shop, "own_time_zone", lambda: "America/Lima")
    assert run(*GIVEN).exit_code == 0
    assert facts(tmp_path)[3:] == ("America/Lima", "USD", "A4", "metric")


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        (["--email", "nonsense"], "email: An address such as olu@yard.example."),
        (["--time-zone", "Mars"], "time_zone: A name such as America/Denver."),
        (["--currency", "dollars"], "currency: Three letters, such as USD."),
    ],
)
def test_a_shop_is_not_opened_with_what_cannot_be(run: Run, wrong: list[str], sentence: str) -> None:
    refused = run(*GIVEN, *wrong)
    assert refused.exit_code == 1 and sentence in refused.stderr


def test_a_secret_that_is_set_already_is_left_alone(run: Run, tmp_path: Path) -> None:
    assert run(*GIVEN, SECRET="q7Zk1vXw9Rb3Tn5Yp8Lm2Hs6Jd4Gf0Ca").exit_code == 0
    assert not (tmp_path / "shop" / "secret.txt").exists()


def test_the_list_of_changes_begins_with_this_version() -> None:
    changes = Path(__file__).parents[2].joinpath("CHANGES.md").read_text()
    assert changes.split("\n## ")[1].startswith(f"{__version__}\n")


def test_the_version_and_an_example_of_each_calculation_are_printed(run: Run) -> None:
    assert run("--version").stdout.startswith("Loambook ")
    example = run("work", "batch", "--example").stdout
    assert '"water_kg"' in run("work", "batch", typed=example).stdout
