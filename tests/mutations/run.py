"""Spoil one formula or one rule at a time and write down which test noticed.

    python tests/mutations/run.py [WORD ...]

With words, only the patches whose file or name holds one of them are tried, and the table is left alone. The tests are
collected once; each patch is tried in a fork, where it takes the place of the code that is loaded already.
"""

import ast
import gc
import os
import re
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from types import CodeType, FunctionType, ModuleType

import pytest

ROOT = Path(__file__).resolve().parents[2]
HERE = Path(__file__).parent
TABLE = ROOT / "docs" / "mutations.md"
HEAD = """# One small patch a formula or rule, and the test that noticed

Written by `python tests/mutations/run.py`: each patch is tried alone, and the tests it names are run on SQLite until
the first goes red. {formulas} formulas of `service/trade/`, {rules} rules of the other rooms, {unseen} unnoticed.
"""
PART = """
## {title}

| {what} | file | from | to | first red test |
|---|---|---|---|---|
"""
Patch = dict[str, str]


def patches() -> list[Patch]:
    """Return every patch, its file named from ``service/``."""
    formulas = tomllib.loads((HERE / "patches.toml").read_text("utf-8"))["patch"]
    rules = tomllib.loads((HERE / "rules.toml").read_text("utf-8"))["patch"]
    return [{**one, "name": one["formula"], "file": f"trade/{one['file']}"} for one in formulas] + [
        {**one, "name": one["rule"]} for one in rules
    ]


class Spoil:
    """Run the collected tests once for each patch, in a fork of its own."""

    def __init__(self, tried: list[Patch]) -> None:
        self.tried, self.red = tried, dict[str, str | None]()

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Try every patch."""
        by_file: dict[str, list[pytest.Item]] = {}
        for item in session.items:
            by_file.setdefault(str(item.path.relative_to(ROOT / "tests")), []).append(item)
        for patch in self.tried:
            items = [item for name in patch["tests"].split() for item in by_file.get(name, [])]
            self.red[patch["name"]] = red = in_a_fork(patch, likely_first(patch, items))
            sys.stderr.write(f"{patch['file']}: {patch['name']}: {red or 'NOT NOTICED'}\n")
        return True


def likely_first(patch: Patch, items: list[pytest.Item]) -> list[pytest.Item]:
    """Return the tests, those first whose names share most words with the patch."""
    words = set(re.findall(r"[a-z]{4,}", patch["name"].lower()))
    return sorted(items, key=lambda item: -len(words & set(re.findall(r"[a-z]{4,}", item.name.lower()))))


def in_a_fork(patch: Patch, items: list[pytest.Item]) -> str | None:
    """Return the first of the tests that fails under a patch, or None."""
    reading, writing = os.pipe()
    child = os.fork()
    if not child:
        try:
            spoil(patch)
            os.write(writing, next(first_red(items), "").encode())
        finally:
            os._exit(0)
    os.close(writing)
    with os.fdopen(reading, "rb") as told:
        red = told.read().decode()
    os.waitpid(child, 0)
    return red or None


def first_red(items: list[pytest.Item]) -> Iterator[str]:
    """Yield the name of each test that fails."""
    from _pytest.runner import runtestprotocol

    for item, following in zip(items, [*items[1:], None], strict=True):
        if any(report.failed for report in runtestprotocol(item, log=False, nextitem=following)):
            yield item.name.partition("[")[0]


def spoil(patch: Patch) -> None:
    """Put a patch in the place of the loaded code: of functions their code, of constants their value everywhere."""
    file = ROOT / "service" / patch["file"]
    whole = file.read_text("utf-8")
    if whole.count(patch["old"]) != 1:
        raise SystemExit(f"{patch['file']}: {patch['old']!r} must stand there once.")
    spoiled = whole.replace(patch["old"], patch["new"])
    codes = dict(codes_of(compile(spoiled, str(file), "exec")))
    # What the tests have put out of the collector's sight (tests/quicker.py) is not among its objects.
    gc.unfreeze()
    for function in [one for one in gc.get_objects() if isinstance(one, FunctionType)]:
        old = function.__code__
        new = codes.get(old.co_qualname)
        if old.co_filename == str(file) and new is not None and new.co_freevars == old.co_freevars:
            function.__code__ = new
    module = sys.modules["service." + patch["file"].removesuffix(".py").replace("/", ".")]
    put_constants(module, ast.parse(whole), ast.parse(spoiled))


def codes_of(code: CodeType) -> Iterator[tuple[str, CodeType]]:
    """Yield every function of a compiled module with its name."""
    for inner in code.co_consts:
        if isinstance(inner, CodeType):
            yield inner.co_qualname, inner
            yield from codes_of(inner)


def put_constants(module: ModuleType, before: ast.Module, after: ast.Module) -> None:
    """Give changed constants of a module their new value wherever they were imported."""
    kept = {ast.dump(node) for node in before.body}
    changed = [
        node for node in after.body if isinstance(node, ast.Assign | ast.AnnAssign) and ast.dump(node) not in kept
    ]
    for node in changed:
        names = [one.id for one in ast.walk(node) if isinstance(one, ast.Name) and isinstance(one.ctx, ast.Store)]
        was = {name: vars(module)[name] for name in names}
        exec(compile(ast.Module([node], []), module.__file__ or "", "exec"), vars(module))  # noqa: S102
        for other in [one for name, one in sys.modules.items() if name.startswith("service.")]:
            for name in names:
                if vars(other).get(name) is was[name]:
                    setattr(other, name, vars(module)[name])


def main(words: list[str]) -> int:
    """Try the patches and return how many no test noticed."""
    tried = [one for one in patches() if not words or any(word in one["file"] + one["name"] for word in words)]
    os.chdir(ROOT)
    files = sorted({f"tests/{name}" for one in tried for name in one["tests"].split()})
    spoiler = Spoil(tried)
    pytest.main(["-q", "--no-header", "-p", "no:xdist", "-k", "not postgresql", *files], plugins=[spoiler])
    seen = [(one, spoiler.red.get(one["name"])) for one in tried]
    unseen = sum(red is None for _, red in seen)
    if not words:
        TABLE.write_text(table(seen, unseen), "utf-8")
    return unseen


def table(seen: list[tuple[Patch, str | None]], unseen: int) -> str:
    """Return the page that says which test noticed what."""
    formulas, rules = ([pair for pair in seen if key in pair[0]] for key in ("formula", "rule"))
    text = HEAD.format(formulas=len(formulas), rules=len(rules), unseen=unseen)
    for title, what, pairs in (("Formulas", "formula", formulas), ("Rules outside trade", "rule", rules)):
        text += PART.format(title=title, what=what) + "".join(row(patch, red) for patch, red in pairs)
    return text


def row(patch: Patch, red: str | None) -> str:
    """Return one line of the table."""
    old, new = (" ".join(patch[key].split()).replace("|", "\\|") for key in ("old", "new"))
    return f"| {patch['name']} | {patch['file']} | `{old}` | `{new}` | {red or '**not noticed**'} |\n"


if __name__ == "__main__":
    raise SystemExit(1 if main(sys.argv[1:]) else 0)
