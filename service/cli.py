"""The commands. Nothing of the service is imported here at the top: each command opens its own room."""

from __future__ import annotations

import json
import shutil
import socket
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from service import rescue
from service.commands import as_owner, open_there, read_settings, stop

if TYPE_CHECKING:
    from pydantic import SecretStr

    from service.desk.keeping import Chain
    from service.settings import Settings

REFUSED = 2
DEMO_MARK = "example-shop.txt"
DEMO_TOLD = "This folder holds an example shop; --fresh throws it away.\n"

app = typer.Typer(add_completion=False, no_args_is_help=True, pretty_exceptions_enable=False)
app.command()(rescue.let_in)
app.command()(rescue.reset)


@app.callback()
def loambook() -> None:
    """Carry a soil-testing job for pressed earth blocks from the sack to the issued result."""


@app.command()
def work(
    name: Annotated[str | None, typer.Argument(help="Which calculation; --list names them.")] = None,
    names: Annotated[bool, typer.Option("--list", help="Name every calculation, one a line.")] = False,
    schema: Annotated[bool, typer.Option("--schema", help="Give the JSON Schema of the input.")] = False,
) -> None:
    """Answer one calculation: JSON on standard input, JSON on standard output."""
    from service.errors import Refusal
    from service.work import answering, registry

    if names:
        typer.echo("\n".join(registry.names()))
        return
    if name is None:
        raise typer.BadParameter("Say which calculation, or ask for --list.", param_hint="NAME")
    try:
        if schema:
            _print(registry.find(name).model.model_json_schema())
        else:
            _print(answering.answer_text(name, sys.stdin.buffer.read()))
    except Refusal as refusal:
        typer.echo(json.dumps({"error": refusal.sentence, "fields": refusal.fields}), err=True)
        raise typer.Exit(REFUSED) from None


@app.command()
def serve() -> None:
    """Bring the database up to date and start the service, with settings from the environment."""
    settings = read_settings(production=True)
    _bring_up_to_date(settings)
    _answer(settings)


@app.command()
def migrate() -> None:
    """Bring the database that the environment names up to date."""
    _bring_up_to_date(read_settings())


@app.command()
def demo(
    port: Annotated[int, typer.Option(help="Where to listen on this machine.")] = 8000,
    data: Annotated[Path, typer.Option(help="The folder of its data.")] = Path("data/demo"),
    fresh: Annotated[bool, typer.Option("--fresh", help="Throw its data away first.")] = False,
) -> None:
    """Start the service with an example shop and print addresses to sign in."""
    settings = _demo_settings(port, data)
    _prepare_demo_folder(data, fresh=fresh)
    settings = settings.model_copy(update={"secret": _demo_secret(data)})
    _bring_up_to_date(settings)
    for line in _tell_demo(settings):
        typer.echo(line)
    _answer(settings)


@app.command("open")
def open_shop(
    name: Annotated[str, typer.Argument(help="What the shop is called.")],
    owner: Annotated[str, typer.Option(help="The owner's name.")],
    email: Annotated[str, typer.Option(help="The owner's e-mail address.")],
    time_zone: Annotated[str, typer.Option(help="Such as America/Denver.")] = "UTC",
    currency: Annotated[str, typer.Option(help="Three letters.")] = "USD",
    paper: Annotated[str, typer.Option(help="A4 or Letter.")] = "A4",
    units: Annotated[Literal["metric", "imperial"], typer.Option(help="Which units come first.")] = "metric",
) -> None:
    """Open an empty shop and give the address at which its owner chooses a password."""
    from secrets import token_hex, token_urlsafe

    from service.app import open_stores
    from service.desk import people
    from service.desk.doorway import Caller, ShopFacts, Via
    from service.errors import Refusal
    from service.web.authentication import sha256

    settings = read_settings()
    _bring_up_to_date(settings)
    stores = open_stores(settings)
    caller = Caller(stores=stores, via=Via.COMMAND, request_id=token_hex(8))
    facts = ShopFacts(name=name, time_zone=time_zone, currency=currency, paper=paper, units_first=units)
    token = token_urlsafe(32)
    try:
        people.open_shop(caller, facts=facts, owner_name=owner, owner_email=email, token_sha256=sha256(token))
    except Refusal as refusal:
        stop(" ".join([refusal.sentence, *(f"{name}: {text}" for name, text in refusal.fields.items())]))
    finally:
        stores.read.dispose()
        stores.write.dispose()
    typer.echo(f"{settings.address}/sign-in/{token}")


