"""Keep every secret as its hash, and attempts at doors."""

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "ticket",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("token_sha256", sa.CHAR(64), nullable=False),
        sa.Column("person_id", sa.Uuid(), nullable=True),
        sa.Column("device_id", sa.Uuid(), nullable=True),
        sa.Column("issued_result_id", sa.Uuid(), nullable=True),
        sa.Column("role", sa.String(), nullable=True),
        sa.Column("made_by", sa.Uuid(), nullable=True),
        sa.Column("expires_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("last_used_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("uses", sa.Integer(), nullable=False),
        sa.Column("most_uses", sa.Integer(), nullable=True),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint(
            "(kind = 'share') = (issued_result_id IS NOT NULL)", name=op.f("ck_ticket_share_has_result")
        ),
        sa.CheckConstraint(
            "kind IN ('session', 'invite', 'sign_in', 'api', 'share', 'calendar', 'device')",
            name=op.f("ck_ticket_kind_known"),
        ),
        sa.CheckConstraint("role IN ('owner', 'technician', 'customer')", name=op.f("ck_ticket_role_known")),
        sa.CheckConstraint("most_uses > 0 AND most_uses < 1e9", name=op.f("ck_ticket_most_uses_positive")),
        sa.CheckConstraint("uses >= 0 AND uses < 1e9", name=op.f("ck_ticket_uses_not_negative")),
        sa.ForeignKeyConstraint(["device_id"], ["device.id"], name=op.f("fk_ticket_device_id")),
        sa.ForeignKeyConstraint(["issued_result_id"], ["issued_result.id"], name=op.f("fk_ticket_issued_result_id")),
        sa.ForeignKeyConstraint(["made_by"], ["person.id"], name=op.f("fk_ticket_made_by")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_ticket_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_ticket")),
        sa.UniqueConstraint("token_sha256", name=op.f("uq_ticket_token_sha256")),
    )
    op.create_index(op.f("ix_ticket_issued_result_id"), "ticket", ["issued_result_id"], unique=False)
    op.create_index(op.f("ix_ticket_person_id"), "ticket", ["person_id"], unique=False)
    op.create_table(
        "attempt",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("bucket", sa.String(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint("trim(bucket) <> ''", name=op.f("ck_attempt_bucket_not_blank")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_attempt")),
    )
    op.create_index(op.f("ix_attempt_bucket_at"), "attempt", ["bucket", "at"], unique=False)


def downgrade() -> None:
    op.drop_table("attempt")
    op.drop_table("ticket")
