"""Somebody who opens connections and says nothing more does not shut the house, nor do refusals fill its log."""

import re
import resource
import socket
import ssl
import time
import urllib.request
from collections.abc import Iterator
from contextlib import ExitStack, suppress
from pathlib import Path

import pytest

from curehouse.commands.house.roles.web import BACKPRESSURE, BLOCKING_THREADS
from curehouse.common.few_at_once import SHORT_BYTES
from tests.certificates import make_certificate
from tests.house import RunningHouse, wait_until

MOST_SECONDS = 10.0
MORE_THAN_ARE_HELD = BACKPRESSURE + 88
# What HTTP/2 opens with, and settings that leave all as it is (RFC 9113, 3.4 and 6.5); then nothing.
HTTP2_OPENED = b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n" + bytes((0, 0, 0, 4, 0, 0, 0, 0, 0))


@pytest.fixture(scope="module", autouse=True)
def many_sockets() -> Iterator[None]:
    """Let this process hold more connections than the house does."""
    was = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (max(was[0], 2_048), was[1]))
    yield
    resource.setrlimit(resource.RLIMIT_NOFILE, was)


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningHouse]:
    with RunningHouse(tmp_path_factory.mktemp("held") / "data") as running:
        yield running


def answers_while(house: RunningHouse, beginning: bytes, *, times: int, buffer_bytes: int | None = None) -> float:
    """Return after how many seconds the house answers while so many requests are begun and not ended."""
    with ExitStack() as open_ones:
        for _ in range(times):
            one = open_ones.enter_context(socket.socket())
            one.settimeout(20)
            if buffer_bytes is not None:
                one.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, buffer_bytes)
            one.connect((house.host, house.port))
            one.sendall(beginning.replace(b"HOST", f"{house.host}:{house.port}".encode()))
        time.sleep(1)
        began = time.monotonic()
        assert house.status("/healthz") == 200
        return time.monotonic() - began


def token_of(house: RunningHouse) -> str:
    with urllib.request.urlopen(f"{house.base_url}/set-up/") as page:
        return re.search(r"csrftoken=(\w+)", str(page.headers))[1]


def test_a_file_that_is_too_large_is_read_to_its_end_so_that_a_browser_shows_the_answer(house: RunningHouse) -> None:
    token = token_of(house)
    field = f'--x\r\nContent-Disposition: form-data; name="csrfmiddlewaretoken"\r\n\r\n{token}\r\n'
    file = '--x\r\nContent-Disposition: form-data; name="file"; filename="scan.pdf"\r\n\r\n'
    body = (field + file).encode() + bytes(70 * 2**20) + b"\r\n--x--\r\n"
    headers = {
        "Content-Type": "multipart/form-data; boundary=x",
        "Cookie": f"csrftoken={token}",
        "Origin": house.base_url,
    }
    sent = urllib.request.Request(f"{house.base_url}/set-up/", data=body, headers=headers)
    with urllib.request.urlopen(sent, timeout=60) as answer:
        assert answer.status == 200
        assert "is missing" in answer.read().decode()


def test_bodies_that_never_come_hold_a_few_threads(house: RunningHouse) -> None:
    token = token_of(house)
    head = (
        "POST /set-up/ HTTP/1.1\r\nHost: HOST\r\nOrigin: http://HOST\r\n"
        f"Cookie: csrftoken={token}\r\nContent-Type: multipart/form-data; boundary=x\r\nContent-Length: 60000\r\n\r\n--x\r\n"
    )
    assert answers_while(house, head.encode(), times=40) < MOST_SECONDS


def test_heads_that_never_end_hold_nothing(house: RunningHouse) -> None:
    assert answers_while(house, b"GET /set-up/ HTTP/1.1\r\nHost: HO", times=300) < MOST_SECONDS


def long_file(house: RunningHouse) -> str:
    """Return the path of the longest static file, larger than what is handed over whole."""
    files = [path for path in (house.data / "static").rglob("*.*.js") if path.stat().st_size > 4 * SHORT_BYTES]
    return f"/static/{max(files, key=lambda path: path.stat().st_size).relative_to(house.data / 'static')}"


def test_answers_that_are_not_read_hold_a_few_threads(house: RunningHouse) -> None:
    path = long_file(house)
    with urllib.request.urlopen(house.base_url + path, timeout=20) as whole:
        size = len(whole.read())
    assert size > 4 * SHORT_BYTES
    asked = f"GET {path} HTTP/1.1\r\nHost: HOST\r\n\r\n".encode()
    assert answers_while(house, asked * 3, times=40, buffer_bytes=2_048) < MOST_SECONDS
    # Whoever is gone holds nothing any more: as many as there are threads, one after another.
    for _ in range(BLOCKING_THREADS):
        wait_until(lambda: house.status(path) == 200, seconds=20, what="a place for a long answer")
    with urllib.request.urlopen(house.base_url + path, timeout=20) as whole:
        assert len(whole.read()) == size


def test_a_request_that_is_refused_leaves_no_traceback_in_the_log(house: RunningHouse) -> None:
    # The worker may still be on its way up, and say so in a log of its own.
    log = house.data / "logs" / "web.log"
    before = len(log.read_text("utf-8"))
    for host in ("thistlewick.example", "", "a b"):
        assert house.status("/", {"Host": host}) == 400
    assert house.status("/no-such-page/") == 404
    said = log.read_text("utf-8")[before:]
    assert len(said) < 200, said


@pytest.mark.parametrize("said", [b"", HTTP2_OPENED], ids=["nothing", "a beginning of HTTP/2"])
def test_connections_that_say_nothing_end(house: RunningHouse, said: bytes) -> None:
    assert answers_while(house, said, times=MORE_THAN_ARE_HELD) < MOST_SECONDS


@pytest.mark.needs("openssl")
@pytest.mark.parametrize("is_shaken", [False, True], ids=["before the handshake", "after it"])
def test_connections_that_say_nothing_by_https_end(tmp_path: Path, is_shaken: bool) -> None:
    cert, key = make_certificate(tmp_path)
    trusting = ssl.create_default_context(cafile=str(cert))
    # A browser offers both; what the house then speaks, it must end.
    trusting.set_alpn_protocols(["h2", "http/1.1"])
    with RunningHouse(tmp_path / "data", "--cert", str(cert), "--key", str(key)) as house, ExitStack() as open_ones:
        for _ in range(MORE_THAN_ARE_HELD):
            one = open_ones.enter_context(socket.create_connection((house.host, house.port), timeout=2))
            if is_shaken:
                # Those over the number are shaken hands with once others ended.
                with suppress(TimeoutError):
                    open_ones.enter_context(trusting.wrap_socket(one, server_hostname=house.host))
        began = time.monotonic()
        assert house.status("/healthz") == 200
        assert time.monotonic() - began < MOST_SECONDS
