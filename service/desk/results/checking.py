"""Whether a printed paper is one that this shop issued, and whether it still counts: for anybody who holds one."""

from dataclasses import dataclass
from datetime import date
from typing import Literal
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.desk.doorway import ANYONE, Caller, look
from service.errors import NotFound
from service.records import results
from service.records import shop as shops
from service.records.results import IssuedResult
from service.shop_clock import ShopClock

# As many of the 64 signs of a digest as tell papers apart and a person still types.
LEAST_SIGNS = 12
NO_SUCH = "This is not a paper of this shop, or a sign of it is mistyped."


@dataclass(frozen=True)
class Checked:
    """What may be told to whoever holds a paper: nothing of whose soil it is."""

    shop: str
    job_number: int
    number: int
    issued_on: date
    language: str
    data_sha256: str
    pdf_sha256: str
    state: Literal["counts", "amended", "withdrawn"]
    newest: int | None
    withdrawn_on: date | None
    withdrawn_because: str | None
    whom_to_call: str


@look("result.check", by=ANYONE)
def check(session: Session, caller: Caller, *, issued_id: UUID) -> Checked:
    """Return what a paper is, by the id in its square."""
    found = session.get(IssuedResult, issued_id)
    if found is None:
        raise NotFound(NO_SUCH)
    return _checked(session, caller, found)


@look("result.check_number", by=ANYONE)
def check_number(session: Session, caller: Caller, *, job_number: int, number: int, sha256: str) -> Checked:
    """Return what a paper is, by its number and the first signs of the digest that is printed on it."""
    found = results.by_number(session, job_number=job_number, number=number)
    signs = sha256.strip().lower().replace(" ", "")
    told = found is not None and len(signs) >= LEAST_SIGNS
    if found is None or not told or not found.data_sha256.startswith(signs):
        raise NotFound(NO_SUCH)
    return _checked(session, caller, found)


def _checked(session: Session, caller: Caller, found: IssuedResult) -> Checked:
    kept = shops.shop(session)
    # Whoever holds a paper has signed in nowhere, so that the shop's clock is asked of the shop itself.
    clock = ShopClock(caller.stores.clock(), ZoneInfo(kept.time_zone if kept else caller.shop.time_zone))
    of_job = results.issued_of_job(session, found.job_id)
    newest = next((one for one in of_job if one.withdrawn_at is None), None)
    counts = newest is not None and newest.id == found.id
    return Checked(
        shop=kept.name if kept else caller.shop.name,
        job_number=results.job_number(session, found.job_id),
        number=found.number,
        issued_on=clock.day(found.issued_at),
        language=found.language,
        data_sha256=found.data_sha256,
        pdf_sha256=found.pdf_sha256,
        state="withdrawn" if found.withdrawn_at else "counts" if counts else "amended",
        newest=newest.number if newest else None,
        withdrawn_on=clock.day(found.withdrawn_at) if found.withdrawn_at else None,
        withdrawn_because=found.withdrawn_because,
        whom_to_call=kept.whom_to_call if kept else "",
    )
