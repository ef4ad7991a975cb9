"""Tables as files: readings of one job or of the whole shop, and invoice lines; a few jobs at a time."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import IO, Any, Literal
from uuid import UUID

from service.desk import invoices
from service.desk.doorway import Caller, ShopFacts
from service.desk.results import readings_out
from service.desk.results.readings_out import JobReadings
from service.paper import invoice_table, readings_table
from service.paper.tables import Cell, Column, csv_pieces, json_pieces
from service.words.sentences import table_words

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
FORMS = {"csv": "text/csv; charset=utf-8", "xlsx": XLSX, "json": "application/json"}
Name = Literal["readings", "invoice-lines"]
TABLES: tuple[Name, ...] = ("readings", "invoice-lines")


def job_to(caller: Caller, to: IO[bytes], *, job_id: UUID, form: str) -> JobReadings:
    """Write the readings of a job and return what was written."""
    job = readings_out.of_job(caller, job_id=job_id)
    write(to, [job], caller.shop, form=form)
    return job


def shop_to(caller: Caller, to: Path, *, form: str, table: Name = "readings") -> int:
    """Write all readings or invoice lines of the shop to a file and return how many jobs there are."""
    written = 0

    def counted(jobs: Iterable[Any]) -> Iterator[Any]:
        nonlocal written
        for job in jobs:
            written += 1
            yield job

    shop = caller.shop
    with to.open("wb") as file:
        if table == "readings":
            write(file, counted(_every_job(caller)), shop, form=form)
        else:
            rows = invoice_table.rows(counted(_every_charged(caller)))
            _write(file, table, invoice_table.columns(shop), rows, shop, form=form)
    return written


def write(
    to: IO[bytes],
    jobs: Iterable[Any],
    shop: ShopFacts,
    *,
    form: str,
    language: str = "en",
    more: dict[str, object] | None = None,
) -> None:
    """Write the readings of jobs in one of the forms; the same rows in each. ``more`` is told to a program beside."""
    made = readings_table.rows(jobs, shop, language=language)
    _write(to, "readings", readings_table.columns(shop), made, shop, form=form, language=language, more=more)


def _write(
    to: IO[bytes],
    name: Name,
    columns: Sequence[Column],
    rows: Iterable[Sequence[Cell]],
    shop: ShopFacts,
    *,
    form: str,
    language: str = "en",
    more: dict[str, object] | None = None,
) -> None:
    words = table_words(language)
    head = [column.head(words) for column in columns]
    if form == "xlsx":
        # Loaded when a workbook is written: few requests need it.
        from service.paper.workbooks import write_xlsx

        write_xlsx(to, name, head, rows)
        return
    facts, keys = {**_facts(shop, columns), **(more or {})}, [column.key for column in columns]
    pieces = csv_pieces(head, rows) if form == "csv" else json_pieces(facts, name.replace("-", "_"), keys, rows)
    for piece in pieces:
        to.write(piece.encode())


def _facts(shop: ShopFacts, columns: Sequence[Column]) -> dict[str, object]:
    """Return what a program has to know of the rows: the zone of their moments and the unit of each figure."""
    named = [
        {"key": column.key, "name": column.name, "unit": column.unit or None, "time_zone": column.zone or None}
        for column in columns
    ]
    return {"shop": shop.name, "time_zone": shop.time_zone, "units_first": shop.units_first, "columns": named}


def _every_job(caller: Caller) -> Iterator[JobReadings]:
    yield from _by_number(lambda number: readings_out.after(caller, number=number))
    for file_id in readings_out.imported(caller):
        yield from readings_out.of_file(caller, file_id=file_id)


def _every_charged(caller: Caller) -> Iterator[invoices.ChargedJob]:
    return _by_number(lambda number: invoices.after(caller, number=number))


def _by_number(after: Callable[[int], Sequence[Any]]) -> Iterator[Any]:
    number = 0
    while found := after(number):
        yield from found
        number = int(found[-1].number)
