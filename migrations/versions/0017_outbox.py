"""Keep letters to send, turns and archives made."""

import sqlalchemy as sa
from alembic import op

revision = "0017"
down_revision = "0016"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "outbox",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("event_key", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("person_id", sa.Uuid(), nullable=False),
        sa.Column("facts", sa.String(), nullable=False),
        sa.Column("due_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("claimed_until", sa.DateTime(timezone=True), nullable=True),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.Column("sent_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("last_error", sa.String(), nullable=True),
        sa.CheckConstraint("trim(event_key) <> ''", name=op.f("ck_outbox_event_key_not_blank")),
        sa.CheckConstraint("trim(kind) <> ''", name=op.f("ck_outbox_kind_not_blank")),
        sa.CheckConstraint("tries >= 0 AND tries < 1e9", name=op.f("ck_outbox_tries_not_negative")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_outbox_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_outbox")),
        sa.UniqueConstraint("event_key", name=op.f("uq_outbox_event_key")),
    )
    op.create_index(op.f("ix_outbox_due_at"), "outbox", ["due_at"], unique=False)
    op.create_table(
        "turn",
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("held_until", sa.DateTime(timezone=True), nullable=False),
        sa.Column("holder", sa.String(), nullable=False),
        sa.CheckConstraint("trim(holder) <> ''", name=op.f("ck_turn_holder_not_blank")),
        sa.CheckConstraint("trim(name) <> ''", name=op.f("ck_turn_name_not_blank")),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_turn")),
    )
    op.create_table(
        "archive_run",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("path", sa.String(), nullable=False),
        sa.Column("sha256", sa.CHAR(64), nullable=True),
        sa.Column("ok", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_archive_run")),
    )


def downgrade() -> None:
    op.drop_table("archive_run")
    op.drop_table("turn")
    op.drop_table("outbox")
