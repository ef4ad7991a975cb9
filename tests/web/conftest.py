"""A shop for the tests that store nothing: opened once a file, for it takes longer than they do.

What is only worked out asks the database who calls and nothing else, which every other file of this room asks of both
databases. So these tests run on SQLite alone.
"""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.cast import Cast, open_cast


@pytest.fixture(scope="module")
def still_cast(migrated_sqlite: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cast]:
    """Yield a shop with its whole cast, for a file of tests of which none changes anything in it."""
    folder = tmp_path_factory.mktemp("still")
    opened = open_cast(f"sqlite:///{shutil.copy(migrated_sqlite, folder / 'shop.sqlite')}", folder)
    yield opened
    opened.stores.read.dispose()
    opened.stores.write.dispose()
