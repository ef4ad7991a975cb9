"""The commands for tables: readings and invoice lines out, older readings in."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from service.cli.installation import as_owner, quick_start, read_settings, stop, told

if TYPE_CHECKING:
    from service.paper.import_columns import Choices
    from service.paper.importing import Checked
    from service.paper.tables_read import Sheet


def export(
    file: Annotated[Path, typer.Argument(help="The file to write. Its ending says the form: .csv, .xlsx or .json.")],
    table: Annotated[str, typer.Option(help="Which table: readings or invoice-lines.")] = "readings",
    replace: Annotated[bool, typer.Option("--replace", help="Replace a file that is there already.")] = False,
) -> None:
    """Write a table of the whole shop: every reading, one row a block, or every invoice line."""
    import dataclasses

    with quick_start():
        from service.desk.results import readings_out
        from service.desk.signing_in.sessions import shop_facts
        from service.paper import exporting

    form = file.suffix.removeprefix(".").lower()
    if form not in exporting.FORMS:
        stop(f"End the file's name in one of these: {', '.join(f'.{one}' for one in exporting.FORMS)}.")
    if table not in exporting.TABLES:
        stop(f"--table is one of these: {', '.join(exporting.TABLES)}.")
    if file.exists() and not replace:
        stop(f"{file} is there already. Choose another name, or add --replace.")
    name: Any = table
    with as_owner(read_settings()) as caller, told():
        readings_out.hand_out(caller, form=form, table=name)
        try:
            caller = dataclasses.replace(caller, shop=shop_facts(caller))
            jobs = exporting.shop_to(caller, file, form=form, table=name)
        except OSError as broken:
            stop(f"{file} could not be written: {broken.strerror}.")
    of = "one row a block" if table == "readings" else "one row a line"
    typer.echo(f"{file}: {jobs} {'job' if jobs == 1 else 'jobs'}, {of}.")


def import_readings(
    file: Annotated[Path, typer.Argument(help="The table: CSV or XLSX, one row a block, heads above the columns.")],
    check: Annotated[bool, typer.Option("--check", help="Only say how it is read and what is wrong.")] = False,
    column: Annotated[
        list[str] | None,
        typer.Option("--column", help="Read something from another column, such as 'stress=Resist. 28 d'; repeat it."),
    ] = None,
    unit: Annotated[
        list[str] | None, typer.Option("--unit", help="The unit of a column, such as stress=psi; repeat it.")
    ] = None,
    same: Annotated[
        list[str] | None, typer.Option("--same", help="What holds for all rows, such as condition=soaked; repeat it.")
    ] = None,
    gauge: Annotated[str, typer.Option(help="At which gauge of the shop the gauge column was read.")] = "",
    mark: Annotated[str, typer.Option(help="The sign before decimals: point or comma. Guessed if left out.")] = "",
    days: Annotated[str, typer.Option(help="What comes first in 3/4/2021: day or month. Guessed if left out.")] = "",
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
        stop(f"{file} could not be read: {broken.strerror}.")
    with as_owner(read_settings()) as nobody, told():
        caller = replace(nobody, shop=shop_facts(nobody))
        sheet = read_table(content)
        known = {one.name: str(one.id) for one in imports.gauges(caller)}
        if gauge and gauge not in known:
            stop(f"--gauge is one of these: {'; '.join(known) or 'the shop has none yet'}.")
        choices = guessed(sheet, units=caller.shop.units_first)
        choices = _as_told(choices, sheet, column=column or [], unit=unit or [], same=same or [])
        choices = replace(choices, gauge=known.get(gauge, ""), **_signs(mark, days))
        checked = importing.check(sheet, choices)
        _tell(sheet, choices, checked)
        if checked.problems:
            number = len(checked.problems)
            stop(f"{number} {'problem' if number == 1 else 'problems'} in {checked.rows} rows: nothing was imported.")
        if not check:
            importing.take_in(caller, file_id=importing.bring(caller, name=file.name, content=content), choices=choices)
    jobs = f"{checked.jobs} {'job' if checked.jobs == 1 else 'jobs'}"
    number = len(checked.readings)
    readings = f"{number} {'reading' if number == 1 else 'readings'}"
    typer.echo(f"{readings} of {jobs} {'can be imported' if check else 'were imported'}.")


def _as_told(choices: Choices, sheet: Sheet, *, column: list[str], unit: list[str], same: list[str]) -> Choices:
    """Return how a table is read, as guessed but for what the options say."""
    from dataclasses import replace

    from service.paper.import_columns import FIELDS
    from service.words.units import offered, unit_meant

    of = dict(choices.of)
    heads = {head.casefold(): place for place, head in enumerate(sheet.head) if head}
    for name, text in _parted("--column", column):
        place = heads.get(text.casefold())
        if place is None:
            stop(f"No column is called {text}. There are: {'; '.join(filter(None, sheet.head))}.")
        # A column that is read as something else no longer says what was guessed.
        of = {key: replace(one, column=None) if one.column == place else one for key, one in of.items()}
        of[name] = replace(of[name], column=place)
    for name, text in _parted("--unit", unit):
        kind = FIELDS[name].kind
        meant = unit_meant(text, kind, units="metric") if kind else None
        if meant is None:
            units = ", ".join(offered(kind, "metric")) if kind else ""
            stop(f"{FIELDS[name].name} is in one of these: {units}." if units else f"{FIELDS[name].name} has no unit.")
        of[name] = replace(of[name], unit=meant)
    for name, text in _parted("--same", same):
        of[name] = replace(of[name], column=None, fixed=text)
    return replace(choices, of=of)


def _parted(option: str, given: list[str]) -> list[tuple[str, str]]:
    """Return what NAME=TEXT of an option names, as a field of a reading and the text."""
    from service.paper.import_columns import FIELDS

    names = {field.name.casefold().replace(" ", "-"): key for key, field in FIELDS.items()}
    found = []
    for one in given:
        name, equals, text = one.partition("=")
        key = names.get(name.strip().casefold().replace(" ", "-"))
        if key is None or not equals:
            stop(f"{option} is NAME=TEXT, where NAME is one of these: {', '.join(names)}.")
        found.append((key, text.strip()))
    return found


def _signs(mark: str, days: str) -> dict[str, Any]:
    """Return the sign before decimals and what comes first in a day, where they were told."""
    marks = {"": None, "point": ".", "comma": ",", ".": ".", ",": ","}
    if mark not in marks:
        stop("--mark is point or comma.")
    if days not in ("", "day", "month"):
        stop("--days is day or month.")
    return {name: one for name, one in (("mark", marks[mark]), ("order", days)) if one}


def _tell(sheet: Sheet, choices: Choices, checked: Checked) -> None:
    """Say on standard error how the columns are read, what is not read, and everything that is wrong."""
    from service.paper.import_columns import FIELDS

    for name, choice in choices.of.items():
        if choice.column is not None:
            unit = f", in {choice.unit}" if choice.unit else ""
            typer.echo(f"{FIELDS[name].name}: column “{sheet.head[choice.column]}”{unit}", err=True)
        elif choice.fixed:
            typer.echo(f"{FIELDS[name].name}: {choice.fixed} in all rows", err=True)
    read = {choice.column for choice in choices.of.values()}
    left = [head for place, head in enumerate(sheet.head) if head and place not in read]
    if left:
        typer.echo(f"Not read: {'; '.join(left)}", err=True)
    for one in checked.problems:
        where = ", ".join(filter(None, (f"row {one.row}" if one.row else "", one.head)))
        said = f" “{one.cell}”" if one.cell else ""
        typer.echo(f"{where}{said}: {one.sentence}" if where else one.sentence, err=True)
