"""What commands share: settings, a database that is there, a caller, and a stop that says why."""

from __future__ import annotations

import errno
import gc
import socket
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, NoReturn

import typer

if TYPE_CHECKING:
    from collections.abc import Iterator

    from service.desk.doorway import Caller, Stores
    from service.settings import Settings


def stop(sentence: str) -> NoReturn:
    """Say why nothing more is done, and end."""
    typer.echo(sentence, err=True)
    raise typer.Exit(1)


@contextmanager
def quick_start() -> Iterator[None]:
    """Load without looking for garbage: nothing that is loaded now is ever thrown away."""
    gc.disable()
    try:
        yield
        gc.freeze()
    finally:
        gc.enable()


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
    except PermissionError as error:
        stop(f"This account may not look into {error.filename}: run this as the one that runs the service.")


def make_folder(settings: Settings) -> None:
    """Make the data folder, for this account alone."""
    try:
        settings.data.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        stop(
            f"The data folder {settings.data.resolve()} cannot be made: {error.strerror}. "
            "Let LOAMBOOK_DATA name a folder of this account."
        )


def bring_up_to_date(settings: Settings) -> None:
    """Make the data folder and run the migrations that the database has not seen."""
    from service.records.database import migrate

    make_folder(settings)
    with told():
        migrate(settings.migrate_url)


@contextmanager
def told() -> Iterator[None]:
    """Stop with the sentence of a refusal."""
    from service.errors import Refusal

    try:
        yield
    except Refusal as refusal:
        stop(" ".join([refusal.sentence, *(f"{name}: {text}" for name, text in refusal.fields.items())]))


def open_stores_there(settings: Settings) -> Stores:
    """Return the stores of a database that is there already."""
    from service.app import open_stores
    from service.errors import Conflict, Unavailable
    from service.records.database import is_there, reach

    try:
        there = is_there(settings.database_url)
    except OSError as error:
        raise Unavailable(f"This account may not look into {settings.data.resolve()}: {error.strerror}.") from None
    if not there:
        raise Conflict(
            f"There is no database in {settings.data.resolve()}. Run 'loambook open' to open a shop, "
            "'loambook restore' with an archive, or let LOAMBOOK_DATA name the folder of the shop."
        )
    reach(settings.database_url)
    return open_stores(settings)


@contextmanager
def as_owner(settings: Settings) -> Iterator[Caller]:
    """Give a caller with an owner's rights: whoever may run a command here holds the database itself."""
    from secrets import token_hex

    from service.desk import backups
    from service.desk.doorway import Caller, Role, Via

    with told():
        stores = open_stores_there(settings)
    try:
        caller = Caller(stores=stores, via=Via.COMMAND, request_id=token_hex(8), role=Role.OWNER)
        if fault := backups.fault(caller):
            stop(fault)
        yield caller
    finally:
        stores.read.dispose()
        stores.write.dispose()


def claim(settings: Settings, *, remedy: str) -> None:
    """Stop with a sentence where the service could not listen."""
    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    with socket.socket(family) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((settings.host, settings.port))
        except PermissionError:
            stop(f"This account may not listen on port {settings.port}: choose one above 1023 with {remedy}.")
        except socket.gaierror:
            stop(f"LOAMBOOK_HOST: {settings.host} is no address of this machine.")
        except OSError as error:
            if error.errno == errno.EADDRINUSE:
                stop(f"Something else listens on port {settings.port}: choose another with {remedy}.")
            stop(f"LOAMBOOK_HOST: {settings.host} is no address of this machine.")


def answer(settings: Settings, stores: Stores) -> None:
    """Answer requests until somebody stops the process."""
    with quick_start():
        import uvicorn

        from service.app import create_app, server_config
        from service.web.request_log import write_json_lines

        if settings.production:
            write_json_lines()
        server = uvicorn.Server(server_config(settings, create_app(settings, stores)))
    server.run()


def answer_together(settings: Settings, *, workers: int) -> None:
    """Answer requests from several processes at one address until somebody stops this one, which looks after them."""
    from uvicorn.supervisors import Multiprocess

    from service.app import server_config
    from service.web.request_log import write_json_lines

    write_json_lines()
    config = server_config(settings, "service.app:create_worker", workers=workers)
    Multiprocess(config, sockets=[config.bind_socket()]).run()
