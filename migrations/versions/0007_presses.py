"""Keep presses, gauges, moulds and calibrations."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "press",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("forms", sa.Boolean(), nullable=False),
        sa.Column("crushes", sa.Boolean(), nullable=False),
        sa.Column("ram_diameter_mm", sa.Float(), nullable=False),
        sa.Column("rams", sa.Integer(), nullable=False),
        sa.Column("efficiency", sa.Float(), nullable=False),
        sa.Column("rating_kn", sa.Float(), nullable=True),
        sa.Column("working_limit_kn", sa.Float(), nullable=True),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint("trim(name) <> ''", name=op.f("ck_press_name_not_blank")),
        sa.CheckConstraint(
            "NOT crushes OR (rating_kn IS NOT NULL AND working_limit_kn IS NOT NULL)",
            name=op.f("ck_press_crushing_has_limit"),
        ),
        sa.CheckConstraint("efficiency > 0 AND efficiency <= 1", name=op.f("ck_press_efficiency_fraction")),
        sa.CheckConstraint("forms OR crushes", name=op.f("ck_press_does_something")),
        sa.CheckConstraint(
            "ram_diameter_mm > 0 AND ram_diameter_mm < 1e9", name=op.f("ck_press_ram_diameter_mm_positive")
        ),
        sa.CheckConstraint("rams >= 1", name=op.f("ck_press_rams_some")),
        sa.CheckConstraint("rating_kn > 0 AND rating_kn < 1e9", name=op.f("ck_press_rating_kn_positive")),
        sa.CheckConstraint("working_limit_kn < rating_kn", name=op.f("ck_press_limit_below_rating")),
        sa.CheckConstraint(
            "working_limit_kn > 0 AND working_limit_kn < 1e9", name=op.f("ck_press_working_limit_kn_positive")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_press")),
    )
    op.create_table(
        "gauge",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("press_id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("unit", sa.String(), nullable=False),
        sa.Column("graduation_mpa", sa.Float(), nullable=False),
        sa.Column("least_mpa", sa.Float(), nullable=False),
        sa.Column("full_scale_mpa", sa.Float(), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint("trim(name) <> ''", name=op.f("ck_gauge_name_not_blank")),
        sa.CheckConstraint("trim(unit) <> ''", name=op.f("ck_gauge_unit_not_blank")),
        sa.CheckConstraint(
            "full_scale_mpa > 0 AND full_scale_mpa < 1e9", name=op.f("ck_gauge_full_scale_mpa_positive")
        ),
        sa.CheckConstraint("full_scale_mpa > graduation_mpa", name=op.f("ck_gauge_full_scale_above_graduation")),
        sa.CheckConstraint(
            "graduation_mpa > 0 AND graduation_mpa < 1e9", name=op.f("ck_gauge_graduation_mpa_positive")
        ),
        sa.CheckConstraint("least_mpa >= 0 AND least_mpa < 1e9", name=op.f("ck_gauge_least_mpa_not_negative")),
        sa.ForeignKeyConstraint(["press_id"], ["press.id"], name=op.f("fk_gauge_press_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_gauge")),
    )
    op.create_index(op.f("ix_gauge_press_id"), "gauge", ["press_id"], unique=False)
    op.create_table(
        "mould",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("length_mm", sa.Float(), nullable=False),
        sa.Column("width_mm", sa.Float(), nullable=False),
        sa.Column("height_mm", sa.Float(), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint("trim(name) <> ''", name=op.f("ck_mould_name_not_blank")),
        sa.CheckConstraint("height_mm > 0 AND height_mm < 1e9", name=op.f("ck_mould_height_mm_positive")),
        sa.CheckConstraint("length_mm > 0 AND length_mm < 1e9", name=op.f("ck_mould_length_mm_positive")),
        sa.CheckConstraint("width_mm > 0 AND width_mm < 1e9", name=op.f("ck_mould_width_mm_positive")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_mould")),
    )
    op.create_table(
        "calibration",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("gauge_id", sa.Uuid(), nullable=False),
        sa.Column("done_on", sa.Date(), nullable=False),
        sa.Column("valid_from", sa.Date(), nullable=False),
        sa.Column("valid_until", sa.Date(), nullable=False),
        sa.Column("zero_mpa", sa.Float(), nullable=False),
        sa.Column("reference", sa.String(), nullable=False),
        sa.Column("reference_uncertainty", sa.Float(), nullable=True),
        sa.Column("replaces_id", sa.Uuid(), nullable=True),
        sa.Column("replaced_because", sa.String(), nullable=True),
        sa.CheckConstraint("trim(reference) <> ''", name=op.f("ck_calibration_reference_not_blank")),
        sa.CheckConstraint(
            "(replaces_id IS NULL) = (replaced_because IS NULL)", name=op.f("ck_calibration_replaces_id_together")
        ),
        sa.CheckConstraint(
            "reference_uncertainty >= 0 AND reference_uncertainty < 1e9",
            name=op.f("ck_calibration_reference_uncertainty_not_negative"),
        ),
        sa.CheckConstraint("replaces_id <> id", name=op.f("ck_calibration_replaces_other")),
        sa.CheckConstraint("valid_until > valid_from", name=op.f("ck_calibration_valid_for_a_while")),
        sa.CheckConstraint("zero_mpa > -1e9 AND zero_mpa < 1e9", name=op.f("ck_calibration_zero_mpa_finite")),
        sa.ForeignKeyConstraint(["gauge_id"], ["gauge.id"], name=op.f("fk_calibration_gauge_id")),
        sa.ForeignKeyConstraint(["replaces_id"], ["calibration.id"], name=op.f("fk_calibration_replaces_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_calibration")),
        sa.UniqueConstraint("replaces_id", name=op.f("uq_calibration_replaces_id")),
    )
    op.create_index(op.f("ix_calibration_gauge_id"), "calibration", ["gauge_id"], unique=False)
    op.create_table(
        "calibration_point",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("as_read", sa.JSON(), nullable=False),
        sa.Column("calibration_id", sa.Uuid(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("gauge_mpa", sa.Float(), nullable=False),
        sa.Column("force_kn", sa.Float(), nullable=False),
        sa.CheckConstraint("force_kn >= 0 AND force_kn < 1e9", name=op.f("ck_calibration_point_force_kn_not_negative")),
        sa.CheckConstraint(
            "gauge_mpa >= 0 AND gauge_mpa < 1e9", name=op.f("ck_calibration_point_gauge_mpa_not_negative")
        ),
        sa.ForeignKeyConstraint(
            ["calibration_id"], ["calibration.id"], name=op.f("fk_calibration_point_calibration_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_calibration_point")),
        sa.UniqueConstraint("calibration_id", "position", name=op.f("uq_calibration_point_calibration_id_position")),
    )
    op.create_table(
        "press_session",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("as_read", sa.JSON(), nullable=False),
        sa.Column("gauge_id", sa.Uuid(), nullable=False),
        sa.Column("opened_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("opened_by", sa.Uuid(), nullable=False),
        sa.Column("zero_before_mpa", sa.Float(), nullable=False),
        sa.Column("closed_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("closed_by", sa.Uuid(), nullable=True),
        sa.Column("zero_after_mpa", sa.Float(), nullable=True),
        sa.CheckConstraint(
            "(closed_at IS NULL) = (closed_by IS NULL) AND (closed_at IS NULL) = (zero_after_mpa IS NULL)",
            name=op.f("ck_press_session_closed_at_together"),
        ),
        sa.CheckConstraint(
            "zero_after_mpa > -1e9 AND zero_after_mpa < 1e9", name=op.f("ck_press_session_zero_after_mpa_finite")
        ),
        sa.CheckConstraint(
            "zero_before_mpa > -1e9 AND zero_before_mpa < 1e9", name=op.f("ck_press_session_zero_before_mpa_finite")
        ),
        sa.ForeignKeyConstraint(["closed_by"], ["person.id"], name=op.f("fk_press_session_closed_by")),
        sa.ForeignKeyConstraint(["gauge_id"], ["gauge.id"], name=op.f("fk_press_session_gauge_id")),
        sa.ForeignKeyConstraint(["opened_by"], ["person.id"], name=op.f("fk_press_session_opened_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_press_session")),
    )
    op.create_index(op.f("ix_press_session_gauge_id"), "press_session", ["gauge_id"], unique=False)
    op.create_index(
        "uq_press_session_open",
        "press_session",
        ["gauge_id"],
        unique=True,
        sqlite_where=sa.text("closed_at IS NULL"),
        postgresql_where=sa.text("closed_at IS NULL"),
    )


def downgrade() -> None:
    op.drop_table("press_session")
    op.drop_table("calibration_point")
    op.drop_table("calibration")
    op.drop_table("mould")
    op.drop_table("gauge")
    op.drop_table("press")
