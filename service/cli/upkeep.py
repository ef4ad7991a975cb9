"""The commands for upkeep: check-up, archive, restore and log."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from service.cli.installation import as_owner, make_folder, open_stores_there, read_settings, stop, told
from service.cli.progress import progress

if TYPE_CHECKING:
    from service.desk.backups import Chain


def log(
    last: Annotated[int, typer.Option(min=1, max=100_000, help="How many entries.")] = 20,
    about: Annotated[str, typer.Option(help="Only this subject: its id, or a kind such as crushing.")] = "",
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object a line.")] = False,
    verify: Annotated[bool, typer.Option("--verify", help="Check that no entry was changed.")] = False,
) -> None:
    """Show the log: who did what and when."""
    from service.desk import backups
    from service.records.base import canonical

    with as_owner(read_settings()) as caller:
        if verify:
            with progress() as told_of:
                chain = backups.verify(caller, told=told_of)
            _tell_chain(chain)
            return
        for entry in backups.entries(caller, last=last, about=about):
            who = " on ".join(filter(None, (entry.person or entry.via, entry.device)))
            subject = f"{entry.subject_kind} {entry.subject_id}"
            line = f"{entry.position:>6}  {entry.at:%Y-%m-%d %H:%M:%S}  {who}  {entry.act}  {subject}"
            typer.echo(canonical(entry) if as_json else line)


def archive(
    file: Annotated[Path, typer.Argument(help="The archive to write, or to check.")],
    verify: Annotated[bool, typer.Option("--verify", help="Check every byte of an archive instead.")] = False,
) -> None:
    """Write the whole shop to one file while people work, or check such a file."""
    from service.desk import backups
    from service.records import archive_file

    try:
        with told():
            if verify:
                with progress() as told_of, archive_file.opened(file, told=told_of) as (_, manifest):
                    pass
                _tell_archive(manifest.rows, len(manifest.files), manifest.missing, manifest.trail.broken_at)
                return
            with as_owner(read_settings()) as caller:
                with progress() as told_of:
                    taken = backups.take(caller, path=file, told=told_of)
                backups.note(caller, name=file.name, sha256=taken.sha256, ok=taken.is_whole)
    except OSError as broken:
        stop(f"The archive could not be written: {broken.strerror}.")
    _tell_archive(taken.rows, taken.files, taken.missing, taken.broken_at)


def restore(file: Annotated[Path, typer.Argument(help="The archive.")]) -> None:
    """Put an archive into an empty database, SQLite or PostgreSQL."""
    from service.records.archive_restore import restore as put_back
    from service.records.database import outages_told, rights_told
    from service.records.files import FileStore

    settings = read_settings()
    make_folder(settings)
    with told(), outages_told(), rights_told(), progress() as told_of:
        manifest = put_back(file, url=settings.migrate_url, files=FileStore(str(settings.files)), told=told_of)
    _tell_archive(manifest.rows, len(manifest.files), manifest.missing, manifest.trail.broken_at)


def checkup() -> None:
    """Check the installation and say what to do about each fault."""
    from service.checkup import check_up
    from service.settings import fault_of

    settings = read_settings()
    folders = [folder.resolve() for folder in (settings.data, settings.archives) if folder is not None]
    findings = check_up(
        secret_fault=fault_of(settings.secret.get_secret_value()),
        secret_file=settings.own_secret_file,
        folders=folders,
        open_stores=lambda: open_stores_there(settings),
    )
    for finding in findings:
        typer.echo(f"{'well ' if finding.ok else 'WRONG'}  {finding.what}: {finding.sentence}")
    if not all(finding.ok for finding in findings):
        raise typer.Exit(1)


def mail(
    to: Annotated[str, typer.Option("--try", help="Send one test mail to this address instead.")] = "",
) -> None:
    """Send the mail that is due, once; 'serve' does so by itself."""
    from service import mail_sending

    settings = read_settings()
    server = settings.mail_server
    if server is None:
        stop("E-mail is not set up: set LOAMBOOK_SMTP_HOST and LOAMBOOK_SMTP_FROM.")
    with as_owner(settings) as caller:
        if to:
            fault = mail_sending.fault_of(server, to=to)
            if fault:
                stop(f"{server.host}:{server.port} did not take it: {fault}")
            typer.echo(f"{server.host}:{server.port} took a test mail to {to}.")
            return
        sent = mail_sending.send_due(caller.stores, server)
    typer.echo("1 mail was sent." if sent == 1 else f"{sent} mails were sent.")


def _tell_chain(chain: Chain) -> None:
    """Say that the trail is whole, or stop with the place where it is not."""
    if chain.broken_at is not None:
        stop(f"The log was altered at entry {chain.broken_at}: it was changed, moved or is missing.")
    typer.echo(f"The log is unaltered: {chain.length} entries.")


def _tell_archive(rows: int, files: int, missing: list[str], broken_at: int | None) -> None:
    """Say what an archive holds, and stop with what it lacks."""
    typer.echo(f"{rows} rows and {files} stored files, every byte checked.")
    if missing:
        typer.echo(f"Missing, because the store had lost them: {', '.join(missing)}.", err=True)
    if broken_at is not None:
        typer.echo(f"Its log was altered already, at entry {broken_at}.", err=True)
    if missing or broken_at is not None:
        raise typer.Exit(1)
