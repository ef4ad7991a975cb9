"""Keep what blocks endure besides crushing: bending, water taken up, erosion, wetting and drying."""

import sqlalchemy as sa
from alembic import op

revision = "0022"
down_revision = "0021"
branch_labels = None
depends_on = None

ENDING = ("ended_at", "ended_by", "ended_because")
STANDS = "ended_at IS NULL"


def upgrade() -> None:
    _make(
        "flexure",
        ("block_id",),
        sa.Column("gauge_id", sa.Uuid(), nullable=True),
        sa.Column("press_session_id", sa.Uuid(), nullable=True),
        sa.Column("outcome", sa.String(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("laid", sa.String(), nullable=False),
        sa.Column("gauge_mpa", sa.Float(), nullable=True),
        sa.Column("force_kn", sa.Float(), nullable=True),
        sa.Column("span_mm", sa.Float(), nullable=False),
        sa.Column("width_mm", sa.Float(), nullable=False),
        sa.Column("thickness_mm", sa.Float(), nullable=False),
        sa.Column("remark", sa.String(), nullable=True),
        sa.Column("done_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("done_by", sa.Uuid(), nullable=False),
        _check("flexure", "outcome_known", "outcome IN ('broke', 'held')"),
        _check("flexure", "state_known", "state IN ('as cured', 'air-dry', 'oven-dry', 'soaked')"),
        _check("flexure", "laid_known", "laid IN ('flat', 'on edge')"),
        _check(
            "flexure",
            "belongs_to_one",
            "CASE WHEN gauge_mpa IS NULL THEN 0 ELSE 1 END + CASE WHEN force_kn IS NULL THEN 0 ELSE 1 END = 1",
        ),
        *_positive("flexure", "gauge_mpa", "force_kn", "span_mm", "width_mm", "thickness_mm"),
        _check("flexure", "gauge_reading_has_gauge", "(gauge_mpa IS NULL) = (gauge_id IS NULL)"),
        sa.ForeignKeyConstraint(["gauge_id"], ["gauge.id"], name=op.f("fk_flexure_gauge_id")),
        sa.ForeignKeyConstraint(["press_session_id"], ["press_session.id"], name=op.f("fk_flexure_press_session_id")),
    )
    op.create_index(op.f("ix_flexure_gauge_id"), "flexure", ["gauge_id"], unique=False)
    _make(
        "absorption",
        ("block_id",),
        sa.Column("manner", sa.String(), nullable=False),
        sa.Column("state_before", sa.String(), nullable=False),
        sa.Column("before_kg", sa.Float(), nullable=False),
        sa.Column("wetted_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("outcome", sa.String(), nullable=True),
        sa.Column("after_kg", sa.Float(), nullable=True),
        sa.Column("weighed_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("remark", sa.String(), nullable=True),
        sa.Column("done_by", sa.Uuid(), nullable=False),
        _check("absorption", "manner_known", "manner IN ('under water', 'damp surface')"),
        _check("absorption", "state_before_known", "state_before IN ('as cured', 'air-dry', 'oven-dry')"),
        _check("absorption", "outcome_known", "outcome IN ('weighed', 'fell apart')"),
        *_positive("absorption", "before_kg", "after_kg"),
        _check("absorption", "outcome_has_time", "(outcome IS NULL) = (weighed_at IS NULL)"),
        _check(
            "absorption",
            "weighed_has_mass",
            "(after_kg IS NOT NULL) = (outcome IS NOT NULL AND outcome = 'weighed')",
        ),
        _check("absorption", "nothing_came_off", "after_kg >= before_kg"),
        _check("absorption", "weighed_after", "weighed_at > wetted_at"),
    )
    _make(
        "erosion",
        ("block_id",),
        sa.Column("manner", sa.String(), nullable=False),
        sa.Column("outcome", sa.String(), nullable=False),
        sa.Column("depth_mm", sa.Float(), nullable=True),
        sa.Column("water_min", sa.Float(), nullable=False),
        sa.Column("pressure_mpa", sa.Float(), nullable=True),
        sa.Column("remark", sa.String(), nullable=True),
        sa.Column("done_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("done_by", sa.Uuid(), nullable=False),
        _check("erosion", "manner_known", "manner IN ('drip', 'spray')"),
        _check("erosion", "outcome_known", "outcome IN ('measured', 'went through')"),
        *_positive("erosion", "water_min", "pressure_mpa"),
        _check("erosion", "depth_mm_not_negative", "depth_mm >= 0 AND depth_mm < 1e9"),
        _check("erosion", "measured_has_depth", "(outcome = 'measured') = (depth_mm IS NOT NULL)"),
        _check("erosion", "only_spray_has_pressure", "pressure_mpa IS NULL OR manner = 'spray'"),
    )
    _make(
        "wet_dry_cycle",
        ("block_id", "number"),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("outcome", sa.String(), nullable=False),
        sa.Column("mass_kg", sa.Float(), nullable=True),
        sa.Column("remark", sa.String(), nullable=True),
        sa.Column("done_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("done_by", sa.Uuid(), nullable=False),
        _check("wet_dry_cycle", "outcome_known", "outcome IN ('weighed', 'fell apart')"),
        *_positive("wet_dry_cycle", "mass_kg"),
        _check("wet_dry_cycle", "number_not_negative", "number >= 0 AND number < 1e9"),
        _check("wet_dry_cycle", "weighed_has_mass", "(outcome = 'weighed') = (mass_kg IS NOT NULL)"),
        _check("wet_dry_cycle", "begins_with_mass", "number > 0 OR outcome = 'weighed'"),
    )


def _make(table: str, once: tuple[str, ...], *own: sa.schema.SchemaItem) -> None:
    """Make a versioned table of tests of a block, of which one row stands for each ``once``, and freeze its rows."""
    op.create_table(
        table,
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("as_read", sa.JSON(), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("ended_by", sa.Uuid(), nullable=True),
        sa.Column("ended_because", sa.String(), nullable=True),
        sa.Column("replaces_id", sa.Uuid(), nullable=True),
        sa.Column("block_id", sa.Uuid(), nullable=False),
        *own,
        _check(
            table,
            "ended_at_together",
            "(ended_at IS NULL) = (ended_by IS NULL) AND (ended_at IS NULL) = (ended_because IS NULL)",
        ),
        _check(table, "replaces_other", "replaces_id <> id"),
        sa.ForeignKeyConstraint(["block_id"], ["block.id"], name=op.f(f"fk_{table}_block_id")),
        sa.ForeignKeyConstraint(["done_by"], ["person.id"], name=op.f(f"fk_{table}_done_by")),
        sa.ForeignKeyConstraint(["ended_by"], ["person.id"], name=op.f(f"fk_{table}_ended_by")),
        sa.ForeignKeyConstraint(["replaces_id"], [f"{table}.id"], name=op.f(f"fk_{table}_replaces_id")),
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{table}")),
        sa.UniqueConstraint("replaces_id", name=op.f(f"uq_{table}_replaces_id")),
    )
    op.create_index(op.f(f"ix_{table}_block_id"), table, ["block_id"], unique=False)
    stands = sa.text(STANDS)
    op.create_index(
        f"uq_{table}_standing", table, list(once), unique=True, sqlite_where=stands, postgresql_where=stands
    )
    _freeze(table)


def _freeze(table: str) -> None:
    if op.get_bind().dialect.name == "postgresql":
        names = ", ".join(f"'{column}'" for column in ENDING)
        rows = f"BEFORE UPDATE OR DELETE ON {table} FOR EACH ROW"
        op.execute(f"CREATE TRIGGER {table}_no_change {rows} EXECUTE FUNCTION refuse_change({names})")
        every = f"BEFORE TRUNCATE ON {table} FOR EACH STATEMENT"
        op.execute(f"CREATE TRIGGER {table}_no_truncate {every} EXECUTE FUNCTION refuse_change()")
        return
    columns = [column["name"] for column in sa.inspect(op.get_bind()).get_columns(table)]
    closed = ", ".join(f'"{column}"' for column in columns if column not in ENDING)
    refusal = f"BEGIN SELECT RAISE(ABORT, '{table} is never changed'); END"
    op.execute(f"CREATE TRIGGER {table}_no_change BEFORE UPDATE OF {closed} ON {table} {refusal}")
    op.execute(f"CREATE TRIGGER {table}_no_delete BEFORE DELETE ON {table} {refusal}")


def _check(table: str, name: str, rule: str) -> sa.CheckConstraint:
    return sa.CheckConstraint(rule, name=op.f(f"ck_{table}_{name}"))


def _positive(table: str, *columns: str) -> list[sa.CheckConstraint]:
    return [_check(table, f"{name}_positive", f"{name} > 0 AND {name} < 1e9") for name in columns]


def downgrade() -> None:
    for table in ("wet_dry_cycle", "erosion", "absorption", "flexure"):
        op.drop_table(table)
