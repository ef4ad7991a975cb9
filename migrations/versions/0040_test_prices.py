"""Keep what the shop asks for a block tested and for a calibration."""

import sqlalchemy as sa
from alembic import op

revision = "0040"
down_revision = "0039"
branch_labels = None
depends_on = None

COLUMNS = ("block_price", "calibration_price")


def upgrade() -> None:
    for name in COLUMNS:
        op.add_column("shop", sa.Column(name, sa.BigInteger(), nullable=True))


def downgrade() -> None:
    for name in COLUMNS:
        op.drop_column("shop", name)
