"""Keep what all jobs taught when they were last fitted together."""

import sqlalchemy as sa
from alembic import op

revision = "0047"
down_revision = "0046"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "kept_history",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("trail_position", sa.Integer(), nullable=False),
        sa.Column("trail_sha256", sa.CHAR(64), nullable=False),
        sa.Column("engine", sa.String(), nullable=False),
        sa.Column("about", sa.String(), nullable=False),
        sa.Column("jobs", sa.String(), nullable=False),
        sa.CheckConstraint(
            "trail_position >= 0 AND trail_position < 1e9", name=op.f("ck_kept_history_trail_position_not_negative")
        ),
        sa.CheckConstraint("trim(engine) <> ''", name=op.f("ck_kept_history_engine_not_blank")),
        sa.CheckConstraint("trim(about) <> ''", name=op.f("ck_kept_history_about_not_blank")),
        sa.CheckConstraint("trim(jobs) <> ''", name=op.f("ck_kept_history_jobs_not_blank")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_kept_history")),
    )


def downgrade() -> None:
    op.drop_table("kept_history")
