"""Keep when the shop is open, and the single days on which it is closed."""

import sqlalchemy as sa
from alembic import op

revision = "0039"
down_revision = "0038"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "opening_hours",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("closed_weekdays", sa.String(), nullable=False),
        sa.Column("opens_at", sa.String(), nullable=True),
        sa.Column("closes_at", sa.String(), nullable=True),
        sa.Column("chosen_by", sa.Uuid(), nullable=False),
        sa.CheckConstraint("(opens_at IS NULL) = (closes_at IS NULL)", name=op.f("ck_opening_hours_opens_at_together")),
        sa.CheckConstraint("opens_at < closes_at", name=op.f("ck_opening_hours_closes_after_it_opens")),
        sa.ForeignKeyConstraint(["chosen_by"], ["person.id"], name=op.f("fk_opening_hours_chosen_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_opening_hours")),
    )
    op.create_table(
        "closed_day",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("entered_by", sa.Uuid(), nullable=False),
        sa.CheckConstraint("trim(name) <> ''", name=op.f("ck_closed_day_name_not_blank")),
        sa.ForeignKeyConstraint(["entered_by"], ["person.id"], name=op.f("fk_closed_day_entered_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_closed_day")),
        sa.UniqueConstraint("day", name=op.f("uq_closed_day_day")),
    )


def downgrade() -> None:
    op.drop_table("closed_day")
    op.drop_table("opening_hours")
