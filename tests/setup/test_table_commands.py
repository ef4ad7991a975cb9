"""The commands for tables."""

import csv
from pathlib import Path

from service.desk import backups, imports
from tests.cast import Cast
from tests.setup.test_upkeep_commands import Run, run, url_of
from tests.trials import a_tried_job

__all__ = ["run"]


def test_a_command_writes_every_reading_in_the_shops_own_way(cast: Cast, run: Run, tmp_path: Path) -> None:
    a_tried_job(cast)
    file = tmp_path / "readings.csv"
    said = run(url_of(cast), "export", str(file))
    assert (said.exit_code, said.stdout) == (0, f"{file}: 1 job, one row a block.\n")
    rows = list(csv.DictReader(file.read_text("utf-8-sig").splitlines()))
    assert len(rows) == 30 and "crushed at (America/Denver)" in rows[0]
    (entry,) = backups.entries(cast.olu, last=1)
    assert (entry.act, entry.via) == ("readings.hand_out", "command")


def test_a_form_that_is_not_known_is_refused_before_anything_is_written(cast: Cast, run: Run, tmp_path: Path) -> None:
    said = run(url_of(cast), "export", str(tmp_path / "readings.pdf"))
    assert said.exit_code == 1 and ".csv, .xlsx, .json" in said.stderr
    assert not (tmp_path / "readings.pdf").exists()


def test_a_file_that_is_there_is_replaced_only_when_told(cast: Cast, run: Run, tmp_path: Path) -> None:
    file = tmp_path / "lines.csv"
    file.write_text("mine")
    refused = run(url_of(cast), "export", str(file), "--table", "invoice-lines")
    assert refused.exit_code == 1 and "add --replace" in refused.stderr and file.read_text() == "mine"
    said = run(url_of(cast), "export", str(file), "--table", "invoice-lines", "--replace")
    assert (said.exit_code, said.stdout) == (0, f"{file}: 0 jobs, one row a line.\n")
    refused = run(url_of(cast), "export", str(tmp_path / "x.csv"), "--table", "jobs")
    assert refused.exit_code == 1 and "readings, invoice-lines" in refused.stderr


OLD = "Yard;Mix;Days;Kind;Result at 28\nJ1;A;28;dry;3,25\nJ1;A;28;wet;2,5\n"


def test_older_readings_are_checked_and_taken_in_with_columns_units_and_signs_as_told(
    cast: Cast, run: Run, tmp_path: Path
) -> None:
    file = tmp_path / "old.csv"
    file.write_text(OLD)
    told = ["--column", "job=yard", "--column", "age=Days", "--column", "stress=Result at 28", "--unit", "stress=MPa"]
    told += ["--column", "condition=Kind", "--same", "hours-in-water=24", "--mark", "comma", "--days", "day"]
    guess = run(url_of(cast), "import", str(file), "--check")
    assert guess.exit_code == 1 and "nothing was imported" in guess.stderr and "Not read: Yard" in guess.stderr
    checked = run(url_of(cast), "import", str(file), "--check", *told)
    assert (checked.exit_code, checked.stdout) == (0, "2 readings of 1 job can be imported.\n"), checked.stderr
    assert "Stress: column “Result at 28”, in MPa" in checked.stderr and imports.brought(cast.olu) == []
    assert run(url_of(cast), "import", str(file), *told).stdout == "2 readings of 1 job were imported.\n"
    (found,) = imports.brought(cast.olu)
    assert (found.name, found.readings) == ("old.csv", 2)
    again = run(url_of(cast), "import", str(file), *told)
    assert again.exit_code == 1 and "imported already" in again.stderr


def test_an_option_that_cannot_be_is_refused_with_what_may_be(cast: Cast, run: Run, tmp_path: Path) -> None:
    file = tmp_path / "old.csv"
    file.write_text(OLD)
    for option, told in (
        (("--column", "colour=Kind"), "NAME is one of these: job, customer"),
        (("--column", "job=Nobody"), "No column is called Nobody. There are: Yard; Mix; Days"),
        (("--unit", "stress=bananas"), "Stress is in one of these: MPa"), (("--unit", "job=mm"), "Job has no unit."),
        (("--same", "condition"), "--same is NAME=TEXT"), (("--mark", "dot"), "--mark is point or comma."),
        (("--days", "year"), "--days is day or month."), (("--gauge", "Mine"), "--gauge is one of these:"),
    ):  # fmt: skip
        said = run(url_of(cast), "import", str(file), "--check", *option)
        assert said.exit_code == 1 and told in said.stderr, (option, said.stderr)
    said = run(url_of(cast), "import", str(tmp_path / "none.csv"))
    assert said.exit_code == 1 and "none.csv could not be read: No such file" in said.stderr