@app.command()
def trail(
    last: Annotated[int, typer.Option(min=1, max=100_000, help="How many entries.")] = 20,
    about: Annotated[str, typer.Option(help="Only of this subject: its id, or a kind such as crushing.")] = "",
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object a line.")] = False,
    verify: Annotated[bool, typer.Option("--verify", help="Follow the whole chain instead.")] = False,
) -> None:
    """Show who did what and when, or find the first entry that is not as it was written."""
    from service.desk import keeping
    from service.records.base import canonical

    with as_owner(read_settings()) as caller:
        if verify:
            _tell_chain(keeping.verify(caller))
            return
        for entry in keeping.entries(caller, last=last, about=about):
            who = " on ".join(filter(None, (entry.person or entry.via, entry.device)))
            subject = f"{entry.subject_kind} {entry.subject_id}"
            line = f"{entry.position:>6}  {entry.at:%Y-%m-%d %H:%M:%S}  {who}  {entry.act}  {subject}"
            typer.echo(canonical(entry) if as_json else line)


@app.command()
def archive(
    file: Annotated[Path, typer.Argument(help="The archive to write, or to look through.")],
    verify: Annotated[bool, typer.Option("--verify", help="Check every byte of an archive instead.")] = False,
) -> None:
    """Write the whole shop to one file while people work, or check such a file."""
    from service.desk import keeping
    from service.errors import Refusal
    from service.records import archive_format

    try:
        if verify:
            with archive_format.opened(file) as (_, manifest):
                _tell_archive(manifest.rows, len(manifest.files), manifest.missing, manifest.trail.broken_at)
            return
        with as_owner(read_settings()) as caller:
            taken = keeping.take(caller, path=file)
            keeping.note(caller, name=file.name, sha256=taken.sha256, ok=taken.is_whole)
    except Refusal as refusal:
        stop(refusal.sentence)
    except OSError as broken:
        stop(f"The archive could not be written: {broken.strerror}.")
    _tell_archive(taken.rows, taken.files, taken.missing, taken.broken_at)


@app.command()
def restore(file: Annotated[Path, typer.Argument(help="The archive.")]) -> None:
    """Put an archive into the empty database that the environment names, SQLite or PostgreSQL."""
    from service.errors import Refusal
    from service.records.archive_restore import restore as put_back
    from service.records.files import FileStore

    settings = read_settings()
    settings.data.mkdir(mode=0o700, parents=True, exist_ok=True)
    try:
        manifest = put_back(file, url=settings.migrate_url, files=FileStore(str(settings.files)))
    except Refusal as refusal:
        stop(refusal.sentence)
    _tell_archive(manifest.rows, len(manifest.files), manifest.missing, manifest.trail.broken_at)


@app.command()
def checkup() -> None:
    """Look whether everything is in order here, and say what to do where it is not."""
    from service.checkup import check_up
    from service.settings import fault_of

    settings = read_settings()
    folders = [folder for folder in (settings.data, settings.archives) if folder is not None]
    findings = check_up(
        secret_fault=fault_of(settings.secret.get_secret_value()),
        folders=folders,
        open_stores=lambda: open_there(settings),
    )
    for finding in findings:
        typer.echo(f"{'well ' if finding.ok else 'WRONG'}  {finding.what}: {finding.sentence}")
    if not all(finding.ok for finding in findings):
        raise typer.Exit(1)


def _tell_chain(chain: Chain) -> None:
    """Say that the trail is whole, or stop with the place where it is not."""
    if chain.broken_at is not None:
        stop(f"The trail is broken at entry {chain.broken_at}: it was changed, is missing or stands elsewhere.")
    typer.echo(f"The trail is whole: {chain.length} entries.")


