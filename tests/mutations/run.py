"""Spoil one formula at a time in a copy of the code and write down which test noticed.

    python tests/mutations/run.py [WORD ...]

With words, only the patches of the files that they name are tried and the table is left alone.
"""

import os
import re
import shutil
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
TABLE = ROOT / "docs" / "mutations.md"
HEAD = """# One small patch a formula, and the test that noticed

Written by `python tests/mutations/run.py`: each patch is made alone, in a copy, and the tests of that formula are run
until the first goes red. {count} patches, {unseen} unnoticed.

| formula | file | from | to | first red test |
|---|---|---|---|---|
"""


def main(words: list[str]) -> int:
    """Try the patches and return how many no test noticed."""
    patches = tomllib.loads(Path(__file__).with_name("patches.toml").read_text("utf-8"))["patch"]
    tried = [patch for patch in patches if not words or patch["file"].removesuffix(".py") in words]
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder)
        for name in ("service", "tests"):
            shutil.copytree(ROOT / name, copy / name, ignore=shutil.ignore_patterns("__pycache__"))
        shutil.copy(ROOT / "pyproject.toml", copy)
        seen = [(patch, first_red(copy, patch)) for patch in tried]
    for patch, red in seen:
        sys.stdout.write(f"{patch['file']}: {patch['formula']}: {red or 'NOT NOTICED'}\n")
    unseen = sum(red is None for _, red in seen)
    if not words:
        rows = "".join(row(patch, red) for patch, red in seen)
        TABLE.write_text(HEAD.format(count=len(seen), unseen=unseen) + rows, "utf-8")
    return unseen


def first_red(copy: Path, patch: dict[str, str]) -> str | None:
    """Return the first test that fails on the patched copy, or None; put the file back."""
    file = copy / "service" / "trade" / patch["file"]
    whole = file.read_text("utf-8")
    if whole.count(patch["old"]) != 1:
        raise SystemExit(f"{patch['file']}: {patch['old']!r} must stand there once.")
    file.write_text(whole.replace(patch["old"], patch["new"]), "utf-8")
    try:
        done = subprocess.run(
            [sys.executable, "-m", "pytest", "-q", "-x", "--no-header", f"tests/{patch['tests']}"],
            cwd=copy,
            env=os.environ | {"PYTHONPATH": str(copy), "PYTHONDONTWRITEBYTECODE": "1"},
            capture_output=True,
            text=True,
            check=False,
        )
    finally:
        file.write_text(whole, "utf-8")
    if done.returncode == 0:
        return None
    red = re.search(r"^(?:FAILED|ERROR) \S*::(\w+)", done.stdout, re.MULTILINE)
    if red is None:
        raise SystemExit(done.stdout + done.stderr)
    return red.group(1)


def row(patch: dict[str, str], red: str | None) -> str:
    """Return one line of the table."""
    old, new = (" ".join(patch[key].split()).replace("|", "\\|") for key in ("old", "new"))
    return f"| {patch['formula']} | {patch['file']} | `{old}` | `{new}` | {red or '**not noticed**'} |\n"


if __name__ == "__main__":
    raise SystemExit(1 if main(sys.argv[1:]) else 0)
