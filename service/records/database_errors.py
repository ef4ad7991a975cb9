"""Which database error tells of an outage, that passes or that somebody can mend, and is no bug."""

from sqlalchemy import exc
from sqlalchemy.exc import DBAPIError, SQLAlchemyError

AWAY = "The records cannot be reached now. Send it again in a moment: it is stored only once."
FULL = "The disk of the records is full, so nothing was stored. Make room, then send it again: it is stored once."
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

# What a server, or the way to it, says to somebody who cannot be let in; the first that fits is told with its remedy.
CAUSES = (
    ("password authentication failed", "The database refuses the password of this account. Correct it in {setting}."),
    ("no password supplied", "The database asks for a password. Add it to {setting}, after the account's name."),
    ("no pg_hba.conf entry", "The database does not let this account in from this machine. Add a line to pg_hba.conf."),
    ("does not exist", "The server knows no such database or account: {said}. Correct {setting}, or make it."),
    ("connection refused", "No database server answers at this address and port. Start it, or correct {setting}."),
    ("resolve host", "This machine does not know the host in {setting}. Correct its name."),
    ("translate host", "This machine does not know the host in {setting}. Correct its name."),
    ("name or service", "This machine does not know the host in {setting}. Correct its name."),
    ("timeout", "The database server does not answer within 5 seconds. Correct the host and port in {setting}."),
    ("no route", "This machine does not reach the host in {setting}. Correct its name, or the network."),
    ("unreachable", "This machine does not reach the host in {setting}. Correct its name, or the network."),
    ("starting up", "The database server is just starting. Try again in a moment."),
    ("too many", "The database server takes no more connections. Raise its max_connections, or stop others."),
    ("unable to open database file", "The database file cannot be opened: this account may not look into its folder."),
)
SETTING = "LOAMBOOK_DATABASE_URL or LOAMBOOK_MIGRATE_URL"


def cause_of(error: SQLAlchemyError) -> str | None:
    """Return why a command cannot reach the database, and what to do; for whoever may read the settings."""
    if not isinstance(error, DBAPIError):
        return None
    said = " ".join(str(error.orig).split())
    for words, sentence in CAUSES:
        if words in said.lower():
            return sentence.format(setting=SETTING, said=said.rpartition("FATAL: ")[2].strip())
    return None


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
