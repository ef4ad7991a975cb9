"""Send mail from the outbox; keep who declines mail on progress, and whom a customer may call."""

import sqlalchemy as sa
from alembic import op

revision = "0038"
down_revision = "0037"
branch_labels = None
depends_on = None


def upgrade() -> None:
    # Nothing ever wrote into the one before.
    op.drop_table("outbox")
    op.create_table(
        "outbox",
        *_shared(),
        sa.Column("subject_id", sa.Uuid(), nullable=False),
        sa.Column("until_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("handed_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("given_up_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint(
            "kind IN ('invitation', 'offer made', 'offer accepted', 'request', 'soil received', 'question', 'answer', "
            "'blocks due', 'result issued', 'result amended', 'result withdrawn')",
            name=op.f("ck_outbox_kind_known"),
        ),
        sa.UniqueConstraint("event_key", "person_id", name=op.f("uq_outbox_event_key_person_id")),
    )
    op.create_index(op.f("ix_outbox_sent_at_given_up_at_due_at"), "outbox", ["sent_at", "given_up_at", "due_at"])
    op.create_index(op.f("ix_outbox_subject_id"), "outbox", ["subject_id"])
    op.create_index(op.f("ix_outbox_person_id"), "outbox", ["person_id"])
    op.add_column("person", sa.Column("declines_progress", sa.Boolean(), nullable=False, server_default=sa.false()))
    op.add_column("shop", sa.Column("whom_to_call", sa.String(), nullable=False, server_default=""))


def downgrade() -> None:
    op.drop_column("shop", "whom_to_call")
    op.drop_column("person", "declines_progress")
    op.drop_table("outbox")
    op.create_table(
        "outbox",
        *_shared(),
        sa.CheckConstraint("trim(kind) <> ''", name=op.f("ck_outbox_kind_not_blank")),
        sa.UniqueConstraint("event_key", name=op.f("uq_outbox_event_key")),
    )
    op.create_index(op.f("ix_outbox_due_at"), "outbox", ["due_at"])


def _shared() -> list[sa.Column[object] | sa.Constraint]:
    return [
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
        sa.CheckConstraint("tries >= 0 AND tries < 1e9", name=op.f("ck_outbox_tries_not_negative")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_outbox_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_outbox")),
    ]
