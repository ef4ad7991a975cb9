"""Tell a cup of soil dried in the oven from one of soil as it came."""

import sqlalchemy as sa
from alembic import op

revision = "0021"
down_revision = "0020"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "cup_test",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("as_read", sa.JSON(), nullable=False),
        sa.Column("test_id", sa.Uuid(), nullable=False),
        sa.Column("oven_dried", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["test_id"], ["soil_test.id"], name=op.f("fk_cup_test_test_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cup_test")),
        sa.UniqueConstraint("test_id", name=op.f("uq_cup_test_test_id")),
    )
    if op.get_bind().dialect.name == "postgresql":
        rows = "BEFORE UPDATE OR DELETE ON cup_test FOR EACH ROW"
        op.execute(f"CREATE TRIGGER cup_test_no_change {rows} EXECUTE FUNCTION refuse_change()")
        every = "BEFORE TRUNCATE ON cup_test FOR EACH STATEMENT"
        op.execute(f"CREATE TRIGGER cup_test_no_truncate {every} EXECUTE FUNCTION refuse_change()")
        return
    refusal = "BEGIN SELECT RAISE(ABORT, 'cup_test is never changed'); END"
    op.execute(f"CREATE TRIGGER cup_test_no_change BEFORE UPDATE ON cup_test {refusal}")
    op.execute(f"CREATE TRIGGER cup_test_no_delete BEFORE DELETE ON cup_test {refusal}")


def downgrade() -> None:
    op.drop_table("cup_test")
