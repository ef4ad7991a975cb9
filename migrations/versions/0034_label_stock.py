"""Keep the size of the labels the shop has."""

import sqlalchemy as sa
from alembic import op

revision = "0034"
down_revision = "0033"
branch_labels = None
depends_on = None

ABOVE_ZERO = ("sheet_width_mm", "sheet_height_mm", "label_width_mm", "label_height_mm", "across", "down")
FROM_ZERO = ("left_mm", "top_mm", "gap_across_mm", "gap_down_mm")
COUNTS = ("across", "down")


def upgrade() -> None:
    op.create_table(
        "label_stock",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        *(
            sa.Column(name, sa.Integer() if name in COUNTS else sa.Float(), nullable=False)
            for name in (*ABOVE_ZERO, *FROM_ZERO)
        ),
        sa.Column("chosen_by", sa.Uuid(), nullable=False),
        sa.CheckConstraint("trim(name) <> ''", name=op.f("ck_label_stock_name_not_blank")),
        *(
            sa.CheckConstraint(f"{name} > 0 AND {name} < 1e9", name=op.f(f"ck_label_stock_{name}_positive"))
            for name in ABOVE_ZERO
        ),
        *(
            sa.CheckConstraint(f"{name} >= 0 AND {name} < 1e9", name=op.f(f"ck_label_stock_{name}_not_negative"))
            for name in FROM_ZERO
        ),
        sa.CheckConstraint(
            "left_mm + across * label_width_mm + (across - 1) * gap_across_mm <= sheet_width_mm + 0.5",
            name=op.f("ck_label_stock_fits_across"),
        ),
        sa.CheckConstraint(
            "top_mm + down * label_height_mm + (down - 1) * gap_down_mm <= sheet_height_mm + 0.5",
            name=op.f("ck_label_stock_fits_down"),
        ),
        sa.ForeignKeyConstraint(["chosen_by"], ["person.id"], name=op.f("fk_label_stock_chosen_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_label_stock")),
    )


def downgrade() -> None:
    op.drop_table("label_stock")
