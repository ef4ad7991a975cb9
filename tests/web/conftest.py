"""Pages on SQLite alone: what a page asks of a database is asked of both by the tests of desks, records and routes.

A file whose pages meet locks, a form sent twice, several processes or a question that no desk test asks says so in its
own ``cast``, which is on either. ``still_cast`` is for tests that store nothing: opened once a file, for that takes
longer than they do.
"""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.cast import Cast, open_cast


@pytest.fixture
def cast(cast_on_sqlite: Cast) -> Cast:
    """Return the cast on SQLite: what these pages show does not hang on the database."""
    return cast_on_sqlite


@pytest.fixture(scope="module")
def still_cast(migrated_sqlite: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cast]:
    """Yield a shop with its whole cast, for a file of tests of which none changes anything in it."""
    folder = tmp_path_factory.mktemp("still")
    opened = open_cast(f"sqlite:///{shutil.copy(migrated_sqlite, folder / 'shop.sqlite')}", folder)
    yield opened
    opened.stores.read.dispose()
    opened.stores.write.dispose()
