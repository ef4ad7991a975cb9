"""Keep what one bag of a material holds beside its price, so that a result can count in bags."""

from alembic import op

revision = "0025"
down_revision = "0024"
branch_labels = None
depends_on = None

CHECK = "CONSTRAINT ck_price_bag_kg_positive CHECK (bag_kg > 0 AND bag_kg < 1e9)"


def upgrade() -> None:
    op.execute(f"ALTER TABLE price ADD COLUMN bag_kg FLOAT {CHECK}")


def downgrade() -> None:
    op.drop_column("price", "bag_kg")
