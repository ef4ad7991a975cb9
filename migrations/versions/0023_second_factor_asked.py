"""Let a shop ask its owners for a second factor, and keep only the drawn half of each one's secret."""

import sqlalchemy as sa
from alembic import op

revision = "0023"
down_revision = "0022"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column(
        "shop", sa.Column("owners_need_second_factor", sa.Boolean(), server_default=sa.false(), nullable=False)
    )
    # A whole secret cannot be turned into the half that is kept from now on: whoever has one sets it up anew.
    op.execute("UPDATE person SET totp_secret = NULL")
    op.execute("DELETE FROM recovery_code")


def downgrade() -> None:
    op.execute("UPDATE person SET totp_secret = NULL")
    op.execute("DELETE FROM recovery_code")
    op.drop_column("shop", "owners_need_second_factor")
