"""Find the jobs in hand, and what was recorded last, without reading the past."""

from alembic import op

revision = "0037"
down_revision = "0036"
branch_labels = None
depends_on = None

INDEXES = (
    ("job", "closed_at", "number"),
    ("customer", "name", "id"),
    ("customer", "created_at"),
    ("recipe", "created_at"),
    ("batch", "created_at"),
    ("block", "created_at"),
    ("crushing", "crushed_by", "created_at"),
)


def upgrade() -> None:
    for table, *columns in INDEXES:
        op.create_index(op.f(f"ix_{table}_{'_'.join(columns)}"), table, columns)


def downgrade() -> None:
    for table, *columns in INDEXES:
        op.drop_index(op.f(f"ix_{table}_{'_'.join(columns)}"), table)
