"""Which uniqueness clash an integrity error tells of, if it is one that honest people can cause."""

from enum import Enum

from sqlalchemy.exc import IntegrityError

ON_THE_BENCH = (
    "uq_block_batch_id_position",
    "uq_block_label",
    "uq_batch_recipe_id",
    "uq_recipe_job_id",
    "uq_recipe_replaces_id",
    "uq_trial_block_batch_id",
)
ITS_COLUMNS = (
    "block.batch_id",
    "block.label",
    "batch.recipe_id",
    "recipe.job_id",
    "recipe.replaces_id",
    "trial_block.",
)


class Clash(Enum):
    """The two clashes that are answers and not bugs."""

    REPLAY = "the same request came twice at once"
    STANDING = "two people recorded the same thing at once"


def clash_of(error: IntegrityError) -> Clash | None:
    """Return the clash behind ``error``; None means a bug that belongs in the log."""
    diagnosis = getattr(error.orig, "diag", None)
    # PostgreSQL names the constraint; SQLite names the columns of the table.
    what = diagnosis.constraint_name or "" if diagnosis is not None else str(error.orig)
    if "uq_replay" in what or "UNIQUE constraint failed: replay." in what:
        return Clash.REPLAY
    if "uq_issued_result" in what or "UNIQUE constraint failed: issued_result." in what:
        return Clash.STANDING
    # Two jobs opened at once take the same number, two sacks the same proposed label; the second looks again.
    if "uq_job_number" in what or "uq_receipt_label" in what:
        return Clash.STANDING
    # Two people press the same place of a batch, begin the same batch or plan a recipe under one letter at once.
    if any(name in what for name in ON_THE_BENCH) or any(f"failed: {column}" in what for column in ITS_COLUMNS):
        return Clash.STANDING
    if "standing" in what or "UNIQUE constraint failed: trail." in what:
        return Clash.STANDING
    return Clash.STANDING if what.startswith("UNIQUE constraint failed: crushing.block_id") else None
