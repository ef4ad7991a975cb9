"""Keep photographs."""

import sqlalchemy as sa
from alembic import op

revision = "0016"
down_revision = "0015"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "photo",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("sha256", sa.CHAR(64), nullable=False),
        sa.Column("receipt_id", sa.Uuid(), nullable=True),
        sa.Column("block_id", sa.Uuid(), nullable=True),
        sa.Column("job_id", sa.Uuid(), nullable=True),
        sa.Column("taken_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("taken_by", sa.Uuid(), nullable=False),
        sa.Column("shown", sa.Boolean(), nullable=False),
        sa.Column("removed_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint(
            "CASE WHEN receipt_id IS NULL THEN 0 ELSE 1 END + CASE WHEN block_id IS NULL THEN 0 ELSE 1 END + "
            "CASE WHEN job_id IS NULL THEN 0 ELSE 1 END = 1",
            name=op.f("ck_photo_belongs_to_one"),
        ),
        sa.ForeignKeyConstraint(["block_id"], ["block.id"], name=op.f("fk_photo_block_id")),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_photo_job_id")),
        sa.ForeignKeyConstraint(["receipt_id"], ["receipt.id"], name=op.f("fk_photo_receipt_id")),
        sa.ForeignKeyConstraint(["sha256"], ["file.sha256"], name=op.f("fk_photo_sha256")),
        sa.ForeignKeyConstraint(["taken_by"], ["person.id"], name=op.f("fk_photo_taken_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_photo")),
    )
    op.create_index(op.f("ix_photo_block_id"), "photo", ["block_id"], unique=False)
    op.create_index(op.f("ix_photo_job_id"), "photo", ["job_id"], unique=False)
    op.create_index(op.f("ix_photo_receipt_id"), "photo", ["receipt_id"], unique=False)


def downgrade() -> None:
    op.drop_table("photo")
