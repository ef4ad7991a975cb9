"""Keep presses, gauges and moulds as they were typed, so that each is corrected in the words it was entered in."""

import sqlalchemy as sa
from alembic import op

revision = "0033"
down_revision = "0032"
branch_labels = None
depends_on = None

TABLES = ("press", "gauge", "mould")


def upgrade() -> None:
    for table in TABLES:
        op.add_column(table, sa.Column("as_read", sa.JSON(), server_default=sa.text("'{}'"), nullable=False))


def downgrade() -> None:
    for table in TABLES:
        op.drop_column(table, "as_read")
