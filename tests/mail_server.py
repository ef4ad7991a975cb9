"""A small SMTP server of the test's own machine (RFC 5321), which refuses, delays and drops as it is told."""

import socketserver
import ssl
from base64 import b64decode
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from email import message_from_bytes
from email.message import EmailMessage
from email.policy import default
from threading import Event, Thread

from service.mail_server import MailServer

DROP, SILENT = "drop", "silent"


@dataclass
class Post:
    """What the server does: an answer of its own for a step, and the mail that it took."""

    port: int = 0
    # One of greeting, mail, rcpt, data (before the text), text (after it) -> an answer, ``DROP`` or ``SILENT``.
    answers: dict[str, str] = field(default_factory=dict)
    taken: list[EmailMessage] = field(default_factory=list)
    to: list[str] = field(default_factory=list)
    connections: int = 0
    # How it encrypts: from the first byte, or after STARTTLS (RFC 3207), where there is anything to encrypt with.
    encrypts: ssl.SSLContext | None = None
    from_the_start: bool = False
    # Of each mail: whether its line was encrypted, and what the sender signed in with (RFC 4616).
    encrypted: list[bool] = field(default_factory=list)
    signed_in: list[str] = field(default_factory=list)
    done: Event = field(default_factory=Event)

    def forget(self) -> None:
        """Take everything again, and forget what was taken."""
        self.answers.clear()
        self.taken.clear()
        self.to.clear()
        self.connections = 0
        self.encrypts, self.from_the_start = None, False
        self.encrypted.clear()
        self.signed_in.clear()

    def settings(self, timeout_s: float = 5.0) -> MailServer:
        """Return how the service reaches it."""
        return MailServer("127.0.0.1", self.port, "", "", "bench@shop.example", "none", timeout_s)


class _Talk(socketserver.StreamRequestHandler):
    def handle(self) -> None:
        # Who trusts no certificate of this server hangs up while it is shown.
        try:
            with suppress(ssl.SSLError):
                self._talk(self.server.post)  # type: ignore[attr-defined]
        finally:
            self.connection.close()

    def _talk(self, post: Post) -> None:
        post.connections += 1
        if post.from_the_start:
            self._encrypt()
        if not self._says("greeting", "220 post.example"):
            return
        to = ""
        while line := self.rfile.readline():
            word = line[:4].decode().lower().strip()
            if word == "rcpt":
                to = line.decode().partition("<")[2].partition(">")[0]
            if word == "quit":
                self.wfile.write(b"221 Bye\r\n")
                return
            if not self._says(word, self._usual(word)):
                return
            self._follow(word, line)
            if word == "data" and "data" not in post.answers:
                text = self._text()
                if not self._says("text", "250 Taken", before=lambda text=text, to=to: self._keep(text, to)):
                    return

    def _usual(self, word: str) -> str:
        offers = isinstance(self.connection, ssl.SSLSocket)
        if word == "ehlo":
            more = ["AUTH PLAIN"] if offers else ["STARTTLS"] if self.server.post.encrypts else []  # type: ignore[attr-defined]
            return "\r\n".join(["250-post.example", *(f"250-{one}" for one in more), "250 8BITMIME"])
        return {"data": "354 Go on", "star": "220 Go on", "auth": "235 Signed in"}.get(word, "250 post.example")

    def _follow(self, word: str, line: bytes) -> None:
        if word == "star":
            self._encrypt()
        if word == "auth":
            self.server.post.signed_in.append(b64decode(line.split()[-1]).decode())  # type: ignore[attr-defined]

    def _encrypt(self) -> None:
        self.request = self.connection = self.server.post.encrypts.wrap_socket(self.request, server_side=True)  # type: ignore[attr-defined]
        self.rfile, self.wfile = self.connection.makefile("rb"), self.connection.makefile("wb", 0)

    def _keep(self, text: bytes, to: str) -> None:
        self.server.post.taken.append(message_from_bytes(text, policy=default))  # type: ignore[attr-defined]
        self.server.post.to.append(to)  # type: ignore[attr-defined]
        self.server.post.encrypted.append(isinstance(self.connection, ssl.SSLSocket))  # type: ignore[attr-defined]

    def _text(self) -> bytes:
        lines = []
        for line in self.rfile:
            if line == b".\r\n":
                break
            lines.append(line.removeprefix(b".") if line.startswith(b"..") else line)
        return b"".join(lines)

    def _says(self, step: str, usual: str, before=None) -> bool:
        post: Post = self.server.post  # type: ignore[attr-defined]
        answer = post.answers.get(step, usual)
        if before and answer in (usual, DROP, SILENT):
            before()
        if answer == SILENT:
            post.done.wait(10)
        if answer in (DROP, SILENT):
            return False
        self.wfile.write(f"{answer}\r\n".encode())
        return True


class _Server(socketserver.ThreadingTCPServer):
    daemon_threads = True
    allow_reuse_address = True


@contextmanager
def serving() -> Iterator[Post]:
    """Give a server that answers until the end."""
    post = Post()
    with _Server(("127.0.0.1", 0), _Talk) as server:
        server.post = post  # type: ignore[attr-defined]
        post.port = server.server_address[1]
        thread = Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
        thread.start()
        try:
            yield post
        finally:
            post.done.set()
            server.shutdown()
            thread.join()
