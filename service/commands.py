"""What the commands share: the settings, the stores that are there, an owner's rights, and how one stops."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, NoReturn

import typer

if TYPE_CHECKING:
    from collections.abc import Iterator

    from service.desk.doorway import Caller, Stores
    from service.settings import Settings


def open_there(settings: Settings) -> Stores:
    """Return the stores of a database that is there already."""
    from service.app import open_stores
    from service.errors import Conflict
    from service.records.database import is_there

    if not is_there(settings.database_url):
        raise Conflict("There is no database yet. Run 'loambook migrate', or 'loambook restore' with an archive.")
    return open_stores(settings)


@contextmanager
def as_owner(settings: Settings) -> Iterator[Caller]:
    """Give a caller with an owner's rights: whoever may run a command here holds the database itself."""
    from secrets import token_hex

    from service.desk import keeping
    from service.desk.doorway import Caller, Role, Via
    from service.errors import Refusal

    try:
        stores = open_there(settings)
    except Refusal as refusal:
        stop(refusal.sentence)
    try:
        caller = Caller(stores=stores, via=Via.COMMAND, request_id=token_hex(8), role=Role.OWNER)
        if fault := keeping.fault(caller):
            stop(fault)
        yield caller
    finally:
        stores.read.dispose()
        stores.write.dispose()


def read_settings(**given: Any) -> Settings:
    """Return the settings of the environment but for what is given, or say which of them cannot be used."""
    from pydantic import ValidationError

    from service.settings import Settings

    try:
        return Settings(**given)
    except ValidationError as error:
        fault = error.errors()[0]
        names = ", ".join(f"LOAMBOOK_{str(part).upper()}" for part in fault["loc"][:1])
        stop(f"{names}: {fault['msg']}." if names else str(fault["ctx"]["error"]))


def stop(sentence: str) -> NoReturn:
    typer.echo(sentence, err=True)
    raise typer.Exit(1)
