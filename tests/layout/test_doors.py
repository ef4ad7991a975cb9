"""The form of the tree: which file may import which library, how long a file may be, what may not be left lying."""

import ast
import re
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SERVICE = ROOT / "service"

# Each of these libraries has one door into the service, so that it can be exchanged in one file.
DOORS = {
    "pint": {"words/units.py"},
    "weasyprint": {"paper/pdf.py"},
    "matplotlib": {"paper/charts.py"},
    "segno": {"paper/square_code.py"},
    "icalendar": {"paper/calendar.py"},
    "xlsxwriter": {"paper/workbooks.py"},
    "openpyxl": {"paper/tables_read.py"},
    "PIL": {"paper/photo_files.py"},
    "fsspec": {"records/files.py"},
    "smtplib": {"mail_sending.py"},
    "pwdlib": {"desk/signing_in/_passwords_and_pins.py"},
    "pyotp": {"desk/signing_in/_factors.py"},
    "typer": {
        f"cli/{name}.py" for name in ("__init__", "example", "installation", "rescue", "shop", "tables", "upkeep")
    },
}
TRADE_MAY_IMPORT = {"numpy", "scipy", "service.trade", "service.errors", "service.phrase", "service.typed"}
MOST_LINES = 400
SOURCES = ("*.py", "*.html", "*.js", "*.css")
LEFTOVERS = re.compile(r"\b(TO" + r"DO|FIX" + r"ME|XX" + r"X|HA" + r"CK)\b|NotImplemented" + r"Error")
DRAWERS = {"utils", "util", "helpers", "helper", "common", "misc"}


def tracked(*patterns: str) -> list[Path]:
    """Return the files of the tree that match, whether committed yet or not."""
    listed = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard", "-z", "--", *patterns],
        cwd=ROOT,
        check=True,
        capture_output=True,
        text=True,
    )
    return sorted(path for name in set(listed.stdout.split("\0")) if name and (path := ROOT / name).is_file())


@cache
def imports(path: Path) -> frozenset[str]:
    """Return the full name of every module a file imports, inside functions too."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            found.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path} imports relative to itself"
            found.add(node.module or "")
    return frozenset(found)


def within(module: str, packages: set[str]) -> bool:
    """Say whether a module is one of the packages or stands inside one."""
    return any(module == package or module.startswith(f"{package}.") for package in packages)


SERVICE_FILES = tracked("service/*.py")


@pytest.mark.parametrize("library", DOORS)
def test_a_library_is_imported_through_its_own_door_only(library):
    users = {
        str(path.relative_to(SERVICE)) for path in SERVICE_FILES if any(within(m, {library}) for m in imports(path))
    }
    assert users <= DOORS[library]


@pytest.mark.parametrize(
    "path", [p for p in SERVICE_FILES if p.is_relative_to(SERVICE / "trade")], ids=lambda p: p.name
)
def test_trade_imports_the_standard_library_numpy_and_scipy_only(path):
    others = {m for m in imports(path) if m.partition(".")[0] not in sys.stdlib_module_names}
    assert {m for m in others if not within(m, TRADE_MAY_IMPORT)} == set()


def test_the_door_test_sees_an_import_inside_a_function(tmp_path):
    sample = tmp_path / "sample.py"
    sample.write_text("def draw():\n    from matplotlib.figure import Figure\n    import scipy.stats as s\n")
    assert imports(sample) == {"matplotlib.figure", "scipy.stats"}
    assert within("matplotlib.figure", {"matplotlib"}) and not within("matplotlibx", {"matplotlib"})


def test_files_end_at_400_lines():
    lengths = {str(path.relative_to(ROOT)): len(path.read_text().splitlines()) for path in tracked(*SOURCES)}
    assert {name: lines for name, lines in lengths.items() if lines > MOST_LINES} == {}


def test_no_word_of_unfinished_work_is_left():
    left = [str(path.relative_to(ROOT)) for path in tracked(*SOURCES) if LEFTOVERS.search(path.read_text())]
    assert left == []


def test_no_file_is_a_drawer_for_what_had_no_home():
    assert [str(path.relative_to(ROOT)) for path in tracked(*SOURCES) if path.stem in DRAWERS] == []


def test_no_lock_file_names_a_host():
    for lock in ("requirements.lock", "requirements-dev.lock"):
        assert re.findall(r"://|^--|@ ", (ROOT / lock).read_text(), re.MULTILINE) == []
    assert tracked("uv.lock", "pylock.toml", "*.min.js", "*.min.css") == []


def test_the_day_is_taken_on_the_shops_clock():
    taken = re.compile(r"\.date\(\)|\.astimezone\((?!UTC\))")
    rooms = [*(SERVICE / "desk").rglob("*.py"), *(SERVICE / "measured").rglob("*.py")]
    found = {str(path.relative_to(SERVICE)) for path in rooms if taken.search(path.read_text())}
    assert rooms and found == set()
