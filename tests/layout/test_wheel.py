"""The wheel carries what is not Python, and starts without the checkout it was built from."""

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
FOLDERS = {"templates": "service/templates", "migrations": "service/migrations", "service": "service"}
CARRIED = {".html", ".css", ".js", ".toml", ".po", ".mako", ".py", ".svg", ".webmanifest", ".txt"}


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a wheel built without a network, from the build tools of the lock."""
    folder = tmp_path_factory.mktemp("wheel")
    build = [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--no-index", "--no-build-isolation"]
    subprocess.run([*build, "--wheel-dir", folder, ROOT], check=True, capture_output=True, text=True)
    (built,) = folder.glob("loambook-*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder into which the wheel alone was installed."""
    target = tmp_path_factory.mktemp("installed")
    install = [sys.executable, "-m", "pip", "install", "--quiet", "--no-deps", "--no-index", "--target", target, wheel]
    subprocess.run(install, check=True, capture_output=True, text=True)
    return target


def run(installed: Path, *command: str | Path, data: Path | None = None) -> str:
    """Run a command that finds the installed wheel before the checkout, from a folder that is neither."""
    environment = {name: value for name, value in os.environ.items() if not name.startswith("LOAMBOOK_")}
    environment |= {"PYTHONPATH": str(installed), "LOAMBOOK_DATA": str(data)}
    done = subprocess.run(command, cwd=installed, env=environment, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_the_wheel_carries_every_template_static_file_migration_and_data_file(wheel):
    inside = set(zipfile.ZipFile(wheel).namelist())
    expected = {
        f"{place}/{path.relative_to(ROOT / folder)}"
        for folder, place in FOLDERS.items()
        for path in (ROOT / folder).rglob("*")
        if path.suffix in CARRIED and "__pycache__" not in path.parts
    }
    assert expected - inside == set()


def test_the_installed_wheel_finds_its_own_templates_and_migrations(installed):
    look = "from service.places import folder; print(folder('templates')); print(folder('migrations'))"
    found = run(installed, sys.executable, "-c", look).split()
    assert found == [str(installed / "service" / "templates"), str(installed / "service" / "migrations")]


def test_the_installed_command_says_what_it_can_do(installed):
    assert "serve" in run(installed, sys.executable, installed / "bin" / "loambook", "--help")


def test_the_installed_command_makes_a_database_from_its_own_migrations(installed, tmp_path):
    run(installed, sys.executable, installed / "bin" / "loambook", "migrate", data=tmp_path / "shop")
    assert (tmp_path / "shop" / "shop.sqlite").stat().st_size > 0


def test_the_installed_service_answers(installed, tmp_path):
    ask = (
        "import asyncio, httpx\n"
        "from service.app import create_app\n"
        "from service.records.database import migrate\n"
        "from service.settings import Settings\n"
        "settings = Settings()\n"
        "migrate(settings.database_url)\n"
        "async def page():\n"
        "    transport = httpx.ASGITransport(app=create_app(settings))\n"
        "    async with httpx.AsyncClient(transport=transport, base_url=settings.address) as client:\n"
        "        return [(await client.get(path)).status_code for path in ('/health/ready', '/sign-in')]\n"
        "print(asyncio.run(page()))\n"
    )
    assert run(installed, sys.executable, "-c", ask, data=tmp_path).strip() == "[200, 200]"
