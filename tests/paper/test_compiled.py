"""Compiled templates are kept between processes, and nothing that is kept can change what a page says or break it."""

from collections.abc import Iterator
from pathlib import Path
from unittest.mock import patch

import pytest
from jinja2 import Environment

from service.paper import templates
from service.paper.compiled import Compiled


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    templates.environment.cache_clear()
    yield tmp_path
    templates.environment.cache_clear()


def another_process(language: str = "en") -> Environment:
    templates.environment.cache_clear()
    return templates.environment(language)


def kept(folder: Path) -> list[Path]:
    return sorted(folder.glob("_jinja2-cache-*/*"))


def test_what_one_process_compiled_the_next_one_reads(folder: Path) -> None:
    said = another_process().get_template("outcome.html").blocks
    assert len(kept(folder)) == 1
    with patch.object(Environment, "compile", side_effect=AssertionError("compiled anew")):
        assert set(another_process().get_template("outcome.html").blocks) == set(said)


def test_each_language_keeps_its_own(folder: Path) -> None:
    another_process("en").get_template("outcome.html")
    another_process("es").get_template("outcome.html")
    assert len(kept(folder)) == 2


def test_other_words_are_compiled_anew(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    another_process().get_template("outcome.html")
    monkeypatch.setattr("service.paper.compiled.WRITERS", ("words",))
    another_process().get_template("outcome.html")
    assert len(kept(folder)) == 2


@pytest.mark.parametrize("left", [b"", b"j2", b"nothing of ours"], ids=["empty", "broken off", "of others"])
def test_a_damaged_one_is_compiled_anew(folder: Path, left: bytes) -> None:
    another_process().get_template("outcome.html")
    (file,) = kept(folder)
    whole = file.read_bytes()
    file.write_bytes(left)
    assert another_process().get_template("outcome.html").name == "outcome.html"
    assert file.read_bytes() == whole


def test_one_that_is_broken_off_anywhere_is_compiled_anew(folder: Path) -> None:
    another_process().get_template("outcome.html")
    (file,) = kept(folder)
    whole = file.read_bytes()
    for end in range(0, len(whole), max(1, len(whole) // 40)):
        file.write_bytes(whole[:end])
        assert another_process().get_template("outcome.html").name == "outcome.html"


def test_a_full_disk_or_no_folder_costs_the_compiling_alone(folder: Path) -> None:
    with patch("jinja2.bccache.FileSystemBytecodeCache.dump_bytecode", side_effect=OSError(28, "full")):
        assert another_process().get_template("outcome.html").name == "outcome.html"
    with patch.object(Compiled, "__init__", side_effect=OSError(30, "read-only")):
        assert another_process().get_template("outcome.html").name == "outcome.html"
    assert kept(folder) == []
