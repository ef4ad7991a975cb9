"""Keep customers, people and the shop's tablets."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "customer",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("contact", sa.String(), nullable=True),
        sa.Column("language", sa.String(), nullable=True),
        sa.Column("progress_mail", sa.Boolean(), nullable=False),
        sa.CheckConstraint("language IN ('en', 'es')", name=op.f("ck_customer_language_known")),
        sa.CheckConstraint("trim(name) <> ''", name=op.f("ck_customer_name_not_blank")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_customer")),
    )
    op.create_table(
        "person",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("email", sa.String(), nullable=False),
        sa.Column("role", sa.String(), nullable=False),
        sa.Column("customer_id", sa.Uuid(), nullable=True),
        sa.Column("password_hash", sa.String(), nullable=True),
        sa.Column("totp_secret", sa.String(), nullable=True),
        sa.Column("pin_hash", sa.String(), nullable=True),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint(
            "(role = 'customer') = (customer_id IS NOT NULL)", name=op.f("ck_person_customer_has_customer")
        ),
        sa.CheckConstraint("role IN ('owner', 'technician', 'customer')", name=op.f("ck_person_role_known")),
        sa.CheckConstraint("trim(email) <> ''", name=op.f("ck_person_email_not_blank")),
        sa.CheckConstraint("trim(name) <> ''", name=op.f("ck_person_name_not_blank")),
        sa.CheckConstraint("email = lower(email)", name=op.f("ck_person_email_lower")),
        sa.ForeignKeyConstraint(["customer_id"], ["customer.id"], name=op.f("fk_person_customer_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_person")),
        sa.UniqueConstraint("email", name=op.f("uq_person_email")),
    )
    op.create_index(op.f("ix_person_customer_id"), "person", ["customer_id"], unique=False)
    op.create_table(
        "recovery_code",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Uuid(), nullable=False),
        sa.Column("code_sha256", sa.CHAR(64), nullable=False),
        sa.Column("used_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_recovery_code_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recovery_code")),
        sa.UniqueConstraint("code_sha256", name=op.f("uq_recovery_code_code_sha256")),
    )
    op.create_index(op.f("ix_recovery_code_person_id"), "recovery_code", ["person_id"], unique=False)
    op.create_table(
        "device",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("enrolled_by", sa.Uuid(), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("last_spoke_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("unsent", sa.Integer(), nullable=False),
        sa.Column("clock_ahead_s", sa.Float(), nullable=True),
        sa.CheckConstraint("trim(name) <> ''", name=op.f("ck_device_name_not_blank")),
        sa.CheckConstraint("clock_ahead_s > -1e9 AND clock_ahead_s < 1e9", name=op.f("ck_device_clock_ahead_s_finite")),
        sa.CheckConstraint("unsent >= 0 AND unsent < 1e9", name=op.f("ck_device_unsent_not_negative")),
        sa.ForeignKeyConstraint(["enrolled_by"], ["person.id"], name=op.f("fk_device_enrolled_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_device")),
    )


def downgrade() -> None:
    op.drop_table("device")
    op.drop_table("recovery_code")
    op.drop_table("person")
    op.drop_table("customer")
