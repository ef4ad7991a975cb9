"""Keep blocks, their heights and their soaks."""

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "block",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("as_read", sa.JSON(), nullable=False),
        sa.Column("batch_id", sa.Uuid(), nullable=False),
        sa.Column("recipe_group_id", sa.Uuid(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("crush_order", sa.Integer(), nullable=False),
        sa.Column("label", sa.String(), nullable=False),
        sa.Column("press_gauge_id", sa.Uuid(), nullable=True),
        sa.Column("pressed_gauge_mpa", sa.Float(), nullable=True),
        sa.Column("pressed_stroke_mm", sa.Float(), nullable=True),
        sa.Column("charge_kg", sa.Float(), nullable=True),
        sa.Column("dwell_s", sa.Float(), nullable=True),
        sa.Column("mould_release", sa.String(), nullable=True),
        sa.Column("pressed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("pressed_by", sa.Uuid(), nullable=False),
        sa.Column("length_mm", sa.Float(), nullable=False),
        sa.Column("width_mm", sa.Float(), nullable=False),
        sa.Column("wet_mass_kg", sa.Float(), nullable=True),
        sa.Column("cracked_because", sa.String(), nullable=True),
        sa.Column("remark", sa.String(), nullable=True),
        sa.Column("lost_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("lost_because", sa.String(), nullable=True),
        sa.CheckConstraint("trim(label) <> ''", name=op.f("ck_block_label_not_blank")),
        sa.CheckConstraint("(lost_at IS NULL) = (lost_because IS NULL)", name=op.f("ck_block_lost_at_together")),
        sa.CheckConstraint("charge_kg > 0 AND charge_kg < 1e9", name=op.f("ck_block_charge_kg_positive")),
        sa.CheckConstraint("crush_order > 0 AND crush_order < 1e9", name=op.f("ck_block_crush_order_positive")),
        sa.CheckConstraint("dwell_s >= 0 AND dwell_s < 1e9", name=op.f("ck_block_dwell_s_not_negative")),
        sa.CheckConstraint("length_mm > 0 AND length_mm < 1e9", name=op.f("ck_block_length_mm_positive")),
        sa.CheckConstraint("position > 0 AND position < 1e9", name=op.f("ck_block_position_positive")),
        sa.CheckConstraint(
            "pressed_gauge_mpa >= 0 AND pressed_gauge_mpa < 1e9", name=op.f("ck_block_pressed_gauge_mpa_not_negative")
        ),
        sa.CheckConstraint(
            "pressed_gauge_mpa IS NULL OR press_gauge_id IS NOT NULL", name=op.f("ck_block_gauge_reading_has_gauge")
        ),
        sa.CheckConstraint(
            "pressed_stroke_mm > 0 AND pressed_stroke_mm < 1e9", name=op.f("ck_block_pressed_stroke_mm_positive")
        ),
        sa.CheckConstraint("wet_mass_kg > 0 AND wet_mass_kg < 1e9", name=op.f("ck_block_wet_mass_kg_positive")),
        sa.CheckConstraint("wet_mass_kg IS NOT NULL OR lost_at IS NOT NULL", name=op.f("ck_block_kept_has_mass")),
        sa.CheckConstraint("width_mm > 0 AND width_mm < 1e9", name=op.f("ck_block_width_mm_positive")),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_block_batch_id")),
        sa.ForeignKeyConstraint(["press_gauge_id"], ["gauge.id"], name=op.f("fk_block_press_gauge_id")),
        sa.ForeignKeyConstraint(["pressed_by"], ["person.id"], name=op.f("fk_block_pressed_by")),
        sa.ForeignKeyConstraint(["recipe_group_id"], ["recipe_group.id"], name=op.f("fk_block_recipe_group_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_block")),
        sa.UniqueConstraint("batch_id", "position", name=op.f("uq_block_batch_id_position")),
        sa.UniqueConstraint("label", name=op.f("uq_block_label")),
    )
    op.create_index(op.f("ix_block_recipe_group_id"), "block", ["recipe_group_id"], unique=False)
    op.create_table(
        "block_height",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("as_read", sa.JSON(), nullable=False),
        sa.Column("block_id", sa.Uuid(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("height_mm", sa.Float(), nullable=False),
        sa.CheckConstraint("height_mm > 0 AND height_mm < 1e9", name=op.f("ck_block_height_height_mm_positive")),
        sa.CheckConstraint("position > 0 AND position < 1e9", name=op.f("ck_block_height_position_positive")),
        sa.ForeignKeyConstraint(["block_id"], ["block.id"], name=op.f("fk_block_height_block_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_block_height")),
        sa.UniqueConstraint("block_id", "position", name=op.f("uq_block_height_block_id_position")),
    )
    op.create_table(
        "soak",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("as_read", sa.JSON(), nullable=False),
        sa.Column("block_id", sa.Uuid(), nullable=False),
        sa.Column("started_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("started_by", sa.Uuid(), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("ended_by", sa.Uuid(), nullable=True),
        sa.CheckConstraint("(ended_at IS NULL) = (ended_by IS NULL)", name=op.f("ck_soak_ended_at_together")),
        sa.CheckConstraint("ended_at > started_at", name=op.f("ck_soak_ended_after")),
        sa.ForeignKeyConstraint(["block_id"], ["block.id"], name=op.f("fk_soak_block_id")),
        sa.ForeignKeyConstraint(["ended_by"], ["person.id"], name=op.f("fk_soak_ended_by")),
        sa.ForeignKeyConstraint(["started_by"], ["person.id"], name=op.f("fk_soak_started_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_soak")),
    )
    op.create_index(op.f("ix_soak_block_id"), "soak", ["block_id"], unique=False)
    op.create_index(
        "uq_soak_running",
        "soak",
        ["block_id"],
        unique=True,
        sqlite_where=sa.text("ended_at IS NULL"),
        postgresql_where=sa.text("ended_at IS NULL"),
    )


def downgrade() -> None:
    op.drop_table("soak")
    op.drop_table("block_height")
    op.drop_table("block")
