"""A call to a server of this machine that answers as it is told to."""

import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, HTTPServer

import pytest

from chamberwatch.notify.calling import Calling, call
from tests.brokers import DEADLINE_S, free_port

WORD = "/a-secret-word?and=more"


@dataclass
class Service:
    """Answers every GET with one status; remembers what was asked."""

    port: int
    asked: list[str] = field(default_factory=list)

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}{WORD}"


@contextmanager
def serving(status: int, holds_s: float = 0.0, **headers: str) -> Iterator[Service]:
    done = threading.Event()

    class Answering(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            service.asked.append(self.path)
            done.wait(holds_s)
            self.send_response(status)
            for name, value in headers.items():
                self.send_header(name, value)
            self.end_headers()

        def log_message(self, *_: object) -> None:
            pass

    with HTTPServer(("127.0.0.1", 0), Answering) as server:
        service = Service(server.server_address[1])
        thread = threading.Thread(target=server.serve_forever, args=(0.01,))
        thread.start()
        try:
            yield service
        finally:
            done.set()
            server.shutdown()
            thread.join()


@pytest.mark.parametrize("status", [200, 204])
def test_a_yes(status: int) -> None:
    with serving(status) as service:
        assert call(service.url).ok
    assert service.asked == [WORD]


@pytest.mark.parametrize(
    ("status", "part"),
    [
        pytest.param(404, "says no (HTTP 404)", id="not known"),
        pytest.param(503, "says no (HTTP 503)", id="broken"),
    ],
)
def test_a_no(status: int, part: str) -> None:
    with serving(status) as service:
        outcome = call(service.url)
    assert not outcome.ok
    assert part in outcome.reason
    assert "secret" not in outcome.reason


@pytest.mark.parametrize("status", [301, 302, 303, 307, 308])
def test_a_redirect_is_not_followed(status: int) -> None:
    with serving(200) as elsewhere, serving(status, Location=elsewhere.url) as service:
        outcome = call(service.url)
    assert not outcome.ok
    assert f"points elsewhere (HTTP {status})" in outcome.reason
    assert elsewhere.asked == []


def test_a_silent_one_is_given_up() -> None:
    with serving(200, holds_s=20.0) as service:
        outcome = call(service.url, timeout_s=0.2)
    assert outcome.reason.startswith("it does not answer in time")


@contextmanager
def dripping() -> Iterator[str]:
    """Serve an answer that never ends, a letter of its head at a time."""
    done = threading.Event()

    def drip(listener: socket.socket) -> None:
        listener.settimeout(DEADLINE_S)
        channel, _ = listener.accept()
        with channel, suppress(OSError):
            channel.sendall(b"HTTP/1.1 200 OK\r\nX-Long: ")
            while not done.wait(0.02):
                channel.sendall(b"x")

    with socket.create_server(("127.0.0.1", 0)) as listener:
        thread = threading.Thread(target=drip, args=(listener,))
        thread.start()
        try:
            yield f"http://127.0.0.1:{listener.getsockname()[1]}{WORD}"
        finally:
            done.set()
            thread.join()


def test_one_that_drips_is_given_up() -> None:
    with dripping() as url:
        calling = Calling(url, all_s=0.5)
        began_s = time.monotonic()
        first, second = calling(), calling()
        assert time.monotonic() - began_s < DEADLINE_S / 2
    for outcome in (first, second):
        assert not outcome.ok
        assert outcome.reason.startswith("it does not finish its answer; look at")
        assert "secret" not in outcome.reason


def test_each_sign_is_a_call_of_its_own() -> None:
    with serving(200) as service:
        calling = Calling(service.url)
        assert calling().ok
        assert calling().ok
    assert service.asked == [WORD, WORD]


@pytest.mark.parametrize(
    ("url", "part"),
    [
        pytest.param(f"http://127.0.0.1:{free_port()}{WORD}", "nothing listens", id="nobody"),
        pytest.param(f"http://tent.invalid{WORD}", "not known on this network", id="no host"),
        pytest.param(f"file://{WORD}", "begin with http", id="a file"),
        pytest.param("ftp://127.0.0.1/secret", "begin with http", id="ftp"),
        pytest.param("http://127.0.0.1:port/secret", "can't be reached", id="no port"),
    ],
)
def test_one_that_cannot_be_reached(url: str, part: str) -> None:
    outcome = call(url, timeout_s=5.0)
    assert not outcome.ok
    assert part in outcome.reason
    assert "secret" not in outcome.reason


def test_one_that_speaks_no_tls() -> None:
    with serving(200) as service:
        outcome = call(service.url.replace("http", "https"))
    assert "can't be reached (SSLError)" in outcome.reason


@pytest.mark.parametrize(("status", "timeout_s"), [(100, 0.5), (299, 30.0)])
def test_an_odd_answer_is_told_as_what_it_is(status: int, timeout_s: float) -> None:
    with serving(status) as service:
        outcome = call(service.url, timeout_s=timeout_s)
    assert outcome.ok is (status == 299)
