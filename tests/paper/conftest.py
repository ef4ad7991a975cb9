"""What leaves as a file is drawn from what a desk told; on which database it stood makes no difference any more."""

import pytest

from tests.cast import Cast


@pytest.fixture
def cast(cast_on_sqlite: Cast) -> Cast:
    """Return a shop on SQLite only."""
    return cast_on_sqlite
