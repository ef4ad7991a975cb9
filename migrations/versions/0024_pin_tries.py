"""Count the wrong PINs of a person in a row."""

from alembic import op

revision = "0024"
down_revision = "0023"
branch_labels = None
depends_on = None

CHECK = "CONSTRAINT ck_person_pin_tries_not_negative CHECK (pin_tries >= 0 AND pin_tries < 1e9)"


def upgrade() -> None:
    # In one statement that both databases know, so that SQLite need not rebuild a table that half the others point at.
    op.execute(f"ALTER TABLE person ADD COLUMN pin_tries INTEGER DEFAULT 0 NOT NULL {CHECK}")


def downgrade() -> None:
    op.drop_column("person", "pin_tries")
