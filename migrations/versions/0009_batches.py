"""Keep batches and what was weighed into them."""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "batch",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("as_read", sa.JSON(), nullable=False),
        sa.Column("recipe_id", sa.Uuid(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("dry_soil_kg", sa.Float(), nullable=False),
        sa.Column("waste", sa.Float(), nullable=False),
        sa.Column("scale_graduation_kg", sa.Float(), nullable=False),
        sa.Column("water_planned_kg", sa.Float(), nullable=False),
        sa.Column("water_kg", sa.Float(), nullable=True),
        sa.Column("mixed_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("mixed_by", sa.Uuid(), nullable=True),
        sa.Column("wetted_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("covered_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("uncovered_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("remark", sa.String(), nullable=True),
        sa.CheckConstraint("(mixed_at IS NULL) = (mixed_by IS NULL)", name=op.f("ck_batch_mixed_at_together")),
        sa.CheckConstraint("dry_soil_kg > 0 AND dry_soil_kg < 1e9", name=op.f("ck_batch_dry_soil_kg_positive")),
        sa.CheckConstraint("number > 0 AND number < 1e9", name=op.f("ck_batch_number_positive")),
        sa.CheckConstraint(
            "scale_graduation_kg > 0 AND scale_graduation_kg < 1e9", name=op.f("ck_batch_scale_graduation_kg_positive")
        ),
        sa.CheckConstraint("uncovered_at >= covered_at", name=op.f("ck_batch_uncovered_after")),
        sa.CheckConstraint(
            "uncovered_at IS NULL OR covered_at IS NOT NULL", name=op.f("ck_batch_uncovered_was_covered")
        ),
        sa.CheckConstraint("waste >= 0 AND waste < 1e9", name=op.f("ck_batch_waste_not_negative")),
        sa.CheckConstraint("water_kg >= 0 AND water_kg < 1e9", name=op.f("ck_batch_water_kg_not_negative")),
        sa.CheckConstraint(
            "water_planned_kg >= 0 AND water_planned_kg < 1e9", name=op.f("ck_batch_water_planned_kg_not_negative")
        ),
        sa.ForeignKeyConstraint(["mixed_by"], ["person.id"], name=op.f("fk_batch_mixed_by")),
        sa.ForeignKeyConstraint(["recipe_id"], ["recipe.id"], name=op.f("fk_batch_recipe_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_batch")),
        sa.UniqueConstraint("recipe_id", "number", name=op.f("uq_batch_recipe_id_number")),
    )
    op.create_table(
        "batch_part",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("as_read", sa.JSON(), nullable=False),
        sa.Column("batch_id", sa.Uuid(), nullable=False),
        sa.Column("recipe_part_id", sa.Uuid(), nullable=False),
        sa.Column("receipt_id", sa.Uuid(), nullable=True),
        sa.Column("moisture", sa.Float(), nullable=False),
        sa.Column("planned_kg", sa.Float(), nullable=False),
        sa.Column("weighed_kg", sa.Float(), nullable=True),
        sa.CheckConstraint("moisture >= 0 AND moisture < 1e9", name=op.f("ck_batch_part_moisture_not_negative")),
        sa.CheckConstraint("planned_kg > 0 AND planned_kg < 1e9", name=op.f("ck_batch_part_planned_kg_positive")),
        sa.CheckConstraint("weighed_kg >= 0 AND weighed_kg < 1e9", name=op.f("ck_batch_part_weighed_kg_not_negative")),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_batch_part_batch_id")),
        sa.ForeignKeyConstraint(["receipt_id"], ["receipt.id"], name=op.f("fk_batch_part_receipt_id")),
        sa.ForeignKeyConstraint(["recipe_part_id"], ["recipe_part.id"], name=op.f("fk_batch_part_recipe_part_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_batch_part")),
        sa.UniqueConstraint(
            "batch_id", "recipe_part_id", "receipt_id", name=op.f("uq_batch_part_batch_id_recipe_part_id_receipt_id")
        ),
    )
    op.create_index(op.f("ix_batch_part_receipt_id"), "batch_part", ["receipt_id"], unique=False)
    op.create_index(op.f("ix_batch_part_recipe_part_id"), "batch_part", ["recipe_part_id"], unique=False)
    op.create_index(
        "uq_batch_part_no_receipt",
        "batch_part",
        ["batch_id", "recipe_part_id"],
        unique=True,
        sqlite_where=sa.text("receipt_id IS NULL"),
        postgresql_where=sa.text("receipt_id IS NULL"),
    )
    op.create_table(
        "trial_block",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("as_read", sa.JSON(), nullable=False),
        sa.Column("batch_id", sa.Uuid(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("charge_kg", sa.Float(), nullable=False),
        sa.Column("pressed_gauge_mpa", sa.Float(), nullable=True),
        sa.Column("pressed_stroke_mm", sa.Float(), nullable=True),
        sa.Column("height_mm", sa.Float(), nullable=False),
        sa.Column("wet_mass_kg", sa.Float(), nullable=True),
        sa.Column("accepted", sa.Boolean(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("made_by", sa.Uuid(), nullable=False),
        sa.CheckConstraint("charge_kg > 0 AND charge_kg < 1e9", name=op.f("ck_trial_block_charge_kg_positive")),
        sa.CheckConstraint("height_mm > 0 AND height_mm < 1e9", name=op.f("ck_trial_block_height_mm_positive")),
        sa.CheckConstraint(
            "pressed_gauge_mpa > 0 AND pressed_gauge_mpa < 1e9", name=op.f("ck_trial_block_pressed_gauge_mpa_positive")
        ),
        sa.CheckConstraint(
            "pressed_stroke_mm > 0 AND pressed_stroke_mm < 1e9", name=op.f("ck_trial_block_pressed_stroke_mm_positive")
        ),
        sa.CheckConstraint("wet_mass_kg > 0 AND wet_mass_kg < 1e9", name=op.f("ck_trial_block_wet_mass_kg_positive")),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_trial_block_batch_id")),
        sa.ForeignKeyConstraint(["made_by"], ["person.id"], name=op.f("fk_trial_block_made_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_trial_block")),
        sa.UniqueConstraint("batch_id", "position", name=op.f("uq_trial_block_batch_id_position")),
    )


def downgrade() -> None:
    op.drop_table("trial_block")
    op.drop_table("batch_part")
    op.drop_table("batch")
