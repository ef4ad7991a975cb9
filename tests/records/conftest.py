"""A database of either kind with the small shop in it."""

from collections.abc import Iterator

import pytest
from sqlmodel import Session

from service.records.database import Engines, open_engines
from tests.records.shop import SmallShop, furnish


@pytest.fixture
def engines(database_url: str) -> Iterator[Engines]:
    """Yield both engines of a migrated database."""
    opened = open_engines(database_url)
    yield opened
    opened.dispose()


@pytest.fixture
def session(engines: Engines) -> Iterator[Session]:
    """Yield a session that writes."""
    with Session(engines.write) as opened:
        yield opened


@pytest.fixture
def shop(session: Session) -> SmallShop:
    """Return the small shop, committed."""
    furnished = furnish(session)
    session.commit()
    return furnished
