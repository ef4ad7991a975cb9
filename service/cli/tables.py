"""The commands for tables: readings out, and older ones in."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from service.cli.installation import as_owner, read_settings, stop, told

if TYPE_CHECKING:
    from service.paper.import_columns import Choices
    from service.paper.importing import Checked
    from service.paper.tables_read import Sheet


def export(
    file: Annotated[Path, typer.Argument(help="The file to write: its ending .csv, .xlsx or .json says the form.")],
) -> None:
    """Write every reading of the shop to one table, one row a block."""
    from dataclasses import replace

    from service.desk.results import readings_out
    from service.desk.signing_in.sessions import shop_facts
    from service.paper import exporting

    form = file.suffix.removeprefix(".").lower()
    if form not in exporting.FORMS:
        stop(f"Let the file end in one of these: {', '.join(f'.{one}' for one in exporting.FORMS)}.")
    with as_owner(read_settings()) as caller, told():
        readings_out.hand_out(caller, form=form)
        try:
            jobs = exporting.shop_to(replace(caller, shop=shop_facts(caller)), file, form=form)
        except OSError as broken:
            stop(f"The file could not be written: {broken.strerror}.")
    typer.echo(f"{jobs} {'job' if jobs == 1 else 'jobs'}, one row a block.")


def import_readings(
    file: Annotated[Path, typer.Argument(help="The table: CSV or XLSX, one row a block.")],
    same: Annotated[
        list[str] | None, typer.Option("--same", help="What holds for all rows, such as condition=soaked; repeat it.")
    ] = None,
    gauge: Annotated[str, typer.Option(help="At which gauge of the shop the gauge column was read.")] = "",
    check: Annotated[bool, typer.Option("--check", help="Only say how it is read and what is wrong.")] = False,
) -> None:
    """Take in readings of older jobs from a table: all of them, or none where something is wrong."""
    from dataclasses import replace

    from service.desk import imports
    from service.desk.signing_in.sessions import shop_facts
    from service.paper import importing
    from service.paper.import_columns import guessed
    from service.paper.tables_read import read_table

    try:
        content = file.read_bytes()
    except OSError as broken:
        stop(f"The file could not be read: {broken.strerror}.")
    with as_owner(read_settings()) as nobody, told():
        caller = replace(nobody, shop=shop_facts(nobody))
        sheet = read_table(content)
        known = {one.name: str(one.id) for one in imports.gauges(caller)}
        if gauge and gauge not in known:
            stop(f"Name one of these gauges: {'; '.join(known) or 'there is none'}.")
        choices = replace(
            _with_same(guessed(sheet, units=caller.shop.units_first), same or []), gauge=known.get(gauge, "")
        )
        checked = importing.check(sheet, choices)
        _tell(sheet, choices, checked)
        if checked.problems:
            stop(f"{len(checked.problems)} problems in {checked.rows} rows: nothing was imported.")
        if not check:
            importing.take_in(caller, file_id=importing.bring(caller, name=file.name, content=content), choices=choices)
    jobs = f"{checked.jobs} {'job' if checked.jobs == 1 else 'jobs'}"
    typer.echo(f"{len(checked.readings)} readings of {jobs} {'can be imported' if check else 'were imported'}.")


def _with_same(choices: Choices, same: list[str]) -> Choices:
    from dataclasses import replace

    of = dict(choices.of)
    for one in same:
        name, _, text = one.partition("=")
        if name not in of:
            stop(f"--same names one of these: {', '.join(of)}.")
        of[name] = replace(of[name], fixed=text)
    return replace(choices, of=of)


def _tell(sheet: Sheet, choices: Choices, checked: Checked) -> None:
    """Say on standard error how the columns are read, and everything that is wrong."""
    from service.paper.import_columns import FIELDS

    for name, choice in choices.of.items():
        if choice.column is not None:
            unit = f" in {choice.unit}" if choice.unit else ""
            typer.echo(f"{FIELDS[name].name}: column \u201c{sheet.head[choice.column]}\u201d{unit}", err=True)
    for one in checked.problems:
        where = f"row {one.row}, {one.head}" if one.row else one.head
        typer.echo(f"{where}: {one.cell + ': ' if one.cell else ''}{one.sentence}", err=True)
