"""Keep moisture cans and soil tests."""

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "moisture_can",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("as_read", sa.JSON(), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("ended_by", sa.Uuid(), nullable=True),
        sa.Column("ended_because", sa.String(), nullable=True),
        sa.Column("replaces_id", sa.Uuid(), nullable=True),
        sa.Column("receipt_id", sa.Uuid(), nullable=True),
        sa.Column("batch_part_id", sa.Uuid(), nullable=True),
        sa.Column("batch_id", sa.Uuid(), nullable=True),
        sa.Column("block_id", sa.Uuid(), nullable=True),
        sa.Column("can_kg", sa.Float(), nullable=False),
        sa.Column("wet_kg", sa.Float(), nullable=False),
        sa.Column("dry_kg", sa.Float(), nullable=False),
        sa.Column("method", sa.String(), nullable=False),
        sa.Column("temperature_c", sa.Float(), nullable=True),
        sa.Column("done_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("done_by", sa.Uuid(), nullable=False),
        sa.CheckConstraint(
            "method IN ('oven', 'microwave', 'air', 'stove')", name=op.f("ck_moisture_can_method_known")
        ),
        sa.CheckConstraint(
            "(ended_at IS NULL) = (ended_by IS NULL) AND (ended_at IS NULL) = (ended_because IS NULL)",
            name=op.f("ck_moisture_can_ended_at_together"),
        ),
        sa.CheckConstraint(
            "CASE WHEN receipt_id IS NULL THEN 0 ELSE 1 END + "
            "CASE WHEN batch_part_id IS NULL THEN 0 ELSE 1 END + "
            "CASE WHEN batch_id IS NULL THEN 0 ELSE 1 END + "
            "CASE WHEN block_id IS NULL THEN 0 ELSE 1 END = 1",
            name=op.f("ck_moisture_can_belongs_to_one"),
        ),
        sa.CheckConstraint("can_kg >= 0 AND can_kg < 1e9", name=op.f("ck_moisture_can_can_kg_not_negative")),
        sa.CheckConstraint("dry_kg > can_kg", name=op.f("ck_moisture_can_dry_above_can")),
        sa.CheckConstraint("replaces_id <> id", name=op.f("ck_moisture_can_replaces_other")),
        sa.CheckConstraint(
            "temperature_c > -1e9 AND temperature_c < 1e9", name=op.f("ck_moisture_can_temperature_c_finite")
        ),
        sa.CheckConstraint("wet_kg >= dry_kg AND wet_kg < 1e9", name=op.f("ck_moisture_can_wet_at_least_dry")),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_moisture_can_batch_id")),
        sa.ForeignKeyConstraint(["batch_part_id"], ["batch_part.id"], name=op.f("fk_moisture_can_batch_part_id")),
        sa.ForeignKeyConstraint(["block_id"], ["block.id"], name=op.f("fk_moisture_can_block_id")),
        sa.ForeignKeyConstraint(["done_by"], ["person.id"], name=op.f("fk_moisture_can_done_by")),
        sa.ForeignKeyConstraint(["ended_by"], ["person.id"], name=op.f("fk_moisture_can_ended_by")),
        sa.ForeignKeyConstraint(["receipt_id"], ["receipt.id"], name=op.f("fk_moisture_can_receipt_id")),
        sa.ForeignKeyConstraint(["replaces_id"], ["moisture_can.id"], name=op.f("fk_moisture_can_replaces_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_moisture_can")),
        sa.UniqueConstraint("replaces_id", name=op.f("uq_moisture_can_replaces_id")),
    )
    op.create_index(op.f("ix_moisture_can_batch_id"), "moisture_can", ["batch_id"], unique=False)
    op.create_index(op.f("ix_moisture_can_batch_part_id"), "moisture_can", ["batch_part_id"], unique=False)
    op.create_index(op.f("ix_moisture_can_block_id"), "moisture_can", ["block_id"], unique=False)
    op.create_index(op.f("ix_moisture_can_receipt_id"), "moisture_can", ["receipt_id"], unique=False)
    op.create_table(
        "soil_test",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("as_read", sa.JSON(), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("ended_by", sa.Uuid(), nullable=True),
        sa.Column("ended_because", sa.String(), nullable=True),
        sa.Column("replaces_id", sa.Uuid(), nullable=True),
        sa.Column("material_id", sa.Uuid(), nullable=False),
        sa.Column("receipt_id", sa.Uuid(), nullable=True),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("non_plastic", sa.Boolean(), nullable=False),
        sa.Column("done_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("done_by", sa.Uuid(), nullable=False),
        sa.Column("remark", sa.String(), nullable=True),
        sa.CheckConstraint("NOT non_plastic OR kind = 'thread'", name=op.f("ck_soil_test_non_plastic_by_thread")),
        sa.CheckConstraint(
            "kind IN ('sieve', 'flow', 'thread', 'shrinkage', 'hydrometer', 'jar', 'bulk', 'organic', 'salts')",
            name=op.f("ck_soil_test_kind_known"),
        ),
        sa.CheckConstraint(
            "(ended_at IS NULL) = (ended_by IS NULL) AND (ended_at IS NULL) = (ended_because IS NULL)",
            name=op.f("ck_soil_test_ended_at_together"),
        ),
        sa.CheckConstraint("replaces_id <> id", name=op.f("ck_soil_test_replaces_other")),
        sa.ForeignKeyConstraint(["done_by"], ["person.id"], name=op.f("fk_soil_test_done_by")),
        sa.ForeignKeyConstraint(["ended_by"], ["person.id"], name=op.f("fk_soil_test_ended_by")),
        sa.ForeignKeyConstraint(["material_id"], ["material.id"], name=op.f("fk_soil_test_material_id")),
        sa.ForeignKeyConstraint(["receipt_id"], ["receipt.id"], name=op.f("fk_soil_test_receipt_id")),
        sa.ForeignKeyConstraint(["replaces_id"], ["soil_test.id"], name=op.f("fk_soil_test_replaces_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_soil_test")),
        sa.UniqueConstraint("replaces_id", name=op.f("uq_soil_test_replaces_id")),
    )
    op.create_index(op.f("ix_soil_test_material_id"), "soil_test", ["material_id"], unique=False)
    op.create_index(op.f("ix_soil_test_receipt_id"), "soil_test", ["receipt_id"], unique=False)
    op.create_table(
        "sieve_test",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("as_read", sa.JSON(), nullable=False),
        sa.Column("test_id", sa.Uuid(), nullable=False),
        sa.Column("dry_mass_g", sa.Float(), nullable=False),
        sa.Column("washed_dry_mass_g", sa.Float(), nullable=True),
        sa.Column("pan_g", sa.Float(), nullable=False),
        sa.CheckConstraint("dry_mass_g > 0 AND dry_mass_g < 1e9", name=op.f("ck_sieve_test_dry_mass_g_positive")),
        sa.CheckConstraint("pan_g >= 0 AND pan_g < 1e9", name=op.f("ck_sieve_test_pan_g_not_negative")),
        sa.CheckConstraint("washed_dry_mass_g <= dry_mass_g", name=op.f("ck_sieve_test_washed_at_most_dry")),
        sa.CheckConstraint(
            "washed_dry_mass_g > 0 AND washed_dry_mass_g < 1e9", name=op.f("ck_sieve_test_washed_dry_mass_g_positive")
        ),
        sa.ForeignKeyConstraint(["test_id"], ["soil_test.id"], name=op.f("fk_sieve_test_test_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sieve_test")),
        sa.UniqueConstraint("test_id", name=op.f("uq_sieve_test_test_id")),
    )
    op.create_table(
        "sieve_reading",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("as_read", sa.JSON(), nullable=False),
        sa.Column("test_id", sa.Uuid(), nullable=False),
        sa.Column("size_mm", sa.Float(), nullable=False),
        sa.Column("retained_g", sa.Float(), nullable=False),
        sa.CheckConstraint(
            "retained_g >= 0 AND retained_g < 1e9", name=op.f("ck_sieve_reading_retained_g_not_negative")
        ),
        sa.CheckConstraint("size_mm > 0 AND size_mm < 1e9", name=op.f("ck_sieve_reading_size_mm_positive")),
        sa.ForeignKeyConstraint(["test_id"], ["soil_test.id"], name=op.f("fk_sieve_reading_test_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sieve_reading")),
        sa.UniqueConstraint("test_id", "size_mm", name=op.f("uq_sieve_reading_test_id_size_mm")),
    )
    op.create_table(
        "flow_reading",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("as_read", sa.JSON(), nullable=False),
        sa.Column("test_id", sa.Uuid(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("blows", sa.Integer(), nullable=False),
        sa.Column("can_g", sa.Float(), nullable=False),
        sa.Column("wet_g", sa.Float(), nullable=False),
        sa.Column("dry_g", sa.Float(), nullable=False),
        sa.CheckConstraint("blows > 0 AND blows < 1e9", name=op.f("ck_flow_reading_blows_positive")),
        sa.CheckConstraint("can_g >= 0 AND can_g < 1e9", name=op.f("ck_flow_reading_can_g_not_negative")),
        sa.CheckConstraint("dry_g > can_g", name=op.f("ck_flow_reading_dry_above_can")),
        sa.CheckConstraint("wet_g >= dry_g AND wet_g < 1e9", name=op.f("ck_flow_reading_wet_at_least_dry")),
        sa.ForeignKeyConstraint(["test_id"], ["soil_test.id"], name=op.f("fk_flow_reading_test_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_flow_reading")),
        sa.UniqueConstraint("test_id", "position", name=op.f("uq_flow_reading_test_id_position")),
    )
    op.create_table(
        "thread_reading",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("as_read", sa.JSON(), nullable=False),
        sa.Column("test_id", sa.Uuid(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("can_g", sa.Float(), nullable=False),
        sa.Column("wet_g", sa.Float(), nullable=False),
        sa.Column("dry_g", sa.Float(), nullable=False),
        sa.CheckConstraint("can_g >= 0 AND can_g < 1e9", name=op.f("ck_thread_reading_can_g_not_negative")),
        sa.CheckConstraint("dry_g > can_g", name=op.f("ck_thread_reading_dry_above_can")),
        sa.CheckConstraint("wet_g >= dry_g AND wet_g < 1e9", name=op.f("ck_thread_reading_wet_at_least_dry")),
        sa.ForeignKeyConstraint(["test_id"], ["soil_test.id"], name=op.f("fk_thread_reading_test_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_thread_reading")),
        sa.UniqueConstraint("test_id", "position", name=op.f("uq_thread_reading_test_id_position")),
    )
    op.create_table(
        "shrinkage_test",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("as_read", sa.JSON(), nullable=False),
        sa.Column("test_id", sa.Uuid(), nullable=False),
        sa.Column("box_length_mm", sa.Float(), nullable=False),
        sa.Column("box_width_mm", sa.Float(), nullable=False),
        sa.Column("box_depth_mm", sa.Float(), nullable=False),
        sa.Column("shrinkage_mm", sa.Float(), nullable=False),
        sa.CheckConstraint(
            "box_depth_mm > 0 AND box_depth_mm < 1e9", name=op.f("ck_shrinkage_test_box_depth_mm_positive")
        ),
        sa.CheckConstraint(
            "box_length_mm > 0 AND box_length_mm < 1e9", name=op.f("ck_shrinkage_test_box_length_mm_positive")
        ),
        sa.CheckConstraint(
            "box_width_mm > 0 AND box_width_mm < 1e9", name=op.f("ck_shrinkage_test_box_width_mm_positive")
        ),
        sa.CheckConstraint("shrinkage_mm < box_length_mm", name=op.f("ck_shrinkage_test_shrinkage_below_box")),
        sa.CheckConstraint(
            "shrinkage_mm >= 0 AND shrinkage_mm < 1e9", name=op.f("ck_shrinkage_test_shrinkage_mm_not_negative")
        ),
        sa.ForeignKeyConstraint(["test_id"], ["soil_test.id"], name=op.f("fk_shrinkage_test_test_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_shrinkage_test")),
        sa.UniqueConstraint("test_id", name=op.f("uq_shrinkage_test_test_id")),
    )
    op.create_table(
        "soil_sign",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("as_read", sa.JSON(), nullable=False),
        sa.Column("test_id", sa.Uuid(), nullable=False),
        sa.Column("positive", sa.Boolean(), nullable=False),
        sa.Column("sign", sa.String(), nullable=False),
        sa.CheckConstraint("trim(sign) <> ''", name=op.f("ck_soil_sign_sign_not_blank")),
        sa.ForeignKeyConstraint(["test_id"], ["soil_test.id"], name=op.f("fk_soil_sign_test_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_soil_sign")),
        sa.UniqueConstraint("test_id", name=op.f("uq_soil_sign_test_id")),
    )


def downgrade() -> None:
    op.drop_table("soil_sign")
    op.drop_table("shrinkage_test")
    op.drop_table("thread_reading")
    op.drop_table("flow_reading")
    op.drop_table("sieve_reading")
    op.drop_table("sieve_test")
    op.drop_table("soil_test")
    op.drop_table("moisture_can")
