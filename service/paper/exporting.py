"""Readings as a file: of one job, or of the whole shop, a few jobs at a time."""

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import IO, Any
from uuid import UUID

from service.desk.doorway import Caller, ShopFacts
from service.desk.results import readings_out
from service.desk.results.readings_out import JobReadings
from service.paper.readings_table import columns, heads, rows
from service.paper.tables import csv_pieces, json_pieces, write_xlsx

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
FORMS = {"csv": "text/csv; charset=utf-8", "xlsx": XLSX, "json": "application/json"}


def job_to(caller: Caller, to: IO[bytes], *, job_id: UUID, form: str) -> JobReadings:
    """Write the readings of a job and return what was written."""
    job = readings_out.of_job(caller, job_id=job_id)
    write(to, [job], caller.shop, form=form)
    return job


def shop_to(caller: Caller, to: Path, *, form: str) -> int:
    """Write all readings of the shop to a file and return how many jobs there are."""
    written = 0

    def counted() -> Iterator[JobReadings]:
        nonlocal written
        for job in _every_job(caller):
            written += 1
            yield job

    with to.open("wb") as file:
        write(file, counted(), caller.shop, form=form)
    return written


def write(to: IO[bytes], jobs: Iterable[Any], shop: ShopFacts, *, form: str, language: str = "en") -> None:
    """Write the readings of jobs in one of the forms; the same rows in each."""
    made, head = rows(jobs, shop, language=language), heads(shop, language=language)
    if form == "xlsx":
        write_xlsx(to, "readings", head, made)
        return
    for piece in csv_pieces(head, made) if form == "csv" else json_pieces(_facts(shop), _keys(shop), made):
        to.write(piece.encode())


def _facts(shop: ShopFacts) -> dict[str, object]:
    """Return what a program has to know of the rows: the zone of their moments and the unit of each figure."""
    named = [
        {"key": column.key, "name": column.name, "unit": column.unit or None, "time_zone": column.zone or None}
        for column in columns(shop)
    ]
    return {"shop": shop.name, "time_zone": shop.time_zone, "units_first": shop.units_first, "columns": named}


def _keys(shop: ShopFacts) -> list[str]:
    return [column.key for column in columns(shop)]


def _every_job(caller: Caller) -> Iterator[JobReadings]:
    number = 0
    while found := readings_out.after(caller, number=number):
        yield from found
        number = int(found[-1].number)
    for file_id in readings_out.imported(caller):
        yield from readings_out.of_file(caller, file_id=file_id)
