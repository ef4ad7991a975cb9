"""How often somebody may try at a door, counted in the database for all replicas."""

from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import ANYONE, EVERYONE, Caller, Done, act
from service.desk.signing_in._factors import digest
from service.desk.signing_in.lifetimes_and_tries import MOST_COSTLY, MOST_TRIES
from service.errors import TooMany
from service.records import rate_limit


@act("attempt.note", by=ANYONE, replayed=False, trailed=False, unfinished=True)
def note_attempt(session: Session, caller: Caller, *, door: str, who: str, source: str, known: str = "") -> Done:
    """Note a try at a door, and refuse one too many; only digests of who tried are kept.

    ``known`` is a browser at which this person came in before: it counts by itself, so that others' guesses do not
    keep the person out.
    """
    now = caller.stores.clock()
    counted = (("known", f"{who} {known}"),) if known else (("email", who), ("from", source))
    buckets = {kind: digest(f"{door} {kind} {value}") for kind, value in counted if value}
    rate_limit.forget_before(session, now - rate_limit.REMEMBERED)
    rate_limit.wait_turn(session, buckets.values())
    for kind, bucket in buckets.items():
        if rate_limit.attempts_of_late(session, bucket=bucket, at=now) >= MOST_TRIES[kind]:
            raise TooMany("Too many tries. Wait 15 minutes, or ask the shop for a sign-in link.")
    session.add_all(rate_limit.Attempt(bucket=bucket, at=now) for bucket in buckets.values())
    return Done("attempt", UUID(int=0))


@act("attempt.note_costly", by=EVERYONE, replayed=False, trailed=False)
def note_costly(session: Session, caller: Caller, *, kind: str) -> Done:
    """Note that somebody asks for something that takes long, and refuse one too many."""
    now, bucket = caller.stores.clock(), digest(f"costly {kind} {caller.caller_key}")
    rate_limit.wait_turn(session, (bucket,))
    before = rate_limit.attempts_of_late(session, bucket=bucket, at=now)
    if before >= MOST_COSTLY[kind]:
        raise TooMany("Too many in 15 minutes. Wait a little, then go on.")
    if not before:
        rate_limit.forget_before(session, now - rate_limit.REMEMBERED)
    session.add(rate_limit.Attempt(bucket=bucket, at=now))
    return Done("attempt", UUID(int=0))
