"""Keep how heavily a material lay where a recipe is given in parts by volume."""

import sqlalchemy as sa
from alembic import op

revision = "0026"
down_revision = "0025"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "part_volume",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("as_read", sa.JSON(), nullable=False),
        sa.Column("recipe_part_id", sa.Uuid(), nullable=False),
        sa.Column("density_kg_m3", sa.Float(), nullable=False),
        sa.Column("damp", sa.Boolean(), nullable=False),
        sa.Column("moisture", sa.Float(), nullable=True),
        sa.Column("taken_from", sa.String(), nullable=True),
        sa.CheckConstraint(
            "density_kg_m3 > 0 AND density_kg_m3 < 1e9", name=op.f("ck_part_volume_density_kg_m3_positive")
        ),
        sa.CheckConstraint("moisture >= 0 AND moisture < 1e9", name=op.f("ck_part_volume_moisture_not_negative")),
        sa.CheckConstraint("trim(taken_from) <> ''", name=op.f("ck_part_volume_taken_from_not_blank")),
        sa.ForeignKeyConstraint(["recipe_part_id"], ["recipe_part.id"], name=op.f("fk_part_volume_recipe_part_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_part_volume")),
        sa.UniqueConstraint("recipe_part_id", name=op.f("uq_part_volume_recipe_part_id")),
    )


def downgrade() -> None:
    op.drop_table("part_volume")
