"""A result that was issued before a migration is the same to the byte after it, as page, as PDF and as data."""

import pytest
from alembic import command

from service.records.database import migrating, migration_config
from tests.cast import Cast
from tests.desk.test_results import issue, papers
from tests.trials import a_tried_job

# Before this step nobody typed a comma, mailed or imported anything: every step since then has changed something.
LONG_AGO = "0030"


@pytest.mark.drawn
def test_what_was_issued_before_a_migration_is_the_same_after_it(cast: Cast) -> None:
    issued_id = issue(cast, a_tried_job(cast))
    before = papers(cast, issued_id)
    assert before[1].startswith(b"%PDF")
    cast.stores.read.dispose()
    cast.stores.write.dispose()
    with migrating(cast.stores.write.url.render_as_string(hide_password=False)) as connection:
        config = migration_config(connection)
        command.downgrade(config, LONG_AGO)
        command.upgrade(config, "head")
    assert papers(cast, issued_id) == before
