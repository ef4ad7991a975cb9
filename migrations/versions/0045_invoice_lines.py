"""Keep what a job is charged for beside its offer, and the day it was paid."""

import sqlalchemy as sa
from alembic import op

revision = "0045"
down_revision = "0044"
branch_labels = None
depends_on = None

STANDING = sa.text("ended_at IS NULL")


def upgrade() -> None:
    moment = sa.DateTime(timezone=True)
    op.create_table(
        "invoice_line",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", moment, nullable=False),
        sa.Column("job_id", sa.Uuid(), nullable=False),
        sa.Column("words", sa.String(), nullable=False),
        sa.Column("price", sa.BigInteger(), nullable=False),
        sa.Column("written_by", sa.Uuid(), nullable=False),
        sa.Column("ended_at", moment, nullable=True),
        sa.Column("ended_by", sa.Uuid(), nullable=True),
        sa.CheckConstraint("trim(words) <> ''", name=op.f("ck_invoice_line_words_not_blank")),
        sa.CheckConstraint("price >= 0", name=op.f("ck_invoice_line_price_not_negative")),
        sa.CheckConstraint("(ended_at IS NULL) = (ended_by IS NULL)", name=op.f("ck_invoice_line_ended_at_together")),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_invoice_line_job_id")),
        sa.ForeignKeyConstraint(["written_by"], ["person.id"], name=op.f("fk_invoice_line_written_by")),
        sa.ForeignKeyConstraint(["ended_by"], ["person.id"], name=op.f("fk_invoice_line_ended_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_invoice_line")),
    )
    op.create_index(op.f("ix_invoice_line_job_id"), "invoice_line", ["job_id"])
    op.create_table(
        "payment",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", moment, nullable=False),
        sa.Column("job_id", sa.Uuid(), nullable=False),
        sa.Column("paid_on", sa.Date(), nullable=False),
        sa.Column("marked_by", sa.Uuid(), nullable=False),
        sa.Column("ended_at", moment, nullable=True),
        sa.Column("ended_by", sa.Uuid(), nullable=True),
        sa.CheckConstraint("(ended_at IS NULL) = (ended_by IS NULL)", name=op.f("ck_payment_ended_at_together")),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_payment_job_id")),
        sa.ForeignKeyConstraint(["marked_by"], ["person.id"], name=op.f("fk_payment_marked_by")),
        sa.ForeignKeyConstraint(["ended_by"], ["person.id"], name=op.f("fk_payment_ended_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_payment")),
    )
    op.create_index(
        "uq_payment_standing", "payment", ["job_id"], unique=True, sqlite_where=STANDING, postgresql_where=STANDING
    )


def downgrade() -> None:
    op.drop_table("payment")
    op.drop_table("invoice_line")