def _tell_archive(rows: int, files: int, missing: list[str], broken_at: int | None) -> None:
    """Say what an archive holds, and stop with what it lacks."""
    typer.echo(f"{rows} rows and {files} stored files, every byte checked.")
    if missing:
        typer.echo(f"Not in it, for the store had lost them: {', '.join(missing)}.", err=True)
    if broken_at is not None:
        typer.echo(f"The trail in it was broken already, at entry {broken_at}.", err=True)
    if missing or broken_at is not None:
        raise typer.Exit(1)


def _print(answer: dict[str, Any]) -> None:
    typer.echo(json.dumps(answer, indent=2, allow_nan=False))


def _bring_up_to_date(settings: Settings) -> None:
    """Make the data folder and run the migrations that the database has not seen."""
    from service.errors import Refusal
    from service.records.database import migrate

    settings.data.mkdir(mode=0o700, parents=True, exist_ok=True)
    try:
        migrate(settings.migrate_url)
    except Refusal as refusal:
        stop(refusal.sentence)


def _demo_settings(port: int, data: Path) -> Settings:
    """Return settings that share nothing with those of a real shop but the machine."""
    nothing: dict[str, Any] = dict.fromkeys(("database_url", "migrate_url", "address"), "")
    nothing |= {"hosts": (), "proxies": (), "archives": None}
    settings = read_settings(host="127.0.0.1", port=port, data=data, metrics_token="", **nothing)
    if settings.production:
        stop(
            "The example shop lets anybody in who reads this terminal, so it does not start under LOAMBOOK_PRODUCTION."
        )
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((settings.host, port))
        except OSError:
            stop(f"Something else listens on port {port}: choose another with --port.")
    return settings


def _prepare_demo_folder(data: Path, *, fresh: bool) -> None:
    """Empty the folder if asked, or if its example shop was never finished; leave alone what is no example shop."""
    mark = data / DEMO_MARK
    if not mark.exists():
        if data.exists() and any(data.iterdir()):
            stop(f"{data} holds something else than an example shop: choose another folder with --data.")
    elif fresh or mark.read_text("utf-8") != DEMO_TOLD:
        shutil.rmtree(data)
    data.mkdir(mode=0o700, parents=True, exist_ok=True)
    if not mark.exists():
        typer.echo("Writing the example shop, which takes a moment the first time.")
        mark.write_text("An example shop is being written here.", "utf-8")


def _demo_secret(data: Path) -> SecretStr:
    """Return the example shop's own secret, drawn once, so that a second factor in it outlives a restart."""
    from secrets import token_urlsafe

    from pydantic import SecretStr

    kept = data / "secret.txt"
    if not kept.exists():
        kept.touch(mode=0o600)
        kept.write_text(token_urlsafe(32), "utf-8")
    return SecretStr(kept.read_text("utf-8"))


def _tell_demo(settings: Settings) -> list[str]:
    """Fill the example shop if it is new, and return a line for each of its people with a one-use address."""
    from datetime import UTC, datetime

    from service.app import open_stores
    from service.demo import shop

    stores = open_stores(settings)
    shop.load(stores, now=datetime.now(UTC))
    (settings.data / DEMO_MARK).write_text(DEMO_TOLD, "utf-8")
    ways_in = [f"{one.name} ({one.role})  {settings.address}/sign-in/{one.token}" for one in shop.welcomes(stores)]
    asked = f"Where a password is asked, everybody's is {shop.password(stores)}"
    stores.read.dispose()
    stores.write.dispose()
    return [
        f"The example shop is at {settings.address}. Each of these addresses lets one person in, once:",
        *ways_in,
        asked,
    ]


def _answer(settings: Settings) -> None:
    """Answer requests until somebody stops the process."""
    import uvicorn

    from service.app import create_app, server_config
    from service.web.request_log import write_json_lines

    if settings.production:
        write_json_lines()
    uvicorn.Server(server_config(settings, create_app(settings))).run()


def main() -> None:
    """Run the command that was asked for."""
    app()


if __name__ == "__main__":
    main()
