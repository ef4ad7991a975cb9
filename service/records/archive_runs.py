"""Whose turn it is among replicas, and when the shop was last archived."""

from datetime import datetime

from sqlalchemy import or_
from sqlmodel import Field, Session, col, select

from service.records.base import CLOCKS_DIFFER_BY, Row, Sha256, Table, not_blank, now


class Turn(Table, table=True):
    """A piece of work that one replica at a time may do."""

    __table_args__ = (*not_blank("name", "holder"),)

    name: str = Field(primary_key=True)
    created_at: datetime = Field(default_factory=now)
    held_until: datetime
    holder: str


class ArchiveRun(Row, table=True):
    """One archive made, good or not."""

    at: datetime
    path: str
    sha256: str | None = Field(default=None, sa_type=Sha256)
    ok: bool


def take_turn(session: Session, *, name: str, holder: str, at: datetime, until: datetime) -> bool:
    """Hold a turn unless somebody holds it still, in one statement, and say whether it was got.

    A turn held for longer than anybody could hold one from now on was taken by a clock that ran ahead: it is free.
    """
    # The start would load the larger dialect for nothing.
    from sqlalchemy.dialects import postgresql, sqlite

    insert = (postgresql if session.get_bind().dialect.name == "postgresql" else sqlite).insert(Turn)
    taken = insert.values(name=name, created_at=at, held_until=until, holder=holder).on_conflict_do_update(
        index_elements=["name"],
        set_={"held_until": until, "holder": holder},
        where=or_(col(Turn.held_until) <= at, col(Turn.held_until) > until + CLOCKS_DIFFER_BY),
    )
    return session.connection().execute(taken.returning(col(Turn.name))).first() is not None


def turn_is_held(session: Session, *, name: str, at: datetime) -> bool:
    """Return whether somebody holds a turn now."""
    turn = session.get(Turn, name)
    return turn is not None and turn.held_until > at


def last_good_run(session: Session, *, at: datetime) -> ArchiveRun | None:
    """Return the newest archive that holds everything; one dated in the future counts as none."""
    good = select(ArchiveRun).where(col(ArchiveRun.ok), col(ArchiveRun.at) <= at + CLOCKS_DIFFER_BY)
    return session.exec(good.order_by(col(ArchiveRun.at).desc()).limit(1)).one_or_none()


def newest_runs(session: Session, *, limit: int) -> list[ArchiveRun]:
    """Return archives made, newest first."""
    return list(session.exec(select(ArchiveRun).order_by(col(ArchiveRun.at).desc()).limit(limit)))


def run_of_file(session: Session, path: str) -> ArchiveRun | None:
    """Return the run that left the archive of this name."""
    question = select(ArchiveRun).where(ArchiveRun.path == path).order_by(col(ArchiveRun.at).desc()).limit(1)
    return session.exec(question).one_or_none()
