"""Forget by what the input of acts with a password or PIN was remembered: it could be guessed from that."""

from alembic import op

revision = "0028"
down_revision = "0027"
branch_labels = None
depends_on = None

ACTS = (
    "address.use",
    "person.change_password",
    "person.set_pin",
    "person.end_second_factor",
    "person.add_second_factor",
)


def upgrade() -> None:
    op.execute(f"DELETE FROM replay WHERE act IN {ACTS}")


def downgrade() -> None:
    pass
