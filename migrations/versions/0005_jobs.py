"""Keep jobs and the criteria that apply to them."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "job",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("as_read", sa.JSON(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("customer_id", sa.Uuid(), nullable=False),
        sa.Column("site", sa.String(), nullable=False),
        sa.Column("question", sa.String(), nullable=False),
        sa.Column("question_kind", sa.String(), nullable=False),
        sa.Column("wall_thickness_mm", sa.Float(), nullable=True),
        sa.Column("wall_height_m", sa.Float(), nullable=True),
        sa.Column("roof_line_load_kn_m", sa.Float(), nullable=True),
        sa.Column("machine_pressure_mpa", sa.Float(), nullable=True),
        sa.Column("machine_length_mm", sa.Float(), nullable=True),
        sa.Column("machine_width_mm", sa.Float(), nullable=True),
        sa.Column("machine_height_mm", sa.Float(), nullable=True),
        sa.Column("machine_density_kg_m3", sa.Float(), nullable=True),
        sa.Column("promised_on", sa.Date(), nullable=True),
        sa.Column("closed_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("closed_because", sa.String(), nullable=True),
        sa.CheckConstraint(
            "question_kind IN ('addition', 'least stabiliser', 'which soil', 'meets code')",
            name=op.f("ck_job_question_kind_known"),
        ),
        sa.CheckConstraint("trim(question) <> ''", name=op.f("ck_job_question_not_blank")),
        sa.CheckConstraint("trim(site) <> ''", name=op.f("ck_job_site_not_blank")),
        sa.CheckConstraint(
            "(machine_length_mm IS NULL) = (machine_width_mm IS NULL) AND "
            "(machine_length_mm IS NULL) = (machine_height_mm IS NULL)",
            name=op.f("ck_job_machine_length_mm_together"),
        ),
        sa.CheckConstraint(
            "closed_because IS NULL OR closed_at IS NOT NULL", name=op.f("ck_job_closed_because_closed")
        ),
        sa.CheckConstraint(
            "machine_density_kg_m3 > 0 AND machine_density_kg_m3 < 1e9",
            name=op.f("ck_job_machine_density_kg_m3_positive"),
        ),
        sa.CheckConstraint(
            "machine_height_mm > 0 AND machine_height_mm < 1e9", name=op.f("ck_job_machine_height_mm_positive")
        ),
        sa.CheckConstraint(
            "machine_length_mm > 0 AND machine_length_mm < 1e9", name=op.f("ck_job_machine_length_mm_positive")
        ),
        sa.CheckConstraint(
            "machine_pressure_mpa > 0 AND machine_pressure_mpa < 1e9", name=op.f("ck_job_machine_pressure_mpa_positive")
        ),
        sa.CheckConstraint(
            "machine_width_mm > 0 AND machine_width_mm < 1e9", name=op.f("ck_job_machine_width_mm_positive")
        ),
        sa.CheckConstraint("number > 0 AND number < 1e9", name=op.f("ck_job_number_positive")),
        sa.CheckConstraint(
            "roof_line_load_kn_m > 0 AND roof_line_load_kn_m < 1e9", name=op.f("ck_job_roof_line_load_kn_m_positive")
        ),
        sa.CheckConstraint("wall_height_m > 0 AND wall_height_m < 1e9", name=op.f("ck_job_wall_height_m_positive")),
        sa.CheckConstraint(
            "wall_thickness_mm > 0 AND wall_thickness_mm < 1e9", name=op.f("ck_job_wall_thickness_mm_positive")
        ),
        sa.ForeignKeyConstraint(["customer_id"], ["customer.id"], name=op.f("fk_job_customer_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_job")),
        sa.UniqueConstraint("number", name=op.f("uq_job_number")),
    )
    op.create_index(op.f("ix_job_customer_id"), "job", ["customer_id"], unique=False)
    op.create_table(
        "job_criterion",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("job_id", sa.Uuid(), nullable=False),
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("edition", sa.String(), nullable=False),
        sa.Column("rules", sa.String(), nullable=False),
        sa.CheckConstraint("trim(edition) <> ''", name=op.f("ck_job_criterion_edition_not_blank")),
        sa.CheckConstraint("trim(key) <> ''", name=op.f("ck_job_criterion_key_not_blank")),
        sa.CheckConstraint("trim(rules) <> ''", name=op.f("ck_job_criterion_rules_not_blank")),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_job_criterion_job_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_job_criterion")),
        sa.UniqueConstraint("job_id", "key", "edition", name=op.f("uq_job_criterion_job_id_key_edition")),
    )
    op.create_table(
        "own_criterion",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("rules", sa.String(), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint("trim(name) <> ''", name=op.f("ck_own_criterion_name_not_blank")),
        sa.CheckConstraint("trim(rules) <> ''", name=op.f("ck_own_criterion_rules_not_blank")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_own_criterion")),
    )
    op.create_table(
        "criterion_check",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("edition", sa.String(), nullable=False),
        sa.Column("file_sha256", sa.CHAR(64), nullable=False),
        sa.Column("checked_by", sa.Uuid(), nullable=False),
        sa.Column("checked_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.CheckConstraint("trim(edition) <> ''", name=op.f("ck_criterion_check_edition_not_blank")),
        sa.CheckConstraint("trim(key) <> ''", name=op.f("ck_criterion_check_key_not_blank")),
        sa.ForeignKeyConstraint(["checked_by"], ["person.id"], name=op.f("fk_criterion_check_checked_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_criterion_check")),
    )
    op.create_table(
        "own_band",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("values", sa.String(), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint("trim(key) <> ''", name=op.f("ck_own_band_key_not_blank")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_own_band")),
    )
    op.create_table(
        "message",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("job_id", sa.Uuid(), nullable=False),
        sa.Column("person_id", sa.Uuid(), nullable=False),
        sa.Column("text", sa.String(), nullable=False),
        sa.CheckConstraint("trim(text) <> ''", name=op.f("ck_message_text_not_blank")),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_message_job_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_message_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_message")),
    )
    op.create_index(op.f("ix_message_job_id"), "message", ["job_id"], unique=False)


def downgrade() -> None:
    op.drop_table("message")
    op.drop_table("own_band")
    op.drop_table("criterion_check")
    op.drop_table("own_criterion")
    op.drop_table("job_criterion")
    op.drop_table("job")
