"""The commands for tables."""

import csv
from pathlib import Path

from service.desk import backups
from tests.cast import Cast
from tests.setup.test_upkeep_commands import Run, run, url_of
from tests.trials import a_tried_job

__all__ = ["run"]


def test_a_command_writes_every_reading_in_the_shops_own_way(cast: Cast, run: Run, tmp_path: Path) -> None:
    a_tried_job(cast)
    file = tmp_path / "readings.csv"
    said = run(url_of(cast), "export", str(file))
    assert (said.exit_code, said.stdout) == (0, "1 job, one row a block.\n")
    rows = list(csv.DictReader(file.read_text("utf-8-sig").splitlines()))
    assert len(rows) == 30 and "crushed at (America/Denver)" in rows[0]
    (entry,) = backups.entries(cast.olu, last=1)
    assert (entry.act, entry.via) == ("readings.hand_out", "command")


def test_a_form_that_is_not_known_is_refused_before_anything_is_written(cast: Cast, run: Run, tmp_path: Path) -> None:
    said = run(url_of(cast), "export", str(tmp_path / "readings.pdf"))
    assert said.exit_code == 1 and ".csv, .xlsx, .json" in said.stderr
    assert not (tmp_path / "readings.pdf").exists()
