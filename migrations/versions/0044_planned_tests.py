"""Set blocks aside for other tests in the plan: a group says for which."""

import sqlalchemy as sa
from alembic import op

revision = "0044"
down_revision = "0043"
branch_labels = None
depends_on = None

TABLE, ONCE = "recipe_group", "uq_recipe_group_recipe_id_condition_age_days"
CHECKS = {
    "ck_recipe_group_test_known": "test IN ('absorption', 'bending', 'erosion', 'cycles')",
    "ck_recipe_group_test_not_soaked": "test IS NULL OR soak_hours IS NULL",
}
INDEXES = (
    ("uq_recipe_group_crushed", ["recipe_id", "condition", "age_days"], "test IS NULL"),
    ("uq_recipe_group_tested", ["recipe_id", "test"], "test IS NOT NULL"),
)
COLUMNS = "id, created_at, recipe_id, condition, age_days, tolerance_hours, soak_hours, soak_hours_max, blocks"


def _rebuild(*, with_test: bool) -> None:
    """SQLite drops no constraint: the table is made anew. Foreign keys are off while a step runs."""
    own = [
        *("id", "created_at", "recipe_id", "condition", "age_days", "tolerance_hours"),
        *("soak_hours", "soak_hours_max", "blocks"),
    ]
    metadata = sa.MetaData()
    old = sa.Table(TABLE, metadata, autoload_with=op.get_bind())
    columns = [sa.Column(one.name, one.type, nullable=one.nullable) for one in old.columns if one.name in own]
    kept = [one for one in old.constraints if isinstance(one, sa.CheckConstraint) and one.name not in CHECKS]
    checks = [sa.CheckConstraint(one.sqltext, name=op.f(str(one.name))) for one in kept]
    if with_test:
        columns.append(sa.Column("test", sa.String(), nullable=True))
        checks += [sa.CheckConstraint(said, name=op.f(name)) for name, said in CHECKS.items()]
    else:
        checks.append(sa.UniqueConstraint("recipe_id", "condition", "age_days", name=op.f(ONCE)))
    op.create_table(
        f"{TABLE}_new",
        *columns,
        *checks,
        sa.ForeignKeyConstraint(["recipe_id"], ["recipe.id"], name=op.f("fk_recipe_group_recipe_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recipe_group")),
    )
    op.execute(f"INSERT INTO {TABLE}_new ({COLUMNS}) SELECT {COLUMNS} FROM {TABLE}")
    op.drop_table(TABLE)
    op.rename_table(f"{TABLE}_new", TABLE)


def upgrade() -> None:
    if op.get_bind().dialect.name == "sqlite":
        _rebuild(with_test=True)
    else:
        op.drop_constraint(ONCE, TABLE)
        op.add_column(TABLE, sa.Column("test", sa.String(), nullable=True))
        for name, said in CHECKS.items():
            op.create_check_constraint(op.f(name), TABLE, said)
    for name, columns, where in INDEXES:
        rows = sa.text(where)
        op.create_index(name, TABLE, columns, unique=True, sqlite_where=rows, postgresql_where=rows)


def downgrade() -> None:
    # The blocks that were set aside stay, and are then to be crushed a few minutes apart: the step back knows no tests.
    op.execute(
        f"UPDATE {TABLE} SET age_days = age_days + CASE test WHEN 'absorption' THEN 0.011 WHEN 'bending' THEN 0.012 "
        "WHEN 'erosion' THEN 0.013 ELSE 0.014 END WHERE test IS NOT NULL"
    )
    for name, _, _ in INDEXES:
        op.drop_index(name, TABLE)
    if op.get_bind().dialect.name == "sqlite":
        _rebuild(with_test=False)
        return
    for name in CHECKS:
        op.drop_constraint(op.f(name), TABLE)
    op.drop_column(TABLE, "test")
    op.create_unique_constraint(op.f(ONCE), TABLE, ["recipe_id", "condition", "age_days"])
