"""Which uniqueness clash an integrity error tells of, if it is one that honest people can cause."""

from enum import Enum

from sqlalchemy.exc import IntegrityError


class Clash(Enum):
    """The two clashes that are answers and not bugs."""

    REPLAY = "the same request came twice at once"
    STANDING = "two people recorded the same thing at once"


def clash_of(error: IntegrityError) -> Clash | None:
    """Return the clash behind ``error``; None means a bug that belongs in the log."""
    diagnosis = getattr(error.orig, "diag", None)
    # PostgreSQL names the constraint; SQLite names the columns of the table.
    what = diagnosis.constraint_name or "" if diagnosis is not None else str(error.orig)
    if "uq_replay" in what or "UNIQUE constraint failed: replay." in what:
        return Clash.REPLAY
    if "uq_issued_result" in what or "UNIQUE constraint failed: issued_result." in what:
        return Clash.STANDING
    # Two jobs opened at once take the same number, two sacks the same proposed label; the second looks again.
    if "uq_job_number" in what or "uq_receipt_label" in what:
        return Clash.STANDING
    if "standing" in what or "UNIQUE constraint failed: trail." in what:
        return Clash.STANDING
    return Clash.STANDING if what.startswith("UNIQUE constraint failed: crushing.block_id") else None
