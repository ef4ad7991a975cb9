"""The one command from a clone: what it installs, and what it says when it may not."""

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SERVICE_PACKAGES = "libpango-1.0-0 libpangoft2-1.0-0"
# Stand-ins for a bare Debian: nothing is installed, nobody may become root, and apt writes down what it is asked.
PROGRAMS = {
    "dpkg-query": "exit 1",
    "sudo": "exit 1",
    "apt-get": 'printf "%s\\n" "$*" >>"$ASKED"; [ "$1" = update ]',
}


@pytest.fixture
def bare() -> Iterator[Path]:
    """Yield a folder with a clone's ``run`` and a bare Debian's programs, open to every account."""
    with tempfile.TemporaryDirectory(prefix="loambook-run-") as name:
        folder = Path(name)
        shutil.copy(ROOT / "run", folder)
        (folder / "bin").mkdir()
        for program, script in PROGRAMS.items():
            (folder / "bin" / program).write_text(f"#!/bin/sh\n{script}\n")
            (folder / "bin" / program).chmod(0o755)
        folder.chmod(0o755)
        yield folder


def run(folder: Path, *arguments: str, account: str | None = None) -> subprocess.CompletedProcess[str]:
    """Start the command in the bare folder with Debian's own Python and no terminal."""
    environment = {"PATH": f"{folder / 'bin'}:/usr/bin:/bin", "ASKED": str(folder / "asked")}
    return subprocess.run(
        [folder / "run", *arguments],
        env=environment,
        user=account,
        cwd=folder,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=60,
    )


def test_an_account_without_rights_gets_one_sentence_that_names_the_packages(bare):
    done = run(bare, "setup", account="nobody" if os.geteuid() == 0 else None)
    (sentence,) = done.stderr.splitlines()
    assert done.returncode == 1
    assert f"apt-get install {SERVICE_PACKAGES}" in sentence
    assert not (bare / "asked").exists()


@pytest.mark.parametrize("command", ["setup", "test"])
def test_with_rights_the_package_lists_are_brought_up_to_date_before_installing(bare, command):
    if os.geteuid() != 0:
        (bare / "bin" / "sudo").write_text('#!/bin/sh\n[ "$1" = -n ] && shift\nexec "$@"\n')
    done = run(bare, command)
    update, install = (bare / "asked").read_text().splitlines()
    assert update.startswith("update")
    assert SERVICE_PACKAGES in install and ("chromium-headless-shell" in install) == (command == "test")
    assert done.returncode == 1 and "could not be installed" in done.stderr


def test_help_needs_no_packages(bare):
    done = run(bare, "demo", "--help")
    assert done.returncode == 0 and done.stdout.startswith("Usage: ./run COMMAND")
    assert not (bare / "asked").exists()


def test_making_the_locks_on_a_bare_machine_installs_what_it_needs(bare):
    (bare / "bin" / "python3").write_text("#!/bin/sh\nexit 1\n")
    (bare / "bin" / "python3").chmod(0o755)
    (bare / "bin" / "sudo").write_text('#!/bin/sh\n[ "$1" = -n ] && shift\nexec "$@"\n')
    run(bare, "lock")
    assert "python3-venv" in (bare / "asked").read_text()


@pytest.mark.parametrize("made_for", ["another folder", None], ids=["copied or renamed", "of an older version"])
def test_an_environment_of_another_folder_is_made_anew(bare, made_for):
    programs = bare / ".venv" / "bin"
    programs.mkdir(parents=True)
    (programs / "python").symlink_to("/usr/bin/python3")
    (bare / "bin" / "dpkg-query").write_text("#!/bin/sh\nprintf installed\n")
    # A stand-in for Debian's Python: new enough, and its environments are empty folders.
    (bare / "bin" / "python3").write_text('#!/bin/sh\n[ "$2" = venv ] && mkdir -p "$3" && touch "$3/new"\nexit 0\n')
    (bare / "bin" / "python3").chmod(0o755)
    if made_for:
        (bare / ".venv" / "folder").write_text(made_for)
    (bare / "requirements.lock").write_text("")
    done = run(bare, "setup")
    assert "Making .venv anew" in done.stdout
    assert (bare / ".venv" / "new").exists() and (bare / ".venv" / "folder").read_text() == f"{bare}\n"


def test_an_unknown_command_is_refused_with_the_list_of_commands(bare):
    done = run(bare, "brew")
    assert done.returncode == 1
    assert "There is no command 'brew'." in done.stderr
    assert all(f"  {name} " in done.stderr for name in ("demo", "open", "test", "setup", "serve", "lock", "pictures"))
