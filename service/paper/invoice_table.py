"""Invoice lines as rows, one a line; a job that has no price yet has one row without."""

from collections.abc import Iterable, Iterator

from service.desk.doorway import ShopFacts
from service.desk.invoices import ChargedJob
from service.paper.tables import Cell, Column


def columns(shop: ShopFacts) -> tuple[Column, ...]:
    """Return the columns of the table."""
    return (
        *(Column("job"), Column("customer"), Column("site"), Column("first result on")),
        *(Column("sacks"), Column("recipes"), Column("blocks pressed"), Column("blocks crushed")),
        *(Column("blocks in other tests"), Column("line"), Column("offer accepted on")),
        *(Column("price", shop.currency), Column("paid on")),
    )


def rows(jobs: Iterable[ChargedJob]) -> Iterator[tuple[Cell, ...]]:
    """Yield one row a line, job by job."""
    for one in jobs:
        head: tuple[Cell, ...] = (one.number, one.customer, one.site, one.issued_on)
        head = (*head, one.sacks, one.recipes, one.blocks, one.crushed, one.other_tests)
        for line in one.lines:
            yield (*head, line.words, line.accepted_on, float(line.price), one.paid_on)
        if not one.lines:
            yield (*head, None, None, None, one.paid_on)
