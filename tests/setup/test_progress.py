"""A long command says how far it came to whoever waits at the terminal, and to nobody else."""

import io

import pytest

from service.cli import progress
from service.cli.progress import Progress


class Terminal(io.StringIO):
    """A stream that somebody looks at."""

    def isatty(self) -> bool:
        return True


@pytest.fixture(autouse=True)
def _at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(progress, "EVERY_S", 0.0)


def test_one_line_says_how_far_it_came_and_is_gone_in_the_end() -> None:
    seen = Terminal()
    line = Progress(seen)
    line("block_height", 1000)
    line("block_height", 1_250_000)
    assert seen.getvalue().split("\r")[1:] == [f"{'block height: 1,000':<60}", f"{'block height: 1,250,000':<60}"]
    line.end()
    assert seen.getvalue().endswith(f"\r{'':<60}\r")


def test_a_file_or_another_program_is_told_nothing() -> None:
    nowhere = io.StringIO()
    line = Progress(nowhere)
    line("block", 1)
    line.end()
    assert nowhere.getvalue() == ""
