"""Let the database itself refuse to change what was read, written down or issued."""

import sqlalchemy as sa
from alembic import op

revision = "0018"
down_revision = "0017"
branch_labels = None
depends_on = None

ENDING = ("ended_at", "ended_by", "ended_because")

# Each table with the columns that may still be filled; no row of them is ever deleted.
FROZEN = {
    "trail": (),
    "correction": (),
    "issued_result": ("withdrawn_at", "withdrawn_because"),
    "issued_calibration": (),
    "calibration": (),
    "calibration_point": (),
    "crushing": ENDING,
    "preparation": ENDING,
    "moisture_can": ENDING,
    "soil_test": ENDING,
    "sieve_test": (),
    "sieve_reading": (),
    "flow_reading": (),
    "thread_reading": (),
    "shrinkage_test": (),
    "soil_sign": (),
}

GUARD = """
CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF TG_OP = 'UPDATE' AND to_jsonb(NEW) - TG_ARGV = to_jsonb(OLD) - TG_ARGV THEN
        RETURN NEW;
    END IF;
    RAISE EXCEPTION '% is never changed', TG_TABLE_NAME USING ERRCODE = 'integrity_constraint_violation';
END
$$
"""


def upgrade() -> None:
    if op.get_bind().dialect.name == "postgresql":
        op.execute(GUARD)
        for table, open_columns in FROZEN.items():
            guard_on_postgresql(table, open_columns)
    else:
        for table, open_columns in FROZEN.items():
            guard_on_sqlite(table, open_columns)


def guard_on_postgresql(table: str, open_columns: tuple[str, ...]) -> None:
    names = ", ".join(f"'{column}'" for column in open_columns)
    op.execute(
        f"CREATE TRIGGER {table}_no_change BEFORE UPDATE OR DELETE ON {table} "
        f"FOR EACH ROW EXECUTE FUNCTION refuse_change({names})"
    )
    op.execute(
        f"CREATE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table} "
        "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()"
    )


def guard_on_sqlite(table: str, open_columns: tuple[str, ...]) -> None:
    columns = [column["name"] for column in sa.inspect(op.get_bind()).get_columns(table)]
    closed = ", ".join(f'"{column}"' for column in columns if column not in open_columns)
    refusal = f"BEGIN SELECT RAISE(ABORT, '{table} is never changed'); END"
    op.execute(f"CREATE TRIGGER {table}_no_change BEFORE UPDATE OF {closed} ON {table} {refusal}")
    op.execute(f"CREATE TRIGGER {table}_no_delete BEFORE DELETE ON {table} {refusal}")


def downgrade() -> None:
    on_postgresql = op.get_bind().dialect.name == "postgresql"
    for table in FROZEN:
        if on_postgresql:
            op.execute(f"DROP TRIGGER {table}_no_change ON {table}")
            op.execute(f"DROP TRIGGER {table}_no_truncate ON {table}")
        else:
            op.execute(f"DROP TRIGGER {table}_no_change")
            op.execute(f"DROP TRIGGER {table}_no_delete")
    if on_postgresql:
        op.execute("DROP FUNCTION refuse_change()")
