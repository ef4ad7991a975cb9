"""Keep materials, prices and sacks."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "material",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("customer_id", sa.Uuid(), nullable=True),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint("kind IN ('soil', 'sand', 'cement', 'lime', 'other')", name=op.f("ck_material_kind_known")),
        sa.CheckConstraint("trim(name) <> ''", name=op.f("ck_material_name_not_blank")),
        sa.ForeignKeyConstraint(["customer_id"], ["customer.id"], name=op.f("fk_material_customer_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_material")),
    )
    op.create_index(op.f("ix_material_customer_id"), "material", ["customer_id"], unique=False)
    op.create_table(
        "price",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("material_id", sa.Uuid(), nullable=False),
        sa.Column("valid_from", sa.Date(), nullable=False),
        sa.Column("per_kg", sa.BigInteger(), nullable=True),
        sa.Column("carbon_kg_per_kg", sa.Float(), nullable=True),
        sa.Column("carbon_low", sa.Float(), nullable=True),
        sa.Column("carbon_high", sa.Float(), nullable=True),
        sa.Column("source", sa.String(), nullable=False),
        sa.CheckConstraint("trim(source) <> ''", name=op.f("ck_price_source_not_blank")),
        sa.CheckConstraint("carbon_high >= 0 AND carbon_high < 1e9", name=op.f("ck_price_carbon_high_not_negative")),
        sa.CheckConstraint(
            "carbon_kg_per_kg >= 0 AND carbon_kg_per_kg < 1e9", name=op.f("ck_price_carbon_kg_per_kg_not_negative")
        ),
        sa.CheckConstraint(
            "carbon_low <= carbon_kg_per_kg AND carbon_kg_per_kg <= carbon_high", name=op.f("ck_price_carbon_in_range")
        ),
        sa.CheckConstraint("carbon_low >= 0 AND carbon_low < 1e9", name=op.f("ck_price_carbon_low_not_negative")),
        sa.CheckConstraint("per_kg >= 0", name=op.f("ck_price_per_kg_not_negative")),
        sa.ForeignKeyConstraint(["material_id"], ["material.id"], name=op.f("fk_price_material_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_price")),
        sa.UniqueConstraint("material_id", "valid_from", name=op.f("uq_price_material_id_valid_from")),
    )
    op.create_table(
        "receipt",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("as_read", sa.JSON(), nullable=False),
        sa.Column("job_id", sa.Uuid(), nullable=False),
        sa.Column("material_id", sa.Uuid(), nullable=False),
        sa.Column("label", sa.String(), nullable=False),
        sa.Column("received_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("received_by", sa.Uuid(), nullable=False),
        sa.Column("mass_kg", sa.Float(), nullable=False),
        sa.Column("pit", sa.String(), nullable=True),
        sa.Column("depth_m", sa.Float(), nullable=True),
        sa.Column("topsoil_stripped", sa.Boolean(), nullable=True),
        sa.Column("colour", sa.String(), nullable=True),
        sa.Column("smell", sa.String(), nullable=True),
        sa.Column("roots", sa.String(), nullable=True),
        sa.Column("remarks", sa.String(), nullable=True),
        sa.Column("retained", sa.String(), nullable=True),
        sa.Column("retained_until", sa.Date(), nullable=True),
        sa.CheckConstraint("trim(label) <> ''", name=op.f("ck_receipt_label_not_blank")),
        sa.CheckConstraint("(retained IS NULL) = (retained_until IS NULL)", name=op.f("ck_receipt_retained_together")),
        sa.CheckConstraint("depth_m >= 0 AND depth_m < 1e9", name=op.f("ck_receipt_depth_m_not_negative")),
        sa.CheckConstraint("mass_kg > 0 AND mass_kg < 1e9", name=op.f("ck_receipt_mass_kg_positive")),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_receipt_job_id")),
        sa.ForeignKeyConstraint(["material_id"], ["material.id"], name=op.f("fk_receipt_material_id")),
        sa.ForeignKeyConstraint(["received_by"], ["person.id"], name=op.f("fk_receipt_received_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_receipt")),
        sa.UniqueConstraint("label", name=op.f("uq_receipt_label")),
    )
    op.create_index(op.f("ix_receipt_job_id"), "receipt", ["job_id"], unique=False)
    op.create_index(op.f("ix_receipt_material_id"), "receipt", ["material_id"], unique=False)
    op.create_table(
        "preparation",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("as_read", sa.JSON(), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("ended_by", sa.Uuid(), nullable=True),
        sa.Column("ended_because", sa.String(), nullable=True),
        sa.Column("replaces_id", sa.Uuid(), nullable=True),
        sa.Column("receipt_id", sa.Uuid(), nullable=False),
        sa.Column("oversize_mm", sa.Float(), nullable=True),
        sa.Column("oversize_kg", sa.Float(), nullable=True),
        sa.Column("oversize_became", sa.String(), nullable=True),
        sa.Column("pulverised", sa.Boolean(), nullable=False),
        sa.Column("done_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("done_by", sa.Uuid(), nullable=False),
        sa.CheckConstraint(
            "(ended_at IS NULL) = (ended_by IS NULL) AND (ended_at IS NULL) = (ended_because IS NULL)",
            name=op.f("ck_preparation_ended_at_together"),
        ),
        sa.CheckConstraint(
            "(oversize_mm IS NULL) = (oversize_kg IS NULL) AND (oversize_mm IS NULL) = (oversize_became IS NULL)",
            name=op.f("ck_preparation_oversize_mm_together"),
        ),
        sa.CheckConstraint(
            "oversize_kg >= 0 AND oversize_kg < 1e9", name=op.f("ck_preparation_oversize_kg_not_negative")
        ),
        sa.CheckConstraint("oversize_mm > 0 AND oversize_mm < 1e9", name=op.f("ck_preparation_oversize_mm_positive")),
        sa.CheckConstraint("replaces_id <> id", name=op.f("ck_preparation_replaces_other")),
        sa.ForeignKeyConstraint(["done_by"], ["person.id"], name=op.f("fk_preparation_done_by")),
        sa.ForeignKeyConstraint(["ended_by"], ["person.id"], name=op.f("fk_preparation_ended_by")),
        sa.ForeignKeyConstraint(["receipt_id"], ["receipt.id"], name=op.f("fk_preparation_receipt_id")),
        sa.ForeignKeyConstraint(["replaces_id"], ["preparation.id"], name=op.f("fk_preparation_replaces_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_preparation")),
        sa.UniqueConstraint("replaces_id", name=op.f("uq_preparation_replaces_id")),
    )
    op.create_index(op.f("ix_preparation_receipt_id"), "preparation", ["receipt_id"], unique=False)
    op.create_index(
        "uq_preparation_standing",
        "preparation",
        ["receipt_id"],
        unique=True,
        sqlite_where=sa.text("ended_at IS NULL"),
        postgresql_where=sa.text("ended_at IS NULL"),
    )


def downgrade() -> None:
    op.drop_table("preparation")
    op.drop_table("receipt")
    op.drop_table("price")
    op.drop_table("material")
