"""Keep forms that are half filled in: a can weighed damp today and dried tomorrow."""

import sqlalchemy as sa
from alembic import op

revision = "0032"
down_revision = "0031"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "unfinished",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("subject_id", sa.Uuid(), nullable=False),
        sa.Column("form", sa.String(), nullable=False),
        sa.Column("typed", sa.JSON(), nullable=False),
        sa.Column("kept_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("kept_by", sa.Uuid(), nullable=False),
        sa.CheckConstraint("trim(form) <> ''", name=op.f("ck_unfinished_form_not_blank")),
        sa.ForeignKeyConstraint(["kept_by"], ["person.id"], name=op.f("fk_unfinished_kept_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_unfinished")),
        sa.UniqueConstraint("subject_id", "form", name=op.f("uq_unfinished_subject_id_form")),
    )


def downgrade() -> None:
    op.drop_table("unfinished")
