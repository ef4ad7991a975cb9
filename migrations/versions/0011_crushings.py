"""Keep crushings, one standing for each block."""

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "crushing",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("as_read", sa.JSON(), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("ended_by", sa.Uuid(), nullable=True),
        sa.Column("ended_because", sa.String(), nullable=True),
        sa.Column("replaces_id", sa.Uuid(), nullable=True),
        sa.Column("block_id", sa.Uuid(), nullable=False),
        sa.Column("gauge_id", sa.Uuid(), nullable=True),
        sa.Column("press_session_id", sa.Uuid(), nullable=True),
        sa.Column("outcome", sa.String(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("gauge_mpa", sa.Float(), nullable=True),
        sa.Column("peak_read", sa.String(), nullable=True),
        sa.Column("held_because", sa.String(), nullable=True),
        sa.Column("orientation", sa.String(), nullable=False),
        sa.Column("faces", sa.String(), nullable=False),
        sa.Column("length_mm", sa.Float(), nullable=True),
        sa.Column("width_mm", sa.Float(), nullable=True),
        sa.Column("height_mm", sa.Float(), nullable=True),
        sa.Column("mass_kg", sa.Float(), nullable=True),
        sa.Column("water_hours", sa.Float(), nullable=True),
        sa.Column("out_of_water_min", sa.Float(), nullable=True),
        sa.Column("failure", sa.String(), nullable=True),
        sa.Column("spoiled_because", sa.String(), nullable=True),
        sa.Column("remark", sa.String(), nullable=True),
        sa.Column("crushed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("typed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("crushed_by", sa.Uuid(), nullable=False),
        sa.Column("device_id", sa.Uuid(), nullable=True),
        sa.CheckConstraint("(outcome = 'held') = (held_because IS NOT NULL)", name=op.f("ck_crushing_held_has_reason")),
        sa.CheckConstraint(
            "(outcome = 'spoiled') = (spoiled_because IS NOT NULL)", name=op.f("ck_crushing_spoiled_has_reason")
        ),
        sa.CheckConstraint(
            "(outcome IN ('broke', 'held')) = (gauge_mpa IS NOT NULL)",
            name=op.f("ck_crushing_loaded_has_gauge_reading"),
        ),
        sa.CheckConstraint("faces IN ('bare', 'packed', 'capped', 'ground')", name=op.f("ck_crushing_faces_known")),
        sa.CheckConstraint(
            "held_because IN ('press limit', 'agreed stop', 'leak')", name=op.f("ck_crushing_held_because_known")
        ),
        sa.CheckConstraint("orientation IN ('flat', 'on edge', 'on end')", name=op.f("ck_crushing_orientation_known")),
        sa.CheckConstraint(
            "outcome IN ('broke', 'held', 'fell apart', 'spoiled')", name=op.f("ck_crushing_outcome_known")
        ),
        sa.CheckConstraint(
            "peak_read IN ('held needle', 'watched', 'filmed', 'logged')", name=op.f("ck_crushing_peak_read_known")
        ),
        sa.CheckConstraint(
            "state IN ('as cured', 'air-dry', 'oven-dry', 'soaked')", name=op.f("ck_crushing_state_known")
        ),
        sa.CheckConstraint(
            "(ended_at IS NULL) = (ended_by IS NULL) AND (ended_at IS NULL) = (ended_because IS NULL)",
            name=op.f("ck_crushing_ended_at_together"),
        ),
        sa.CheckConstraint("gauge_mpa >= 0 AND gauge_mpa < 1e9", name=op.f("ck_crushing_gauge_mpa_not_negative")),
        sa.CheckConstraint(
            "gauge_mpa IS NULL OR (gauge_id IS NOT NULL AND length_mm IS NOT NULL AND width_mm IS NOT NULL)",
            name=op.f("ck_crushing_reading_has_gauge_and_face"),
        ),
        sa.CheckConstraint("height_mm > 0 AND height_mm < 1e9", name=op.f("ck_crushing_height_mm_positive")),
        sa.CheckConstraint("length_mm > 0 AND length_mm < 1e9", name=op.f("ck_crushing_length_mm_positive")),
        sa.CheckConstraint("mass_kg > 0 AND mass_kg < 1e9", name=op.f("ck_crushing_mass_kg_positive")),
        sa.CheckConstraint(
            "out_of_water_min >= 0 AND out_of_water_min < 1e9", name=op.f("ck_crushing_out_of_water_min_not_negative")
        ),
        sa.CheckConstraint("replaces_id <> id", name=op.f("ck_crushing_replaces_other")),
        sa.CheckConstraint("water_hours >= 0 AND water_hours < 1e9", name=op.f("ck_crushing_water_hours_not_negative")),
        sa.CheckConstraint("width_mm > 0 AND width_mm < 1e9", name=op.f("ck_crushing_width_mm_positive")),
        sa.ForeignKeyConstraint(["block_id"], ["block.id"], name=op.f("fk_crushing_block_id")),
        sa.ForeignKeyConstraint(["crushed_by"], ["person.id"], name=op.f("fk_crushing_crushed_by")),
        sa.ForeignKeyConstraint(["device_id"], ["device.id"], name=op.f("fk_crushing_device_id")),
        sa.ForeignKeyConstraint(["ended_by"], ["person.id"], name=op.f("fk_crushing_ended_by")),
        sa.ForeignKeyConstraint(["gauge_id"], ["gauge.id"], name=op.f("fk_crushing_gauge_id")),
        sa.ForeignKeyConstraint(["press_session_id"], ["press_session.id"], name=op.f("fk_crushing_press_session_id")),
        sa.ForeignKeyConstraint(["replaces_id"], ["crushing.id"], name=op.f("fk_crushing_replaces_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_crushing")),
        sa.UniqueConstraint("replaces_id", name=op.f("uq_crushing_replaces_id")),
    )
    op.create_index(op.f("ix_crushing_block_id"), "crushing", ["block_id"], unique=False)
    op.create_index(op.f("ix_crushing_gauge_id"), "crushing", ["gauge_id"], unique=False)
    op.create_index(
        "uq_crushing_standing",
        "crushing",
        ["block_id"],
        unique=True,
        sqlite_where=sa.text("ended_at IS NULL"),
        postgresql_where=sa.text("ended_at IS NULL"),
    )


def downgrade() -> None:
    op.drop_table("crushing")
