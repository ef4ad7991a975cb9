"""Keep issued results and the calibrations they rest on."""

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "issued_result",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("job_id", sa.Uuid(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("issued_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("issued_by", sa.Uuid(), nullable=False),
        sa.Column("remark", sa.String(), nullable=False),
        sa.Column("data", sa.String(), nullable=False),
        sa.Column("data_sha256", sa.CHAR(64), nullable=False),
        sa.Column("engine", sa.String(), nullable=False),
        sa.Column("page_sha256", sa.CHAR(64), nullable=False),
        sa.Column("pdf_sha256", sa.CHAR(64), nullable=False),
        sa.Column("language", sa.String(), nullable=False),
        sa.Column("paper", sa.String(), nullable=False),
        sa.Column("changes", sa.String(), nullable=False),
        sa.Column("withdrawn_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("withdrawn_because", sa.String(), nullable=True),
        sa.CheckConstraint("language IN ('en', 'es')", name=op.f("ck_issued_result_language_known")),
        sa.CheckConstraint("paper IN ('A4', 'Letter')", name=op.f("ck_issued_result_paper_known")),
        sa.CheckConstraint("trim(data) <> ''", name=op.f("ck_issued_result_data_not_blank")),
        sa.CheckConstraint("trim(engine) <> ''", name=op.f("ck_issued_result_engine_not_blank")),
        sa.CheckConstraint(
            "(withdrawn_at IS NULL) = (withdrawn_because IS NULL)", name=op.f("ck_issued_result_withdrawn_at_together")
        ),
        sa.CheckConstraint("number > 0 AND number < 1e9", name=op.f("ck_issued_result_number_positive")),
        sa.ForeignKeyConstraint(["issued_by"], ["person.id"], name=op.f("fk_issued_result_issued_by")),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_issued_result_job_id")),
        sa.ForeignKeyConstraint(["page_sha256"], ["file.sha256"], name=op.f("fk_issued_result_page_sha256")),
        sa.ForeignKeyConstraint(["pdf_sha256"], ["file.sha256"], name=op.f("fk_issued_result_pdf_sha256")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_issued_result")),
        sa.UniqueConstraint("job_id", "number", name=op.f("uq_issued_result_job_id_number")),
    )
    op.create_table(
        "issued_calibration",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("issued_result_id", sa.Uuid(), nullable=False),
        sa.Column("calibration_id", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["calibration_id"], ["calibration.id"], name=op.f("fk_issued_calibration_calibration_id")
        ),
        sa.ForeignKeyConstraint(
            ["issued_result_id"], ["issued_result.id"], name=op.f("fk_issued_calibration_issued_result_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_issued_calibration")),
        sa.UniqueConstraint(
            "issued_result_id", "calibration_id", name=op.f("uq_issued_calibration_issued_result_id_calibration_id")
        ),
    )
    op.create_index(
        op.f("ix_issued_calibration_calibration_id"), "issued_calibration", ["calibration_id"], unique=False
    )


def downgrade() -> None:
    op.drop_table("issued_calibration")
    op.drop_table("issued_result")
