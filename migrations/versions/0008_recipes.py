"""Keep recipes, their parts and their groups of blocks."""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "recipe",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("as_read", sa.JSON(), nullable=False),
        sa.Column("job_id", sa.Uuid(), nullable=False),
        sa.Column("label", sa.String(), nullable=False),
        sa.Column("target_moisture", sa.Float(), nullable=False),
        sa.Column("moisture_basis", sa.String(), nullable=False),
        sa.Column("press_stress_mpa", sa.Float(), nullable=True),
        sa.Column("press_stroke_mm", sa.Float(), nullable=True),
        sa.Column("mould_id", sa.Uuid(), nullable=False),
        sa.Column("batches", sa.Integer(), nullable=False),
        sa.Column("mix_on", sa.Date(), nullable=True),
        sa.Column("draw_seed", sa.BigInteger(), nullable=False),
        sa.Column("replaces_id", sa.Uuid(), nullable=True),
        sa.Column("dropped_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("dropped_because", sa.String(), nullable=True),
        sa.CheckConstraint("moisture_basis IN ('dry mix', 'dry soil')", name=op.f("ck_recipe_moisture_basis_known")),
        sa.CheckConstraint("trim(label) <> ''", name=op.f("ck_recipe_label_not_blank")),
        sa.CheckConstraint(
            "(dropped_at IS NULL) = (dropped_because IS NULL)", name=op.f("ck_recipe_dropped_at_together")
        ),
        sa.CheckConstraint("batches > 0 AND batches < 1e9", name=op.f("ck_recipe_batches_positive")),
        sa.CheckConstraint(
            "press_stress_mpa > 0 AND press_stress_mpa < 1e9", name=op.f("ck_recipe_press_stress_mpa_positive")
        ),
        sa.CheckConstraint(
            "press_stroke_mm > 0 AND press_stroke_mm < 1e9", name=op.f("ck_recipe_press_stroke_mm_positive")
        ),
        sa.CheckConstraint("replaces_id <> id", name=op.f("ck_recipe_replaces_other")),
        sa.CheckConstraint(
            "target_moisture >= 0 AND target_moisture < 1e9", name=op.f("ck_recipe_target_moisture_not_negative")
        ),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_recipe_job_id")),
        sa.ForeignKeyConstraint(["mould_id"], ["mould.id"], name=op.f("fk_recipe_mould_id")),
        sa.ForeignKeyConstraint(["replaces_id"], ["recipe.id"], name=op.f("fk_recipe_replaces_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recipe")),
        sa.UniqueConstraint("job_id", "label", name=op.f("uq_recipe_job_id_label")),
        sa.UniqueConstraint("replaces_id", name=op.f("uq_recipe_replaces_id")),
    )
    op.create_index(op.f("ix_recipe_job_id"), "recipe", ["job_id"], unique=False)
    op.create_table(
        "recipe_part",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recipe_id", sa.Uuid(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("material_id", sa.Uuid(), nullable=False),
        sa.Column("role", sa.String(), nullable=False),
        sa.Column("share", sa.Float(), nullable=False),
        sa.Column("basis", sa.String(), nullable=False),
        sa.Column("given_as", sa.String(), nullable=False),
        sa.Column("typed_parts", sa.Float(), nullable=True),
        sa.CheckConstraint("(role = 'component') = (basis = 'blend')", name=op.f("ck_recipe_part_component_of_blend")),
        sa.CheckConstraint("basis IN ('blend', 'dry soil', 'dry mix')", name=op.f("ck_recipe_part_basis_known")),
        sa.CheckConstraint("given_as IN ('mass', 'volume')", name=op.f("ck_recipe_part_given_as_known")),
        sa.CheckConstraint("role IN ('component', 'stabiliser')", name=op.f("ck_recipe_part_role_known")),
        sa.CheckConstraint("share > 0 AND share <= 1", name=op.f("ck_recipe_part_share_fraction")),
        sa.CheckConstraint("typed_parts > 0 AND typed_parts < 1e9", name=op.f("ck_recipe_part_typed_parts_positive")),
        sa.ForeignKeyConstraint(["material_id"], ["material.id"], name=op.f("fk_recipe_part_material_id")),
        sa.ForeignKeyConstraint(["recipe_id"], ["recipe.id"], name=op.f("fk_recipe_part_recipe_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recipe_part")),
        sa.UniqueConstraint("recipe_id", "material_id", name=op.f("uq_recipe_part_recipe_id_material_id")),
        sa.UniqueConstraint("recipe_id", "position", name=op.f("uq_recipe_part_recipe_id_position")),
    )
    op.create_index(op.f("ix_recipe_part_material_id"), "recipe_part", ["material_id"], unique=False)
    op.create_table(
        "recipe_group",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recipe_id", sa.Uuid(), nullable=False),
        sa.Column("condition", sa.String(), nullable=False),
        sa.Column("age_days", sa.Float(), nullable=False),
        sa.Column("tolerance_hours", sa.Float(), nullable=False),
        sa.Column("soak_hours", sa.Float(), nullable=True),
        sa.Column("soak_hours_max", sa.Float(), nullable=True),
        sa.Column("blocks", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "(condition = 'soaked') = (soak_hours IS NOT NULL)", name=op.f("ck_recipe_group_soaked_has_hours")
        ),
        sa.CheckConstraint(
            "condition IN ('as cured', 'air-dry', 'oven-dry', 'soaked')", name=op.f("ck_recipe_group_condition_known")
        ),
        sa.CheckConstraint("age_days > 0 AND age_days < 1e9", name=op.f("ck_recipe_group_age_days_positive")),
        sa.CheckConstraint("blocks > 0 AND blocks < 1e9", name=op.f("ck_recipe_group_blocks_positive")),
        sa.CheckConstraint("soak_hours > 0 AND soak_hours < 1e9", name=op.f("ck_recipe_group_soak_hours_positive")),
        sa.CheckConstraint(
            "soak_hours_max >= soak_hours AND soak_hours_max < 1e9", name=op.f("ck_recipe_group_soak_hours_max_after")
        ),
        sa.CheckConstraint(
            "soak_hours_max IS NULL OR soak_hours IS NOT NULL", name=op.f("ck_recipe_group_soak_hours_max_soaked")
        ),
        sa.CheckConstraint(
            "tolerance_hours >= 0 AND tolerance_hours < 1e9", name=op.f("ck_recipe_group_tolerance_hours_not_negative")
        ),
        sa.ForeignKeyConstraint(["recipe_id"], ["recipe.id"], name=op.f("fk_recipe_group_recipe_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recipe_group")),
        sa.UniqueConstraint(
            "recipe_id", "condition", "age_days", name=op.f("uq_recipe_group_recipe_id_condition_age_days")
        ),
    )


def downgrade() -> None:
    op.drop_table("recipe_group")
    op.drop_table("recipe_part")
    op.drop_table("recipe")
