"""What the environment says of this installation: every setting is a variable that starts with LOAMBOOK_."""

from datetime import time
from pathlib import Path
from typing import Annotated, Self
from urllib.parse import urlsplit

from pydantic import Field, SecretStr, field_validator, model_validator
from pydantic_settings import BaseSettings, NoDecode, SettingsConfigDict

SHORTEST_SECRET = 32
# A secret of so few different characters was typed to fill the line, not drawn.
FEWEST_DIFFERENT_CHARACTERS = 10
PLACEHOLDERS = ("change", "replace", "secret", "password", "example", "placeholder")

Names = Annotated[tuple[str, ...], NoDecode]


class Settings(BaseSettings):
    """The settings of one installation; what is not set is worked out from what is."""

    model_config = SettingsConfigDict(env_prefix="LOAMBOOK_", frozen=True)

    production: bool = False
    secret: SecretStr = SecretStr("")
    data: Path = Path("data/shop")
    database_url: str = Field(default="", repr=False)
    # The same database under the account that owns its tables, when the service's own may only read and write rows.
    migrate_url: str = Field(default="", repr=False)
    host: str = "127.0.0.1"
    port: int = Field(default=8000, ge=0, le=65535)
    # The address people type, when it is not the one the service listens on.
    address: str = ""
    # Host names the service answers to; the one of ``address`` and this machine's own always count.
    hosts: Names = ()
    # Where archives are kept, when that is not the folder archives of the data: another disk is better.
    archives: Path | None = None
    # The time of day, where the shop is, after which the nightly archive is made.
    nightly_at: time = time(2, 30)
    # The bearer token with which a monitor may read /metrics; without one nobody may.
    metrics_token: SecretStr = SecretStr("")
    # Addresses of the proxies whose word on the caller's address and scheme is taken.
    proxies: Names = ()

    @field_validator("hosts", "proxies", mode="before")
    @classmethod
    def split_at_commas(cls, given: object) -> object:
        """Read "a, b" as two names."""
        return tuple(name.strip() for name in given.split(",") if name.strip()) if isinstance(given, str) else given

    @model_validator(mode="after")
    def work_out_the_rest(self) -> Self:
        """Fill what follows from other settings, and refuse a weak secret where it counts."""
        if self.production and (fault := fault_of(self.secret.get_secret_value())):
            raise ValueError(f"LOAMBOOK_SECRET {fault}.")
        address = (self.address or f"http://{self.host}:{self.port}").rstrip("/")
        own = urlsplit(address).hostname
        if own is None or urlsplit(address).scheme not in ("http", "https"):
            raise ValueError("LOAMBOOK_ADDRESS must be an address such as https://blocks.example.")
        url = self.database_url or f"sqlite:///{self.data.resolve() / 'shop.sqlite'}"
        object.__setattr__(self, "address", address)
        object.__setattr__(self, "hosts", tuple(dict.fromkeys((own, "127.0.0.1", "localhost", *self.hosts))))
        for name, given in (("database_url", url), ("migrate_url", self.migrate_url or url)):
            object.__setattr__(self, name, given.replace("postgresql://", "postgresql+psycopg://", 1))
        if urlsplit(self.migrate_url).scheme != urlsplit(self.database_url).scheme:
            raise ValueError("LOAMBOOK_MIGRATE_URL must name the same database as LOAMBOOK_DATABASE_URL.")
        return self

    @property
    def https(self) -> bool:
        """Whether people reach the service over an encrypted connection."""
        return self.address.startswith("https://")

    @property
    def files(self) -> Path:
        """The folder of the stored files."""
        return self.data.resolve() / "files"

    @property
    def archive_folder(self) -> Path:
        """The folder of the archives."""
        return (self.archives or self.data / "archives").resolve()


def fault_of(secret: str) -> str | None:
    """Say what makes a secret unfit to be one, or None when nothing does."""
    if not secret:
        return "is not set"
    if len(secret) < SHORTEST_SECRET:
        return f"is shorter than {SHORTEST_SECRET} characters"
    if len(set(secret)) < FEWEST_DIFFERENT_CHARACTERS or any(word in secret.lower() for word in PLACEHOLDERS):
        return "looks like a placeholder"
    return None
