"""Find materials in use by their names in order, so that a search ends with the first twenty."""

import sqlalchemy as sa
from alembic import op

revision = "0049"
down_revision = "0048"
branch_labels = None
depends_on = None

NAME, IN_USE = "ix_material_in_use", sa.text("ended_at IS NULL")


def upgrade() -> None:
    op.create_index(NAME, "material", ["name"], sqlite_where=IN_USE, postgresql_where=IN_USE)


def downgrade() -> None:
    op.drop_index(NAME, table_name="material")
