"""Keep the trail and the answers given."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "trail",
        sa.Column("position", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Uuid(), nullable=True),
        sa.Column("device_id", sa.Uuid(), nullable=True),
        sa.Column("via", sa.String(), nullable=False),
        sa.Column("request_id", sa.String(), nullable=False),
        sa.Column("act", sa.String(), nullable=False),
        sa.Column("subject_kind", sa.String(), nullable=False),
        sa.Column("subject_id", sa.String(), nullable=False),
        sa.Column("details", sa.String(), nullable=False),
        sa.Column("previous_sha256", sa.CHAR(64), nullable=False),
        sa.Column("sha256", sa.CHAR(64), nullable=False),
        sa.CheckConstraint("trim(act) <> ''", name=op.f("ck_trail_act_not_blank")),
        sa.CheckConstraint("trim(subject_kind) <> ''", name=op.f("ck_trail_subject_kind_not_blank")),
        sa.CheckConstraint("via IN ('page', 'api', 'command', 'round')", name=op.f("ck_trail_via_known")),
        sa.CheckConstraint("position > 0 AND position < 1e9", name=op.f("ck_trail_position_positive")),
        sa.ForeignKeyConstraint(["device_id"], ["device.id"], name=op.f("fk_trail_device_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_trail_person_id")),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_trail")),
        sa.UniqueConstraint("previous_sha256", name=op.f("uq_trail_previous_sha256")),
        sa.UniqueConstraint("sha256", name=op.f("uq_trail_sha256")),
    )
    op.create_index(op.f("ix_trail_subject_id"), "trail", ["subject_id"], unique=False)
    op.create_table(
        "replay",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("caller_key", sa.String(80), nullable=False),
        sa.Column("request_key", sa.String(64), nullable=False),
        sa.Column("act", sa.String(), nullable=False),
        sa.Column("input_sha256", sa.CHAR(64), nullable=False),
        sa.Column("answer", sa.String(), nullable=False),
        sa.Column("trail_position", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("trim(act) <> ''", name=op.f("ck_replay_act_not_blank")),
        sa.CheckConstraint("trim(caller_key) <> ''", name=op.f("ck_replay_caller_key_not_blank")),
        sa.CheckConstraint("trim(request_key) <> ''", name=op.f("ck_replay_request_key_not_blank")),
        sa.ForeignKeyConstraint(["trail_position"], ["trail.position"], name=op.f("fk_replay_trail_position")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_replay")),
        sa.UniqueConstraint("caller_key", "request_key", name=op.f("uq_replay_caller_key_request_key")),
    )


def downgrade() -> None:
    op.drop_table("replay")
    op.drop_table("trail")
