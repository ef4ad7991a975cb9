"""Keep for whom a share link was made."""

import sqlalchemy as sa
from alembic import op

revision = "0036"
down_revision = "0035"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("ticket", sa.Column("name", sa.String(), nullable=True))


def downgrade() -> None:
    op.drop_column("ticket", "name")
