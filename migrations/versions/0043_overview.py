"""Find the weeks of the shop without reading its years; say until when bags are good, and which soil was discarded."""

import sqlalchemy as sa
from alembic import op

revision = "0043"
down_revision = "0042"
branch_labels = None
depends_on = None

INDEXES = (
    ("receipt", "received_at"),
    ("block", "pressed_at"),
    ("crushing", "crushed_at"),
    ("issued_result", "issued_at"),
)
KEPT = sa.text("retained_until IS NOT NULL AND discarded_at IS NULL")


def upgrade() -> None:
    op.add_column("material", sa.Column("good_until", sa.Date(), nullable=True))
    op.add_column("receipt", sa.Column("discarded_at", sa.DateTime(timezone=True), nullable=True))
    op.create_index("ix_receipt_retained", "receipt", ["retained_until"], sqlite_where=KEPT, postgresql_where=KEPT)
    for table, column in INDEXES:
        op.create_index(op.f(f"ix_{table}_{column}"), table, [column])


def downgrade() -> None:
    for table, column in INDEXES:
        op.drop_index(op.f(f"ix_{table}_{column}"), table)
    op.drop_index("ix_receipt_retained", "receipt")
    op.drop_column("receipt", "discarded_at")
    op.drop_column("material", "good_until")
