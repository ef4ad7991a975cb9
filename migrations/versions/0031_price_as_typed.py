"""Keep a price as it was typed: by the bag, the ton or the cubic yard, with the density that a volume was turned by."""

import sqlalchemy as sa
from alembic import op

revision = "0031"
down_revision = "0030"
branch_labels = None
depends_on = None

CHECK = "CONSTRAINT ck_price_bulk_kg_m3_positive CHECK (bulk_kg_m3 > 0 AND bulk_kg_m3 < 1e9)"


def upgrade() -> None:
    op.add_column("price", sa.Column("as_read", sa.JSON(), server_default=sa.text("'{}'"), nullable=False))
    op.execute(f"ALTER TABLE price ADD COLUMN bulk_kg_m3 FLOAT {CHECK}")


def downgrade() -> None:
    op.drop_column("price", "bulk_kg_m3")
    op.drop_column("price", "as_read")
