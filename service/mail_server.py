"""Where mail of this shop goes out."""

from dataclasses import dataclass, field
from typing import Literal


@dataclass(frozen=True)
class MailServer:
    """A server that takes mail from this shop, how to sign in there, and in whose name mail is sent."""

    host: str
    port: int
    user: str
    password: str = field(repr=False)
    sender: str
    tls: Literal["starttls", "tls", "none"]
    timeout_s: float = 30.0
