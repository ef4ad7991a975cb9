"""The container and the page for owners name only what exists: settings, commands and files."""

import re
from pathlib import Path

import pytest
import typer

from service import cli
from service.settings import Settings

ROOT = Path(__file__).resolve().parents[2]
SETTINGS = {f"LOAMBOOK_{name.upper()}" for name in Settings.model_fields}
# Only compose itself reads it: on which of the machine's addresses the port is opened.
OF_COMPOSE = {"LOAMBOOK_LISTEN"}
TOLD = ("README.md", "docs/run-a-shop.md", "docker/compose.yaml", "docker/Dockerfile")
COMMANDS = set(typer.main.get_command(cli.app).commands)  # type: ignore[attr-defined]
OF_RUN = {"demo", "test", "faults", "hostile", "setup", "lock", "pictures"}


@pytest.mark.parametrize("name", TOLD)
def test_every_setting_that_the_container_passes_on_is_one(name: str) -> None:
    named = set(re.findall(r"LOAMBOOK_[A-Z_]+[A-Z]", (ROOT / name).read_text()))
    assert named and named <= SETTINGS | OF_COMPOSE


@pytest.mark.parametrize("name", TOLD[:2])
def test_the_page_for_owners_names_only_commands_and_settings_that_exist(name: str) -> None:
    text = (ROOT / name).read_text()
    named = set(re.findall(r"(?:\./run|loambook) ([a-z][a-z-]+)\b", text))
    # The account that runs the service has the name of the command.
    assert {"open", "checkup"} <= named - {"loambook"} <= COMMANDS | OF_RUN


def test_every_setting_is_told_of_in_the_readme_but_those_for_the_container_alone() -> None:
    text = (ROOT / "README.md").read_text()
    untold = {name for name in SETTINGS if name not in text and not name.endswith("_FILE")}
    assert untold == {"LOAMBOOK_PRODUCTION"}


def test_the_container_is_made_of_files_that_are_let_into_it() -> None:
    copied = re.findall(r"^COPY (.+) \S+$", (ROOT / "docker/Dockerfile").read_text(), re.MULTILINE)
    let_in = {line[1:] for line in (ROOT / ".dockerignore").read_text().splitlines() if line.startswith("!")}
    for name in " ".join(copied).split():
        assert (ROOT / name).exists()
        assert name in let_in or name.startswith("requirements")
