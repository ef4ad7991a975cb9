"""Find the groups of a recipe by an index: those that keep them single hold for some of the rows alone."""

from alembic import op

revision = "0046"
down_revision = "0045"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_index(op.f("ix_recipe_group_recipe_id"), "recipe_group", ["recipe_id"])


def downgrade() -> None:
    op.drop_index(op.f("ix_recipe_group_recipe_id"), "recipe_group")
