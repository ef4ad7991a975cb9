"""A second computer: the name it asks for is known, or the refusal says which setting adds it."""

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from service.app import create_app
from service.settings import Settings
from service.web.hosts import name_of


@pytest.fixture
def there(sqlite_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """Return a client of a shop that listens to its network."""
    monkeypatch.setattr("service.settings.own_address", lambda: "10.20.30.40")
    app = create_app(Settings(database_url=sqlite_url, data=tmp_path, host="0.0.0.0", port=8106))
    yield TestClient(app)
    app.state.stores.read.dispose()
    app.state.stores.write.dispose()


@pytest.mark.parametrize("host", ["10.20.30.40:8106", "10.20.30.40", "localhost:8106"])
def test_a_second_computer_reaches_the_shop_by_the_machines_address(there: TestClient, host: str) -> None:
    assert there.get("/sign-in", headers={"host": host}).status_code == 200


def test_another_name_is_refused_with_the_setting_that_adds_it(there: TestClient) -> None:
    refused = there.get("/sign-in", headers={"host": "bench.shop.example:8106"})
    assert refused.status_code == 400
    assert "does not answer to the name bench.shop.example. Open it at http://10.20.30.40:8106." in refused.text
    assert "LOAMBOOK_HOSTS" in refused.text


@pytest.mark.parametrize(
    ("host", "name"),
    [("A.example:80", "a.example"), ("a.example", "a.example"), ("[::1]:8000", "::1"), ("[::1]", "::1"), ("", "")],
)
def test_a_name_is_read_without_its_port(host: str, name: str) -> None:
    assert name_of(host) == name
