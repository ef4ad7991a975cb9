"""Where one message ends and the next begins, as RFC 9112 has it: nobody hides a request in the body of another."""

from http.client import HTTPResponse
from io import BytesIO

import pytest

from tests.hostile.test_slow import connected

HIDDEN = b"GET /health/live HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n"
HEAD = b"POST /sign-in HTTP/1.1\r\nHost: 127.0.0.1\r\n"


def answers(address: str, sent: bytes) -> list[int]:
    """Return the status of every answer until the service ends the connection; 0 stands for a wait without end."""
    with connected(address) as one:
        one.settimeout(30)
        one.sendall(sent)
        came = b""
        try:
            while part := one.recv(65536):
                came += part
        except ConnectionResetError:
            pass
        except TimeoutError:
            return [*read(came), 0]
    return read(came)


class _Bytes(BytesIO):
    """What came, which each reader of an answer would close behind it."""

    def makefile(self, _mode: str) -> "_Bytes":
        return self

    def close(self) -> None:
        pass


def read(came: bytes) -> list[int]:
    """Return the status of every answer, read one after another as HTTP has it, to the last byte."""
    source, found = _Bytes(came), list[int]()
    while source.tell() < len(came):
        answer = HTTPResponse(source)  # type: ignore[arg-type]
        answer.begin()
        answer.read()
        found.append(answer.status)
    return found


@pytest.mark.parametrize(
    ("head", "why"),
    [
        (b"Content-Length: 4\r\nContent-Length: 5\r\n\r\n", "two lengths that differ"),
        (b"Content-Length: +4\r\n\r\n", "a length that is no row of digits"),
        (b"Content-Length : 4\r\n\r\n", "a space before the colon"),
        (b"Transfer-Encoding: gzip\r\n\r\n", "a coding it does not know"),
        (b"Transfer-Encoding: chunked\r\nTransfer-Encoding: chunked\r\n\r\n", "chunked twice"),
        (b"Transfer-Encoding: chunked\r\n\r\nzz\r\n", "a piece whose length is no number"),
    ],
    ids=lambda given: given if isinstance(given, str) else "",
)
def test_a_message_whose_end_is_in_doubt_is_refused_and_nothing_behind_it_is_answered(
    lasting_address: str, head: bytes, why: str
) -> None:
    found = answers(lasting_address, HEAD + head + HIDDEN)
    assert len(found) == 1, why
    assert found[0] in (400, 501), why


def test_where_a_coding_and_a_length_stand_together_nothing_behind_the_body_is_answered(lasting_address: str) -> None:
    """RFC 9112, 6.1: the coding counts, and the connection is closed after the answer, whatever else came on it."""
    length, coding = b"Content-Length: 4\r\n", b"Transfer-Encoding: chunked\r\n"
    for both in (length + coding, coding + length.lower()):
        assert answers(lasting_address, HEAD + both + b"\r\n0\r\n\r\n" + HIDDEN) == [422]


def test_two_answers_on_one_connection_are_counted_as_two(lasting_address: str) -> None:
    first = HIDDEN.replace(b"Connection: close\r\n", b"")
    assert answers(lasting_address, first + HIDDEN) == [200, 200]
    coded = HEAD + b"Transfer-Encoding: chunked\r\n\r\n0\r\n\r\n"
    assert answers(lasting_address, coded + HIDDEN) == [422, 200]


def test_a_body_as_long_as_it_says_hides_no_request(lasting_address: str) -> None:
    sent = HEAD + f"Content-Length: {len(HIDDEN)}\r\nConnection: close\r\n\r\n".encode() + HIDDEN
    assert answers(lasting_address, sent) == [422]
