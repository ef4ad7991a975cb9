"""The check-up of an installation: one sentence for each thing that must be in order, with what to do."""

import os
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from secrets import token_hex

from service.desk import backups, mail, people
from service.desk.doorway import Caller, Role, Stores, Via
from service.desk.results import expected_strength
from service.errors import Refusal

MEGABYTE = 1_000_000
# Room for some hundred photos, or for a night's archive of a small shop.
LEAST_FREE = 500 * MEGABYTE


@dataclass(frozen=True)
class Finding:
    """What was looked at, whether it is in order, and a sentence."""

    what: str
    ok: bool
    sentence: str


def check_up(
    *, secret_fault: str | None, secret_file: Path, folders: list[Path], open_stores: Callable[[], Stores]
) -> list[Finding]:
    """Look at everything; what cannot be looked at because something before it is broken is left out."""
    secret = (
        f"LOAMBOOK_SECRET {secret_fault}: draw one, with 32 characters or more, and keep it." if secret_fault else ""
    )
    if not secret and secret_file.exists() and secret_file.stat().st_mode & 0o077:
        secret = f"other accounts of this machine may read it. Run 'chmod 600 {secret_file}'."
    return [
        _finding("secret", secret, "it is long and was drawn."),
        *(_folder(folder) for folder in folders),
        *_database(open_stores),
    ]


def _finding(what: str, fault: str, well: str) -> Finding:
    return Finding(what, not fault, fault or well)


def _folder(folder: Path) -> Finding:
    fault = ""
    free = shutil.disk_usage(folder).free if folder.is_dir() else 0
    if not folder.is_dir():
        fault = f"{folder} is not there. Make it, for the account that runs the service alone (mode 700)."
    elif not os.access(folder, os.R_OK | os.W_OK | os.X_OK):
        fault = f"{folder} cannot be written to by this account. Run 'chown' on it for the one that runs the service."
    elif folder.stat().st_mode & 0o077:
        fault = f"{folder} is open to other accounts of this machine. Run 'chmod 700 {folder}'."
    elif free < LEAST_FREE:
        fault = f"{folder} has {free // MEGABYTE} MB left on its disk. Make room, {LEAST_FREE // MEGABYTE} MB or more."
    return _finding("folder", fault, f"{folder} can be written to, and by this account alone.")


def _database(open_stores: Callable[[], Stores]) -> list[Finding]:
    try:
        stores = open_stores()
    except Refusal as refusal:
        return [Finding("database", False, refusal.sentence)]
    caller = Caller(stores=stores, via=Via.COMMAND, request_id=token_hex(8), role=Role.OWNER)
    try:
        fault = backups.fault(caller) or backups.damage(caller)
        found = [_finding("database", fault, "it answers and is of this version.")]
        return found if fault else [*found, _shop(caller), *_records(caller)]
    finally:
        stores.read.dispose()
        stores.write.dispose()


def _lost(files: list[str]) -> str:
    if not files:
        return ""
    named = ", ".join(files[:3]) + (f" and {len(files) - 3} more" if len(files) > 3 else "")
    return (
        f"missing or damaged in the store: {named}. The last good archive is a zip file that holds them under files/: "
        "put each into the folder files of the data, under the first two letters of its name."
    )


def _shop(caller: Caller) -> Finding:
    name = people.shop_name(caller)
    nobody = "no shop is open here. Run 'loambook open', or let LOAMBOOK_DATA name the folder of the shop."
    return _finding("shop", "" if name else nobody, f"{name} is open.")


def _mail(caller: Caller) -> Finding:
    """Say whether mail goes; a shop that sends none is in order."""
    stuck = mail.stuck(caller)
    fault = (
        f"{stuck} of them do not go. The owner reads why on the page E-mails not sent yet, and sends them again."
        if stuck
        else ""
    )
    return _finding("mail", fault, "all of it went." if caller.stores.sends_mail else "not set up; none is sent.")


def _history(caller: Caller) -> Finding:
    """Say whether what is kept of past jobs is of their readings as they stand."""
    jobs = expected_strength.not_as_read(caller)
    named = ", ".join(jobs[:3]) + (f" and {len(jobs) - 3} more" if len(jobs) > 3 else "")
    fault = (
        f"what is kept of these jobs is not of their readings as they stand: {named}. Tell us of it." if jobs else ""
    )
    return _finding("history", fault, "what is kept of past jobs is of their readings.")


def _records(caller: Caller) -> list[Finding]:
    chain, complaints = backups.verify(caller), backups.complaints(caller)
    lost = backups.lost_files(caller)
    broken = f"entry {chain.broken_at} is not as it was written. Compare with the last good archive before going on."
    return [
        _finding("log", broken if chain.broken_at else "", f"unaltered, {chain.length} entries."),
        _finding("files", _lost(lost), "every stored file is as it was written."),
        _finding("archive", complaints["archive"], "made lately."),
        _finding("clock", complaints["clock"], "not behind what was recorded last."),
        _mail(caller),
        _history(caller),
    ]
