"""Let go of a column that nothing reads: each person declines mail for themselves."""

import sqlalchemy as sa
from alembic import op

revision = "0048"
down_revision = "0047"
branch_labels = None
depends_on = None


def upgrade() -> None:
    # Without a batch: SQLite drops a column that no check names without making its table anew.
    op.drop_column("customer", "progress_mail")


def downgrade() -> None:
    # Not null with a default, which alone a table with rows can be given; the step below has none.
    op.add_column("customer", sa.Column("progress_mail", sa.Boolean(), nullable=False, server_default=sa.false()))
    with op.batch_alter_table("customer") as customer:
        customer.alter_column("progress_mail", server_default=None)
