"""Which database error tells of an outage, that passes or that somebody can mend, and is no bug."""

from sqlalchemy import exc
from sqlalchemy.exc import DBAPIError, SQLAlchemyError

AWAY = "The records cannot be reached just now. Send it again in a moment: it is stored once, however often it is sent."
FULL = "The disk of the records is full, so nothing was stored. Have room made, then send it again: it is stored once."
CLOSED = (
    "The records cannot be written to: their disk, folder or file is closed to this account. "
    "What is there can still be read. Have it opened, then send it again: it is stored once."
)

ON_SQLITE = ("SQLITE_BUSY", "SQLITE_IOERR", "SQLITE_CANTOPEN")
# A disk that turned read-only fails each call that writes, and a file opened meanwhile is open for reading alone.
CLOSED_ON_SQLITE = ("SQLITE_READONLY", *(f"SQLITE_IOERR_{call}" for call in ("WRITE", "FSYNC", "TRUNCATE", "DELETE")))
# PostgreSQL's classes of connections, of resources used up, of a server that stops or starts, and of its own disk.
ON_POSTGRESQL = ("08", "53", "57P", "58030")
# A server that only repeats another, and an account or a disk without the right to write.
CLOSED_ON_POSTGRESQL = ("25006", "42501")
# What psycopg raises itself, before a server has said anything.
LOST = ("OperationalError", "ConnectionTimeout")


def outage_of(error: SQLAlchemyError, *, writing: bool = False) -> str | None:
    """Return the sentence for whoever asked; None means a bug that belongs in the log."""
    # Every connection of the pool was in use for longer than anybody should wait.
    if isinstance(error, exc.TimeoutError):
        return AWAY
    if not isinstance(error, DBAPIError):
        return None
    on_sqlite = getattr(error.orig, "sqlite_errorname", None) or ""
    on_postgresql = getattr(error.orig, "sqlstate", None) or ""
    if on_sqlite == "SQLITE_FULL" or on_postgresql == "53100":
        return FULL
    # What only reads is forbidden to write by ourselves: there it means a bug.
    if writing and (on_sqlite.startswith(CLOSED_ON_SQLITE) or on_postgresql in CLOSED_ON_POSTGRESQL):
        return CLOSED
    lost = error.connection_invalidated or (hasattr(error.orig, "sqlstate") and type(error.orig).__name__ in LOST)
    return AWAY if lost or on_sqlite.startswith(ON_SQLITE) or on_postgresql.startswith(ON_POSTGRESQL) else None
