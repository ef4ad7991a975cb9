"""Let a shop say that its commas part the thousands."""

import sqlalchemy as sa
from alembic import op

revision = "0030"
down_revision = "0029"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("shop", sa.Column("comma_thousands", sa.Boolean(), server_default=sa.false(), nullable=False))
    shop = sa.table("shop", sa.column("comma_thousands", sa.Boolean), sa.column("units_first", sa.String))
    op.execute(shop.update().where(shop.c.units_first == "imperial").values(comma_thousands=True))


def downgrade() -> None:
    op.drop_column("shop", "comma_thousands")
