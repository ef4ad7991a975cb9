"""The environment is read once, strictly, and a weak secret is refused where it counts."""

import socket
from pathlib import Path

import pytest
from pydantic import ValidationError

from service import places
from service import settings as settings_module
from service.settings import Settings, fault_of

ROOT = Path(__file__).resolve().parents[2]

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
    assert settings.database_url == f"sqlite:///{ROOT}/data/shop/shop.sqlite"
    assert settings.files == ROOT / "data/shop/files"


def test_outside_a_clone_data_is_in_the_accounts_own_folder(tmp_path, monkeypatch):
    monkeypatch.setattr(places, "PACKAGE", tmp_path / "site-packages" / "service")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "share"))
    assert Settings().data == tmp_path / "share" / "loambook" / "shop"


def test_on_a_network_it_answers_to_the_machines_own_address_and_name(monkeypatch):
    monkeypatch.setattr(settings_module, "own_address", lambda: "10.20.30.40")
    monkeypatch.setattr(socket, "gethostname", lambda: "Bench-PC")
    settings = Settings(host="0.0.0.0")
    assert settings.address == "http://10.20.30.40:8000"
    assert settings.hosts == ("10.20.30.40", "127.0.0.1", "localhost", "bench-pc")


def test_a_setting_may_be_kept_in_a_file(tmp_path, monkeypatch):
    (tmp_path / "secret").write_text(f"{DRAWN}\n")
    (tmp_path / "url").write_text("postgresql://shop:a-password@db/shop\n")
    monkeypatch.setenv("LOAMBOOK_SECRET_FILE", str(tmp_path / "secret"))
    monkeypatch.setenv("LOAMBOOK_DATABASE_URL_FILE", str(tmp_path / "url"))
    settings = Settings(production=True)
    assert settings.secret.get_secret_value() == DRAWN
    assert settings.database_url == "postgresql+psycopg://shop:a-password@db/shop"
    monkeypatch.setenv("LOAMBOOK_SECRET_FILE", str(tmp_path / "none"))
    with pytest.raises(ValidationError, match=r"LOAMBOOK_SECRET_FILE names .* which is not there"):
        Settings()


def test_the_secret_that_opening_a_shop_drew_is_found_in_its_folder(tmp_path):
    (tmp_path / "secret.txt").write_text(DRAWN)
    assert Settings(data=tmp_path, production=True).secret.get_secret_value() == DRAWN


@pytest.mark.parametrize(
    ("url", "fault"),
    [
        ("nonsense", "must be an address such as postgresql://"),
        ("mysql://shop@db/shop", "must be an address such as postgresql://"),
        ("sqlite://", "must name a file"),
        ("postgresql://shop:a@b:c@db:port/shop", "must have a number as its port"),
    ],
)
def test_what_is_no_address_of_a_database_is_refused_by_name(url, fault):
    with pytest.raises(ValidationError, match=f"LOAMBOOK_DATABASE_URL {fault}"):
        Settings(database_url=url)


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
    assert Settings(production=True, secret=DRAWN).data == ROOT / "data/shop"


def test_a_printed_setting_does_not_show_the_secret():
    assert DRAWN not in repr(Settings(secret=DRAWN))


MAIL = {"smtp_host": "post.example", "smtp_from": "bench@yard.example"}


def test_mail_is_sent_where_a_server_and_an_address_are_named(tmp_path):
    assert Settings().mail_server is None
    (tmp_path / "password").write_text("drawn by the provider\n")
    file = {"smtp_user": "bench", "smtp_password_file": tmp_path / "password"}
    server = Settings(**MAIL, **file).mail_server
    assert (server.host, server.port, server.tls, server.password) == (
        "post.example", 587, "starttls", "drawn by the provider",
    )  # fmt: skip
    assert "drawn by the provider" not in repr(server)
    assert Settings(**MAIL, smtp_tls="tls").mail_server.port == 465


@pytest.mark.parametrize(
    ("given", "fault"),
    [
        ({"smtp_from": "bench@yard.example"}, "LOAMBOOK_SMTP_HOST must name"),
        ({"smtp_host": "post.example"}, "LOAMBOOK_SMTP_FROM must be"),
        ({**MAIL, "smtp_from": "bench"}, "LOAMBOOK_SMTP_FROM must be"),
        ({**MAIL, "smtp_user": "bench"}, "LOAMBOOK_SMTP_USER and LOAMBOOK_SMTP_PASSWORD go together"),
        ({**MAIL, "smtp_user": "a", "smtp_password": "b", "smtp_tls": "none"}, "LOAMBOOK_SMTP_TLS none would send"),
    ],
)
def test_mail_settings_that_could_send_none_are_refused_by_name(given, fault):
    with pytest.raises(ValidationError, match=fault):
        Settings(**given)
