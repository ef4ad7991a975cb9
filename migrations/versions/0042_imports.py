"""Keep readings of older jobs that came in a file: the file, its jobs, and each reading as it was typed there."""

import sqlalchemy as sa
from alembic import op

revision = "0042"
down_revision = "0041"
branch_labels = None
depends_on = None

EDGE = "1e9"
POSITIVE = ("age_days", "soak_hours", "step", "length_mm", "width_mm", "height_mm", "mass_kg")
NOT_NEGATIVE = ("stress_mpa", "force_kn", "gauge_mpa")


def upgrade() -> None:
    moment = sa.DateTime(timezone=True)
    op.create_table(
        "import_file",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", moment, nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("sha256", sa.CHAR(64), nullable=False),
        sa.Column("begun_by", sa.Uuid(), nullable=True),
        sa.Column("imported_at", moment, nullable=True),
        sa.Column("imported_by", sa.Uuid(), nullable=True),
        sa.Column("choices", sa.String(), nullable=True),
        sa.Column("readings", sa.Integer(), nullable=True),
        sa.Column("ended_at", moment, nullable=True),
        sa.Column("ended_because", sa.String(), nullable=True),
        sa.CheckConstraint("trim(name) <> ''", name=op.f("ck_import_file_name_not_blank")),
        sa.CheckConstraint(f"readings > 0 AND readings < {EDGE}", name=op.f("ck_import_file_readings_positive")),
        sa.CheckConstraint(
            "(imported_at IS NULL) = (choices IS NULL) AND (imported_at IS NULL) = (readings IS NULL)",
            name=op.f("ck_import_file_imported_at_together"),
        ),
        sa.CheckConstraint(
            "(ended_at IS NULL) = (ended_because IS NULL)", name=op.f("ck_import_file_ended_at_together")
        ),
        sa.ForeignKeyConstraint(["sha256"], ["file.sha256"], name=op.f("fk_import_file_sha256")),
        sa.ForeignKeyConstraint(["begun_by"], ["person.id"], name=op.f("fk_import_file_begun_by")),
        sa.ForeignKeyConstraint(["imported_by"], ["person.id"], name=op.f("fk_import_file_imported_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_import_file")),
    )
    counts = sa.text("imported_at IS NOT NULL AND ended_at IS NULL")
    op.create_index(
        "uq_import_file_once", "import_file", ["sha256"], unique=True, sqlite_where=counts, postgresql_where=counts
    )
    op.create_table(
        "imported_job",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", moment, nullable=False),
        sa.Column("import_file_id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("customer_id", sa.Uuid(), nullable=True),
        sa.Column("site", sa.String(), nullable=True),
        sa.CheckConstraint("trim(name) <> ''", name=op.f("ck_imported_job_name_not_blank")),
        sa.ForeignKeyConstraint(["import_file_id"], ["import_file.id"], name=op.f("fk_imported_job_import_file_id")),
        sa.ForeignKeyConstraint(["customer_id"], ["customer.id"], name=op.f("fk_imported_job_customer_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_imported_job")),
    )
    op.create_index(op.f("ix_imported_job_import_file_id"), "imported_job", ["import_file_id"])
    op.create_index(op.f("ix_imported_job_customer_id"), "imported_job", ["customer_id"])
    _readings()


def _readings() -> None:
    moment = sa.DateTime(timezone=True)
    numbers = [sa.Column(name, sa.Float(), nullable=name != "age_days") for name in (*POSITIVE, *NOT_NEGATIVE)]
    op.create_table(
        "imported_reading",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", moment, nullable=False),
        sa.Column("as_read", sa.JSON(), nullable=False),
        sa.Column("imported_job_id", sa.Uuid(), nullable=False),
        sa.Column("row", sa.Integer(), nullable=False),
        sa.Column("block", sa.String(), nullable=False),
        sa.Column("recipe", sa.String(), nullable=False),
        sa.Column("batch", sa.String(), nullable=False),
        sa.Column("condition", sa.String(), nullable=False),
        sa.Column("outcome", sa.String(), nullable=False),
        sa.Column("gauge_id", sa.Uuid(), nullable=True),
        sa.Column("crushed_on", sa.Date(), nullable=True),
        sa.Column("crushed_by", sa.String(), nullable=True),
        sa.Column("remark", sa.String(), nullable=True),
        *numbers,
        *(
            sa.CheckConstraint(f"{c} > 0 AND {c} < {EDGE}", name=op.f(f"ck_imported_reading_{c}_positive"))
            for c in (*POSITIVE, "row")
        ),
        *(
            sa.CheckConstraint(f"{c} >= 0 AND {c} < {EDGE}", name=op.f(f"ck_imported_reading_{c}_not_negative"))
            for c in NOT_NEGATIVE
        ),
        *(
            sa.CheckConstraint(f"trim({c}) <> ''", name=op.f(f"ck_imported_reading_{c}_not_blank"))
            for c in ("block", "recipe", "batch")
        ),
        sa.CheckConstraint(
            "condition IN ('as cured', 'air-dry', 'oven-dry', 'soaked')",
            name=op.f("ck_imported_reading_condition_known"),
        ),
        sa.CheckConstraint(
            "outcome IN ('broke', 'held', 'fell apart', 'spoiled')", name=op.f("ck_imported_reading_outcome_known")
        ),
        sa.CheckConstraint(
            "(condition = 'soaked') = (soak_hours IS NOT NULL)", name=op.f("ck_imported_reading_soaked_has_hours")
        ),
        sa.CheckConstraint(
            "CASE WHEN stress_mpa IS NULL THEN 0 ELSE 1 END + CASE WHEN force_kn IS NULL THEN 0 ELSE 1 END"
            " + CASE WHEN gauge_mpa IS NULL THEN 0 ELSE 1 END"
            " = CASE WHEN outcome IN ('broke', 'held') THEN 1 ELSE 0 END",
            name=op.f("ck_imported_reading_loaded_has_one"),
        ),
        sa.CheckConstraint(
            "stress_mpa IS NOT NULL OR outcome NOT IN ('broke', 'held')"
            " OR (length_mm IS NOT NULL AND width_mm IS NOT NULL)",
            name=op.f("ck_imported_reading_force_has_face"),
        ),
        sa.CheckConstraint(
            "gauge_mpa IS NULL OR (gauge_id IS NOT NULL AND crushed_on IS NOT NULL)",
            name=op.f("ck_imported_reading_gauge_has_day"),
        ),
        sa.ForeignKeyConstraint(
            ["imported_job_id"], ["imported_job.id"], name=op.f("fk_imported_reading_imported_job_id")
        ),
        sa.ForeignKeyConstraint(["gauge_id"], ["gauge.id"], name=op.f("fk_imported_reading_gauge_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_imported_reading")),
        sa.UniqueConstraint("imported_job_id", "block", name=op.f("uq_imported_reading_imported_job_id_block")),
    )
    op.create_index(op.f("ix_imported_reading_gauge_id"), "imported_reading", ["gauge_id"])


def downgrade() -> None:
    for table in ("imported_reading", "imported_job", "import_file"):
        op.drop_table(table)
