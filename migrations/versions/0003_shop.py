"""Keep the shop itself and what its history taught it."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "shop",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("letterhead", sa.String(), nullable=True),
        sa.Column("logo_sha256", sa.CHAR(64), nullable=True),
        sa.Column("time_zone", sa.String(), nullable=False),
        sa.Column("currency", sa.String(3), nullable=False),
        sa.Column("paper", sa.String(), nullable=False),
        sa.Column("units_first", sa.String(), nullable=False),
        sa.Column("language", sa.String(), nullable=False),
        sa.Column("assurance", sa.Float(), nullable=False),
        sa.Column("margin", sa.Float(), nullable=False),
        sa.CheckConstraint("language IN ('en', 'es')", name=op.f("ck_shop_language_known")),
        sa.CheckConstraint("paper IN ('A4', 'Letter')", name=op.f("ck_shop_paper_known")),
        sa.CheckConstraint("trim(name) <> ''", name=op.f("ck_shop_name_not_blank")),
        sa.CheckConstraint("trim(time_zone) <> ''", name=op.f("ck_shop_time_zone_not_blank")),
        sa.CheckConstraint("units_first IN ('imperial', 'metric')", name=op.f("ck_shop_units_first_known")),
        sa.CheckConstraint("assurance > 0 AND assurance < 1", name=op.f("ck_shop_assurance_open")),
        sa.CheckConstraint("id = 1", name=op.f("ck_shop_only_one")),
        sa.CheckConstraint("length(trim(currency)) = 3", name=op.f("ck_shop_currency_code")),
        sa.CheckConstraint("margin > 0 AND margin < 1e9", name=op.f("ck_shop_margin_positive")),
        sa.ForeignKeyConstraint(["logo_sha256"], ["file.sha256"], name=op.f("fk_shop_logo_sha256")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_shop")),
    )
    op.create_table(
        "prior",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("adopted_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("adopted_by", sa.Uuid(), nullable=False),
        sa.Column("median_mpa", sa.Float(), nullable=False),
        sa.Column("log_sd", sa.Float(), nullable=False),
        sa.Column("scatter", sa.Float(), nullable=False),
        sa.Column("scatter_log_sd", sa.Float(), nullable=False),
        sa.Column("spread", sa.Float(), nullable=False),
        sa.Column("spread_log_sd", sa.Float(), nullable=False),
        sa.Column("batch_sd", sa.Float(), nullable=False),
        sa.Column("rests_on", sa.String(), nullable=False),
        sa.CheckConstraint("batch_sd > 0 AND batch_sd < 1e9", name=op.f("ck_prior_batch_sd_positive")),
        sa.CheckConstraint("log_sd > 0 AND log_sd < 1e9", name=op.f("ck_prior_log_sd_positive")),
        sa.CheckConstraint("median_mpa > 0 AND median_mpa < 1e9", name=op.f("ck_prior_median_mpa_positive")),
        sa.CheckConstraint("scatter > 0 AND scatter < 1e9", name=op.f("ck_prior_scatter_positive")),
        sa.CheckConstraint(
            "scatter_log_sd > 0 AND scatter_log_sd < 1e9", name=op.f("ck_prior_scatter_log_sd_positive")
        ),
        sa.CheckConstraint("spread > 0 AND spread < 1e9", name=op.f("ck_prior_spread_positive")),
        sa.CheckConstraint("spread_log_sd > 0 AND spread_log_sd < 1e9", name=op.f("ck_prior_spread_log_sd_positive")),
        sa.ForeignKeyConstraint(["adopted_by"], ["person.id"], name=op.f("fk_prior_adopted_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_prior")),
    )


def downgrade() -> None:
    op.drop_table("prior")
    op.drop_table("shop")
