"""The environment is read once, strictly, and a weak secret is refused where it counts."""

from pathlib import Path

import pytest
from pydantic import ValidationError

from service.settings import Settings, fault_of

DRAWN = "q7Zk1vXw9Rb3Tn5Yp8Lm2Hs6Jd4Gf0Ca"


@pytest.fixture(autouse=True)
def bare_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    """Hide what the machine that runs the tests has set."""
    for name in Settings.model_fields:
        monkeypatch.delenv(f"LOAMBOOK_{name.upper()}", raising=False)


def test_without_settings_it_listens_to_this_machine_only_and_keeps_one_sqlite_file(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    settings = Settings()
    assert (settings.host, settings.address, settings.https) == ("127.0.0.1", "http://127.0.0.1:8000", False)
    assert settings.database_url == f"sqlite:///{tmp_path}/data/shop/shop.sqlite"
    assert settings.files == tmp_path / "data/shop/files"


def test_the_environment_decides(monkeypatch):
    monkeypatch.setenv("LOAMBOOK_ADDRESS", "https://blocks.example/")
    monkeypatch.setenv("LOAMBOOK_HOSTS", "yard.example, press.example")
    monkeypatch.setenv("LOAMBOOK_DATABASE_URL", "postgresql://shop@db/shop")
    settings = Settings()
    assert (settings.address, settings.https) == ("https://blocks.example", True)
    assert settings.hosts == ("blocks.example", "127.0.0.1", "localhost", "yard.example", "press.example")
    assert settings.database_url == "postgresql+psycopg://shop@db/shop"


def test_migrations_may_use_another_account_of_the_same_kind_of_database(monkeypatch):
    monkeypatch.setenv("LOAMBOOK_DATABASE_URL", "postgresql://shop@db/shop")
    assert Settings().migrate_url == "postgresql+psycopg://shop@db/shop"
    monkeypatch.setenv("LOAMBOOK_MIGRATE_URL", "postgresql://owner:a-password@db/shop")
    assert Settings().migrate_url == "postgresql+psycopg://owner:a-password@db/shop"
    assert "a-password" not in repr(Settings())
    monkeypatch.setenv("LOAMBOOK_MIGRATE_URL", "sqlite:///shop.sqlite")
    with pytest.raises(ValidationError, match="LOAMBOOK_MIGRATE_URL must name the same database"):
        Settings()


def test_an_address_without_a_scheme_is_refused():
    with pytest.raises(ValidationError, match="LOAMBOOK_ADDRESS must be an address"):
        Settings(address="blocks.example")


@pytest.mark.parametrize(
    ("secret", "fault"),
    [
        ("", "is not set"),
        (DRAWN[:31], "is shorter than 32 characters"),
        ("a" * 40, "looks like a placeholder"),
        ("change-me-change-me-change-me-1234567890", "looks like a placeholder"),
        (DRAWN, None),
    ],
)
def test_a_secret_that_nobody_drew_is_found_out(secret, fault):
    assert fault_of(secret) == fault


def test_production_refuses_to_start_without_a_secret():
    with pytest.raises(ValidationError, match="LOAMBOOK_SECRET is not set"):
        Settings(production=True)
    assert Settings(production=True, secret=DRAWN).data == Path("data/shop")


def test_a_printed_setting_does_not_show_the_secret():
    assert DRAWN not in repr(Settings(secret=DRAWN))
