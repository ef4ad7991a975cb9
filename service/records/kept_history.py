"""What all jobs taught when they were last fitted together, kept so that every process sees it; one row, the newest."""

from sqlmodel import Field, Session, col, delete, select

from service.records.audit_log import Trail
from service.records.base import Row, Sha256, not_blank, not_negative


class KeptHistory(Row, table=True):
    """Where the trail ended then, by which engine, where the priors stood, and what each job came to there."""

    __table_args__ = (*not_negative("trail_position"), *not_blank("engine", "about", "jobs"))

    trail_position: int
    trail_sha256: str = Field(sa_type=Sha256)
    engine: str
    about: str
    jobs: str


def kept(session: Session) -> KeptHistory | None:
    """Return what was kept last, where the trail is still the one of that time."""
    same = (col(Trail.position) == col(KeptHistory.trail_position)) & (
        col(Trail.sha256) == col(KeptHistory.trail_sha256)
    )
    question = select(KeptHistory).join(Trail, same).order_by(col(KeptHistory.created_at).desc()).limit(1)
    return session.exec(question).one_or_none()


def keep(session: Session, row: KeptHistory) -> None:
    """Let a row take the place of what was kept before."""
    session.execute(delete(KeptHistory))
    session.add(row)
    session.flush()
