"""Which names the service answers to, so that no foreign page can pass for it; the refusal names the setting."""

from starlette.datastructures import Headers
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Receive, Scope, Send

LONGEST_NAME = 100


class KnownHosts:
    """Refuse a request for a host that the settings do not name."""

    def __init__(self, app: ASGIApp, *, hosts: tuple[str, ...], address: str) -> None:
        self.app, self.hosts, self.address = app, frozenset(name.lower() for name in hosts), address

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on, or say where the service is and which setting adds a name."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        host = name_of(Headers(scope=scope).get("host", ""))
        if host in self.hosts:
            await self.app(scope, receive, send)
            return
        sentence = (
            f"Loambook does not answer to the name {host[:LONGEST_NAME] or '(none)'}. Open it at {self.address}.\n"
            "To add this name, put it into the setting LOAMBOOK_HOSTS and start Loambook again.\n"
        )
        await PlainTextResponse(sentence, 400)(scope, receive, send)


def name_of(host: str) -> str:
    """Return the name in a Host header, without port and brackets."""
    bare, _, port = host.strip().lower().rpartition(":")
    name = bare if bare and port.isdigit() else host.strip().lower()
    return name.strip("[]")
