"""Take one guard out at a time in a copy of the code and write down which test noticed.

    python tests/mutations/guards.py [WORD ...]

With words, only the guards whose names hold one of them are tried; the lines of the others stay as they are.
"""

import os
import re
import shutil
import sys
import tempfile
import tomllib
import traceback
from compileall import compile_dir
from importlib import import_module
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
TABLE = ROOT / "docs" / "guards.md"
HEAD = """# Each guard taken out, and the test that noticed

Written by `python tests/mutations/guards.py`: each guard of [doors.md](doors.md) and [asvs.md](asvs.md) is taken out
alone, in a copy, and the tests named beside it in `tests/mutations/guards.toml` are run until the first goes red.
{count} guards, {unseen} unnoticed.

| guard | file | from | to | first red test |
|---|---|---|---|---|
"""
LIBRARIES = (
    "alembic.command",
    "argon2",
    "babel",
    "bs4",
    "fastapi",
    "httpx",
    "hypothesis",
    "icalendar",
    "matplotlib.figure",
    "numpy",
    "PIL.Image",
    "pint",
    "playwright.sync_api",
    "prometheus_client",
    "psycopg",
    "pwdlib",
    "pydantic_settings",
    "pyotp",
    "scipy.stats",
    "sqlmodel",
    "starlette.testclient",
    "typer",
    "uvicorn",
    "weasyprint",
    "zxcvbn",
)
# The libraries that are loaded already are none whose checks are to be told in words.
QUIETLY = ("-q", "-x", "--no-header", "-p", "no:cacheprovider", "-W", "ignore::pytest.PytestAssertRewriteWarning")
UNSEEN = "**not noticed**"


def main(words: list[str]) -> int:
    """Try the guards and return how many no test noticed."""
    guards = tomllib.loads(Path(__file__).with_name("guards.toml").read_text("utf-8"))["guard"]
    lines = known()
    for library in LIBRARIES:
        import_module(library)
    # No context: whatever is forked below must not clear it away when it ends.
    copy, parent = Path(tempfile.mkdtemp()), os.getpid()
    try:
        for name in ("service", "tests", "templates", "migrations", "docs", "docker"):
            shutil.copytree(ROOT / name, copy / name, ignore=shutil.ignore_patterns("__pycache__"))
        for name in ("pyproject.toml", "run", "requirements.lock", "requirements-dev.lock"):
            shutil.copy(ROOT / name, copy)
        # Else every one of the processes below would compile the service anew.
        compile_dir(copy / "service", quiet=1)
        for guard in guards:
            if not words or any(word in guard["name"] for word in words):
                lines[guard["name"]] = row(guard, first_red(copy, guard))
                sys.stdout.write(lines[guard["name"]])
                sys.stdout.flush()
                write([lines[one["name"]] for one in guards if one["name"] in lines])
    finally:
        if os.getpid() == parent:
            shutil.rmtree(copy)
    return sum(UNSEEN in line for line in lines.values())


def write(told: list[str]) -> None:
    """Write the table, also of a run that somebody ends early."""
    unseen = sum(UNSEEN in line for line in told)
    TABLE.write_text(HEAD.format(count=len(told), unseen=unseen) + "".join(told), "utf-8")


def known() -> dict[str, str]:
    """Return the lines of the table as it stands, by the name of the guard."""
    text = TABLE.read_text("utf-8") if TABLE.exists() else ""
    lines = [line for line in text.splitlines(keepends=True) if line.startswith("| ")][1:]
    return {line.split(" | ")[0].removeprefix("| "): line for line in lines}


def first_red(copy: Path, guard: dict[str, str]) -> str | None:
    """Return the first test that fails without the guard, or None; put the file back."""
    file = copy / "service" / guard["file"]
    whole = file.read_text("utf-8")
    if whole.count(guard["old"]) != 1:
        raise SystemExit(f"{guard['name']}: {guard['old']!r} must stand once in {guard['file']}.")
    file.write_text(whole.replace(guard["old"], guard["new"]), "utf-8")
    wanted = [f"tests/{path}" for path in guard["tests"].split()]
    # What both databases show, one shows.
    chosen = ["-k", guard.get("chosen", "not postgresql")]
    try:
        status, said = tested(copy, [*chosen, *wanted])
    finally:
        file.write_text(whole, "utf-8")
    if status == 0:
        return None
    red = re.search(r"^(?:FAILED|ERROR) \S*::(\w+)", said, re.MULTILINE)
    if red is None:
        raise SystemExit(f"{guard['name']}\n{said}")
    return red.group(1)


def tested(copy: Path, wanted: list[str]) -> tuple[int, str]:
    """Run tests of the copy in a process forked from this one, which has loaded the libraries already."""
    said = copy / "said.txt"
    child = os.fork()
    if child == 0:
        out = os.open(said, os.O_CREAT | os.O_TRUNC | os.O_WRONLY)
        os.dup2(out, 1)
        os.dup2(out, 2)
        os.chdir(copy)
        sys.path.insert(0, str(copy))
        sys.dont_write_bytecode = True
        status = 70
        try:
            status = pytest.main([*QUIETLY, *wanted])
        except BaseException:
            traceback.print_exc()
        finally:
            sys.stdout.flush()
            sys.stderr.flush()
            os._exit(status)
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status), said.read_text("utf-8", "replace")


def row(guard: dict[str, str], red: str | None) -> str:
    """Return one line of the table."""
    old, new = (" ".join(guard[key].split()).replace("|", "\\|") for key in ("old", "new"))
    return f"| {guard['name']} | {guard['file']} | `{old}` | `{new}` | {red or UNSEEN} |\n"


if __name__ == "__main__":
    raise SystemExit(1 if main(sys.argv[1:]) else 0)
