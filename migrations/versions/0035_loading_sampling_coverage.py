"""Keep how long a block was loaded, who dug a sack and when, and the coverage factor of a certificate."""

import sqlalchemy as sa
from alembic import op

revision = "0035"
down_revision = "0034"
branch_labels = None
depends_on = None

LOADING = "CONSTRAINT ck_crushing_loading_s_positive CHECK (loading_s > 0 AND loading_s < 1e9)"
COVERAGE = "CONSTRAINT ck_calibration_coverage_factor_believable CHECK (coverage_factor >= 1 AND coverage_factor <= 10)"


def upgrade() -> None:
    op.execute(f"ALTER TABLE crushing ADD COLUMN loading_s FLOAT {LOADING}")
    op.execute(f"ALTER TABLE calibration ADD COLUMN coverage_factor FLOAT {COVERAGE}")
    op.add_column("receipt", sa.Column("dug_by", sa.String(), nullable=True))
    op.add_column("receipt", sa.Column("dug_on", sa.Date(), nullable=True))


def downgrade() -> None:
    op.drop_column("receipt", "dug_on")
    op.drop_column("receipt", "dug_by")
    op.drop_column("calibration", "coverage_factor")
    op.drop_column("crushing", "loading_s")
