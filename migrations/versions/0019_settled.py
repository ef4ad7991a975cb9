"""Keep hydrometers, settling jars and loose bulk densities, and say of what a sign was."""

import sqlalchemy as sa
from alembic import op

revision = "0019"
down_revision = "0018"
branch_labels = None
depends_on = None

CUE = (
    "cue VARCHAR CONSTRAINT ck_soil_sign_cue_known CHECK (cue IN ('organics', 'sulfates', 'pollution', 'black cotton'))"
)
TABLES = ("hydrometer_test", "hydrometer_reading", "jar_reading", "bulk_test")


def upgrade() -> None:
    make(
        "hydrometer_test",
        sa.Column("dry_mass_g", sa.Float(), nullable=False),
        sa.Column("specific_gravity", sa.Float(), nullable=False),
        sa.Column("separation_mm", sa.Float(), nullable=False),
        sa.Column("volume_l", sa.Float(), nullable=False),
        sa.Column("meniscus", sa.Float(), nullable=False),
        sa.Column("dispersant", sa.String(), nullable=False),
        *checked(
            "hydrometer_test",
            dry_mass_g_positive="dry_mass_g > 0 AND dry_mass_g < 1e9",
            separation_mm_positive="separation_mm > 0 AND separation_mm < 1e9",
            volume_l_positive="volume_l > 0 AND volume_l < 1e9",
            specific_gravity_above_one="specific_gravity > 1 AND specific_gravity < 1e9",
            meniscus_not_negative="meniscus >= 0 AND meniscus < 1e9",
            dispersant_not_blank="trim(dispersant) <> ''",
        ),
        sa.UniqueConstraint("test_id", name=op.f("uq_hydrometer_test_test_id")),
    )
    make(
        "hydrometer_reading",
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("after_min", sa.Float(), nullable=True),
        sa.Column("reading", sa.Float(), nullable=False),
        sa.Column("temperature_c", sa.Float(), nullable=False),
        *checked(
            "hydrometer_reading",
            after_min_positive="after_min > 0 AND after_min < 1e9",
            reading_finite="reading > -1e9 AND reading < 1e9",
            temperature_c_finite="temperature_c > -1e9 AND temperature_c < 1e9",
        ),
        sa.UniqueConstraint("test_id", "position", name=op.f("uq_hydrometer_reading_test_id_position")),
    )
    layers = ("gravel_mm", "sand_mm", "silt_mm", "clay_mm")
    make(
        "jar_reading",
        *(sa.Column(layer, sa.Float(), nullable=False) for layer in layers),
        *checked(
            "jar_reading",
            **{f"{layer}_not_negative": f"{layer} >= 0 AND {layer} < 1e9" for layer in layers},
            some_layer="gravel_mm + sand_mm + silt_mm + clay_mm > 0",
        ),
        sa.UniqueConstraint("test_id", name=op.f("uq_jar_reading_test_id")),
    )
    make(
        "bulk_test",
        sa.Column("filled_kg", sa.Float(), nullable=False),
        sa.Column("vessel_kg", sa.Float(), nullable=False),
        sa.Column("volume_l", sa.Float(), nullable=False),
        sa.Column("damp", sa.Boolean(), nullable=False),
        *checked(
            "bulk_test",
            volume_l_positive="volume_l > 0 AND volume_l < 1e9",
            vessel_kg_not_negative="vessel_kg >= 0 AND vessel_kg < 1e9",
            filled_above_vessel="filled_kg > vessel_kg AND filled_kg < 1e9",
        ),
        sa.UniqueConstraint("test_id", name=op.f("uq_bulk_test_test_id")),
    )
    # One statement that both databases read: SQLite adds no constraint to a table that is there.
    op.execute(f"ALTER TABLE soil_sign ADD COLUMN {CUE}")
    for table in TABLES:
        guard(table)


def make(table: str, *parts: sa.schema.SchemaItem) -> None:
    op.create_table(
        table,
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("as_read", sa.JSON(), nullable=False),
        sa.Column("test_id", sa.Uuid(), nullable=False),
        *parts,
        sa.ForeignKeyConstraint(["test_id"], ["soil_test.id"], name=op.f(f"fk_{table}_test_id")),
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{table}")),
    )


def checked(table: str, **conditions: str) -> list[sa.CheckConstraint]:
    return [sa.CheckConstraint(text, name=op.f(f"ck_{table}_{name}")) for name, text in conditions.items()]


def guard(table: str) -> None:
    """Refuse every change of a reading, as the step before does for the older tables."""
    if op.get_bind().dialect.name == "postgresql":
        rows = f"BEFORE UPDATE OR DELETE ON {table} FOR EACH ROW"
        op.execute(f"CREATE TRIGGER {table}_no_change {rows} EXECUTE FUNCTION refuse_change()")
        every = f"BEFORE TRUNCATE ON {table} FOR EACH STATEMENT"
        op.execute(f"CREATE TRIGGER {table}_no_truncate {every} EXECUTE FUNCTION refuse_change()")
        return
    refusal = f"BEGIN SELECT RAISE(ABORT, '{table} is never changed'); END"
    op.execute(f"CREATE TRIGGER {table}_no_change BEFORE UPDATE ON {table} {refusal}")
    op.execute(f"CREATE TRIGGER {table}_no_delete BEFORE DELETE ON {table} {refusal}")


def downgrade() -> None:
    if op.get_bind().dialect.name != "postgresql":
        # SQLite drops no column that a check speaks of; the table is made again without it.
        without_cue()
    else:
        op.drop_column("soil_sign", "cue")
    for table in reversed(TABLES):
        op.drop_table(table)


def without_cue() -> None:
    columns = "id, created_at, as_read, test_id, positive, sign"
    (made,) = op.get_bind().exec_driver_sql("SELECT sql FROM sqlite_master WHERE name = 'soil_sign'").one()
    triggers = op.get_bind().exec_driver_sql(
        "SELECT sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'soil_sign'"
    )
    kept = [sql for (sql,) in triggers]
    before = made.replace(f", {CUE}", "")
    op.execute(before.replace("soil_sign (", "soil_sign_kept (", 1).replace('"soil_sign"', "soil_sign_kept", 1))
    op.execute(f"INSERT INTO soil_sign_kept ({columns}) SELECT {columns} FROM soil_sign")
    op.execute("DROP TABLE soil_sign")
    op.execute("ALTER TABLE soil_sign_kept RENAME TO soil_sign")
    for sql in kept:
        op.execute(sql)
