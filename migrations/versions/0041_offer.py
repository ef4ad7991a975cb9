"""Keep requests for a test and offers, and what became of them."""

import sqlalchemy as sa
from alembic import op

revision = "0041"
down_revision = "0040"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "offer",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("job_id", sa.Uuid(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("made_by", sa.Uuid(), nullable=False),
        sa.Column("price", sa.BigInteger(), nullable=True),
        sa.Column("expected_on", sa.Date(), nullable=True),
        sa.Column("remark", sa.String(), nullable=True),
        sa.Column("settled_as", sa.String(), nullable=True),
        sa.Column("settled_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("settled_by", sa.Uuid(), nullable=True),
        sa.Column("settled_name", sa.String(), nullable=True),
        sa.CheckConstraint("trim(settled_name) <> ''", name=op.f("ck_offer_settled_name_not_blank")),
        sa.CheckConstraint("price >= 0", name=op.f("ck_offer_price_not_negative")),
        sa.CheckConstraint(
            "settled_as IN ('accepted', 'declined', 'started without')", name=op.f("ck_offer_settled_as_known")
        ),
        sa.CheckConstraint("(price IS NULL) = (expected_on IS NULL)", name=op.f("ck_offer_price_together")),
        sa.CheckConstraint(
            "(settled_as IS NULL) = (settled_at IS NULL) AND (settled_as IS NULL) = (settled_by IS NULL)",
            name=op.f("ck_offer_settled_as_together"),
        ),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_offer_job_id")),
        sa.ForeignKeyConstraint(["made_by"], ["person.id"], name=op.f("fk_offer_made_by")),
        sa.ForeignKeyConstraint(["settled_by"], ["person.id"], name=op.f("fk_offer_settled_by")),
        sa.CheckConstraint("position > 0 AND position < 1e9", name=op.f("ck_offer_position_positive")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_offer")),
        sa.UniqueConstraint("job_id", "position", name=op.f("uq_offer_job_id_position")),
    )


def downgrade() -> None:
    op.drop_table("offer")
