"""Keep what a corrected row said before."""

import sqlalchemy as sa
from alembic import op

revision = "0015"
down_revision = "0014"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "correction",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("subject_kind", sa.String(), nullable=False),
        sa.Column("subject_id", sa.Uuid(), nullable=False),
        sa.Column("was", sa.String(), nullable=False),
        sa.Column("became", sa.String(), nullable=False),
        sa.Column("corrected_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("corrected_by", sa.Uuid(), nullable=False),
        sa.Column("because", sa.String(), nullable=False),
        sa.CheckConstraint("trim(because) <> ''", name=op.f("ck_correction_because_not_blank")),
        sa.CheckConstraint("trim(subject_kind) <> ''", name=op.f("ck_correction_subject_kind_not_blank")),
        sa.ForeignKeyConstraint(["corrected_by"], ["person.id"], name=op.f("fk_correction_corrected_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_correction")),
    )
    op.create_index(op.f("ix_correction_subject_id"), "correction", ["subject_id"], unique=False)


def downgrade() -> None:
    op.drop_table("correction")
