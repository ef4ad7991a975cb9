"""What the service does not call: what runs text, reads objects back, starts programs or asks other machines."""

import ast
import re

import pytest

from tests.layout.test_doors import SERVICE, SERVICE_FILES, imports, tracked, within

# To run text, to read objects or markup that somebody sent, to start a program, to speak to another machine.
DANGEROUS = {
    "pickle", "marshal", "shelve", "dill", "joblib", "yaml", "lxml", "xml", "subprocess", "pty", "ctypes",
    "multiprocessing", "httpx", "requests", "aiohttp", "urllib.request", "http.client", "smtplib", "imaplib",
    "ftplib", "telnetlib", "ldap3", "jwt", "jose", "redis", "pymemcache",
}  # fmt: skip
# Our own drawings are read back there to mark their words; nothing that was sent is.
# Mail goes out to the one server that the settings name.
ALLOWED = {("paper/svg.py", "xml.etree"), ("mail_sending.py", "smtplib")}
# Draws that must be the same each time, of lots and of the demo's story: no secret comes from there.
MAY_DRAW = {"trade/block/random_order.py", "demo/rounds.py", "demo/job.py"}
RUNS_TEXT = {"eval", "exec", "compile", "__import__"}
WEAK = ("md5", "new", "sha1")
# What a tablet keeps has one door; its pages are named to its own worker; the sound and the units that a tablet was set
# to are no data of anybody.
MAY_KEEP = {"store.js": {"indexedDB"}, "offline.js": {"postMessage"}, "today.js": {"document.cookie"}}
IN_SCRIPTS = re.compile(
    r"\b(eval|Function|innerHTML|outerHTML|insertAdjacentHTML|localStorage|sessionStorage|indexedDB|postMessage|__proto__)\b"
    r"|document\.(write|cookie)"
)


@pytest.mark.parametrize("library", sorted(DANGEROUS))
def test_no_file_of_the_service_imports(library: str) -> None:
    users = {
        (str(path.relative_to(SERVICE)), module)
        for path in SERVICE_FILES
        for module in imports(path)
        if within(module, {library})
    }
    assert users <= ALLOWED


def test_what_can_be_foretold_draws_no_secret() -> None:
    users = {str(path.relative_to(SERVICE)) for path in SERVICE_FILES if within_any(path, {"random"})}
    assert users == MAY_DRAW


def within_any(path: object, packages: set[str]) -> bool:
    return any(within(module, packages) for module in imports(path))  # type: ignore[arg-type]


def calls() -> dict[str, list[str]]:
    """Return every function that is called by its name or as an attribute, with where."""
    found: dict[str, list[str]] = {}
    for path in SERVICE_FILES:
        for node in ast.walk(ast.parse(path.read_text())):
            if not isinstance(node, ast.Call):
                continue
            where = f"{path.relative_to(SERVICE)}:{node.lineno}"
            if isinstance(node.func, ast.Name):
                found.setdefault(node.func.id, []).append(where)
            elif isinstance(node.func, ast.Attribute) and isinstance(node.func.value, ast.Name):
                found.setdefault(f"{node.func.value.id}.{node.func.attr}", []).append(where)
    return found


CALLS = calls()


@pytest.mark.parametrize("name", [*sorted(RUNS_TEXT), "os.system", "os.popen", *(f"hashlib.{one}" for one in WEAK)])
def test_no_line_of_the_service_calls(name: str) -> None:
    assert CALLS.get(name, []) == []


def test_the_look_at_calls_sees_what_is_there() -> None:
    assert CALLS["hashlib.sha256"] and CALLS["re.compile"] and CALLS["len"]


@pytest.mark.parametrize("path", tracked("service/web/static/*.js"), ids=lambda path: path.name)
def test_no_script_runs_text_writes_markup_or_keeps_anything_in_the_browser(path: object) -> None:
    found = {match[0] for match in IN_SCRIPTS.finditer(path.read_text())}  # type: ignore[attr-defined]
    assert found <= MAY_KEEP.get(path.name, set())  # type: ignore[attr-defined]
