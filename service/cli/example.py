"""The command of the example shop, which shares nothing with a real one."""

from __future__ import annotations

import fcntl
import os
import shutil
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from service.cli.installation import answer, bring_up_to_date, claim, quick_start, read_settings, stop
from service.places import data_folder

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pydantic import SecretStr

    from service.desk.doorway import Stores
    from service.settings import Settings

MARK = "example-shop.txt"
TOLD = "This folder holds an example shop; --fresh throws it away.\n"


def demo(
    port: Annotated[int, typer.Option(help="Where to listen on this machine.")] = 8000,
    data: Annotated[Path | None, typer.Option(help="The folder of its data; data/demo when not given.")] = None,
    fresh: Annotated[bool, typer.Option("--fresh", help="Throw its data away first.")] = False,
) -> None:
    """Start the service with an example shop and print links to sign in."""
    folder = data or data_folder() / "demo"
    settings = _settings(port, folder)
    _refuse_what_is_no_example(folder)
    with _in_use(folder, fresh=fresh):
        with quick_start():
            _prepare(folder, fresh=fresh)
            settings = settings.model_copy(update={"secret": _secret(folder)})
            bring_up_to_date(settings)
            from service.app import open_stores

            stores = open_stores(settings)
            for line in _filled(settings, stores):
                typer.echo(line)
        answer(settings, stores)


def _settings(port: int, folder: Path) -> Settings:
    """Return settings that share nothing with those of a real shop but the machine."""
    nothing: dict[str, Any] = dict.fromkeys(("database_url", "migrate_url", "address"), "")
    nothing |= dict.fromkeys(("archives", "secret_file", "database_url_file", "migrate_url_file"))
    nothing |= {"hosts": (), "proxies": (), "secret": "", "metrics_token": ""}
    settings = read_settings(host="127.0.0.1", port=port, data=folder, **nothing)
    if settings.production:
        stop(
            "Anybody who reads this terminal can sign in to the example shop. "
            "It does not start under LOAMBOOK_PRODUCTION."
        )
    claim(settings, remedy="--port")
    return settings


def _refuse_what_is_no_example(folder: Path) -> None:
    if not (folder / MARK).exists() and folder.exists() and any(folder.iterdir()):
        stop(f"{folder} is not empty and holds no example shop. Choose another folder with --data.")


@contextmanager
def _in_use(folder: Path, *, fresh: bool) -> Iterator[None]:
    """Mark the folder as in use while this runs; nobody may throw away what somebody else uses."""
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    # The folder itself is locked, so that emptying it leaves the lock where it is.
    with _opened(folder) as place:
        try:
            fcntl.flock(place, (fcntl.LOCK_EX if fresh else fcntl.LOCK_SH) | fcntl.LOCK_NB)
        except OSError:
            stop(f"An example shop runs in {folder}. Stop it first, or choose another folder with --data.")
        yield


@contextmanager
def _opened(folder: Path) -> Iterator[int]:
    place = os.open(folder, os.O_RDONLY)
    try:
        yield place
    finally:
        os.close(place)


def _prepare(folder: Path, *, fresh: bool) -> None:
    """Empty the folder if asked, or if its example shop was never finished."""
    mark = folder / MARK
    if mark.exists() and (fresh or mark.read_text("utf-8") != TOLD):
        for thing in folder.iterdir():
            shutil.rmtree(thing) if thing.is_dir() else thing.unlink()
    if not mark.exists():
        mark.write_text("An example shop is being written here.", "utf-8")


def _secret(folder: Path) -> SecretStr:
    """Return the example shop's own secret, drawn once, so that a second factor in it outlives a restart."""
    from secrets import token_urlsafe

    from pydantic import SecretStr

    kept = folder / "secret.txt"
    if not kept.exists():
        kept.touch(mode=0o600)
        kept.write_text(token_urlsafe(32), "utf-8")
    return SecretStr(kept.read_text("utf-8"))


def _filled(settings: Settings, stores: Stores) -> list[str]:
    """Fill the example shop if it is new, and return a line for each of its people with a one-use link."""
    from datetime import UTC, datetime

    from service.demo import shop

    shop.load(stores, now=datetime.now(UTC), tell=typer.echo)
    (settings.data / MARK).write_text(TOLD, "utf-8")
    ways_in = [f"{one.name} ({one.role})  {settings.address}/sign-in/{one.token}" for one in shop.welcomes(stores)]
    password = shop.password(stores)
    return [
        f"The example shop is at {settings.address}. Each of these links signs one person in, once:",
        *ways_in,
        f"The password of all of them is {password}",
    ]
