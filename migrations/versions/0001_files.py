"""Keep a row for every stored file."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "file",
        sa.Column("sha256", sa.CHAR(64), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("media_type", sa.String(), nullable=False),
        sa.Column("bytes", sa.Integer(), nullable=False),
        sa.CheckConstraint("trim(media_type) <> ''", name=op.f("ck_file_media_type_not_blank")),
        sa.CheckConstraint("bytes >= 0 AND bytes < 1e9", name=op.f("ck_file_bytes_not_negative")),
        sa.PrimaryKeyConstraint("sha256", name=op.f("pk_file")),
    )


def downgrade() -> None:
    op.drop_table("file")
