"""Behind a real proxy: both agree where each message ends, so that nobody hides a request in another's body."""

import logging
import shutil
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

from tests.hostile.test_framing import answers
from tests.postgres import free_port

MODULES = Path("/usr/lib/apache2/modules")
CONFIG = """
ServerRoot {folder}
ServerName 127.0.0.1
PidFile {folder}/pid
ErrorLog {folder}/errors
Listen 127.0.0.1:{port}
User nobody
Group nogroup
LoadModule mpm_event_module {modules}/mod_mpm_event.so
LoadModule authz_core_module {modules}/mod_authz_core.so
LoadModule reqtimeout_module {modules}/mod_reqtimeout.so
LoadModule proxy_module {modules}/mod_proxy.so
LoadModule proxy_http_module {modules}/mod_proxy_http.so
ProxyPreserveHost On
KeepAliveTimeout 1
ProxyPass / {address}/
"""
HIDDEN = b"GET /sign-in?hidden HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n"
HEAD = b"POST /sign-in HTTP/1.1\r\nHost: 127.0.0.1\r\n"
CHUNKED = b"Transfer-Encoding: chunked\r\n"


@pytest.fixture(scope="module")
def proxied(lasting_address: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Yield the address of a proxy with the shop behind it."""
    program, port = shutil.which("apache2", path="/usr/sbin:/usr/bin"), free_port()
    assert program, "The proxy is missing: ./run test installs apache2-bin."
    folder = tmp_path_factory.mktemp("proxy")
    config = folder / "proxy.conf"
    config.write_text(CONFIG.format(folder=folder, port=port, modules=MODULES, address=lasting_address), "utf-8")
    process = subprocess.Popen([program, "-DFOREGROUND", "-f", str(config)])
    try:
        yield _answering(f"http://127.0.0.1:{port}")
    finally:
        process.terminate()
        process.wait(20)


def _answering(address: str) -> str:
    for _ in range(200):
        try:
            if httpx.get(f"{address}/health/live", timeout=5).status_code == 200:
                return address
        except httpx.TransportError:
            time.sleep(0.05)
    raise AssertionError("The proxy does not answer.")


@pytest.mark.parametrize(
    "sent",
    [
        HEAD + b"Content-Length: 4\r\n" + CHUNKED + b"\r\n0\r\n\r\n" + HIDDEN,
        HEAD + CHUNKED + b"Content-Length: %d\r\n\r\n0\r\n\r\n" % (len(HIDDEN) + 5) + HIDDEN,
        HEAD + b"Content-Length: %d\r\n" % len(HIDDEN) + b"Transfer-Encoding : chunked\r\n\r\n" + HIDDEN,
        HEAD + b"Content-Length: %d\r\n" % len(HIDDEN) + b"Transfer-Encoding: xchunked\r\n\r\n" + HIDDEN,
        HEAD + b"Content-Length: %d\r\n" % len(HIDDEN) + b"Transfer-Encoding:\x0bchunked\r\n\r\n" + HIDDEN,
        HEAD + b"Content-Length: 0\r\nContent-Length: %d\r\n\r\n" % len(HIDDEN) + HIDDEN,
        HEAD + b"Content-Length: %d\r\n\r\n" % len(HIDDEN) + HIDDEN,
    ],
    ids=["length first", "coding first", "a space", "another coding", "an odd blank", "two lengths", "an honest body"],
)
def test_the_service_sees_no_request_that_the_proxy_did_not(
    proxied: str, sent: bytes, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.INFO, logger="service"):
        found = answers(proxied, sent)
        time.sleep(0.3)
    seen = [record for record in caplog.records if record.getMessage() == "request"]
    # What the proxy refuses by itself never comes here.
    passed_on = [status for status in found if status not in (400, 501)]
    assert 0 not in found and len(seen) == len(passed_on)


def test_a_page_comes_through_it_whole(proxied: str) -> None:
    assert httpx.get(f"{proxied}/sign-in").status_code == 200
