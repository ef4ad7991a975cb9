"""Keep the pot a batch is mixed in, and the blocks pressed to find the best moisture."""

import sqlalchemy as sa
from alembic import op

revision = "0020"
down_revision = "0019"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "pot",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("as_read", sa.JSON(), nullable=False),
        sa.Column("batch_id", sa.Uuid(), nullable=False),
        sa.Column("pot_kg", sa.Float(), nullable=False),
        sa.CheckConstraint("pot_kg > 0 AND pot_kg < 1e9", name=op.f("ck_pot_pot_kg_positive")),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_pot_batch_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_pot")),
        sa.UniqueConstraint("batch_id", name=op.f("uq_pot_batch_id")),
    )
    op.create_table(
        "moisture_trial",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("as_read", sa.JSON(), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("ended_by", sa.Uuid(), nullable=True),
        sa.Column("ended_because", sa.String(), nullable=True),
        sa.Column("replaces_id", sa.Uuid(), nullable=True),
        sa.Column("job_id", sa.Uuid(), nullable=False),
        sa.Column("moisture", sa.Float(), nullable=False),
        sa.Column("wet_mass_kg", sa.Float(), nullable=False),
        sa.Column("length_mm", sa.Float(), nullable=False),
        sa.Column("width_mm", sa.Float(), nullable=False),
        sa.Column("height_mm", sa.Float(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("made_by", sa.Uuid(), nullable=False),
        *(
            sa.CheckConstraint(f"{name} > 0 AND {name} < 1e9", name=op.f(f"ck_moisture_trial_{name}_positive"))
            for name in ("moisture", "wet_mass_kg", "length_mm", "width_mm", "height_mm")
        ),
        sa.CheckConstraint(
            "(ended_at IS NULL) = (ended_by IS NULL) AND (ended_at IS NULL) = (ended_because IS NULL)",
            name=op.f("ck_moisture_trial_ended_at_together"),
        ),
        sa.CheckConstraint("replaces_id <> id", name=op.f("ck_moisture_trial_replaces_other")),
        sa.ForeignKeyConstraint(["ended_by"], ["person.id"], name=op.f("fk_moisture_trial_ended_by")),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_moisture_trial_job_id")),
        sa.ForeignKeyConstraint(["made_by"], ["person.id"], name=op.f("fk_moisture_trial_made_by")),
        sa.ForeignKeyConstraint(["replaces_id"], ["moisture_trial.id"], name=op.f("fk_moisture_trial_replaces_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_moisture_trial")),
        sa.UniqueConstraint("replaces_id", name=op.f("uq_moisture_trial_replaces_id")),
    )
    op.create_index(op.f("ix_moisture_trial_job_id"), "moisture_trial", ["job_id"], unique=False)


def downgrade() -> None:
    op.drop_table("moisture_trial")
    op.drop_table("pot")
