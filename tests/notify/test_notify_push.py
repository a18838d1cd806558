"""Messages to phones, against a service of our own on loopback."""

import base64
import json
import logging
import tempfile
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from unittest.mock import Mock

import apprise
import pytest

from chamberwatch.core.errors import SettingsError
from chamberwatch.notify.push import CONNECT_S, READ_S, Push
from chamberwatch.service.ports import Outcome, Trouble
from tests.brokers import LOOPBACK, free_port
from tests.fakes import PlainLinks

SECRET = "hunter2"  # noqa: S105 - invented, and it must never be seen
TITLE, BODY = "Tent: mist now", "Humidity 76 % and falling, band 80-95 %.\nSeen: http://tent/do/1"


@dataclass
class Service:
    """A phone service that answers as it is told, and remembers what it got."""

    status: int = 200
    status_with_picture: int = 0
    headers: dict[str, str] = field(default_factory=dict)
    got: list[tuple[str, str, dict[str, Any]]] = field(default_factory=list)
    open: threading.Event = field(default_factory=threading.Event)
    port: int = 0

    def address(self, query: str = "") -> str:
        return f"json://grower:{SECRET}@{LOOPBACK}:{self.port}/{SECRET}{query}"


@pytest.fixture
def service() -> Iterator[Service]:
    told = Service()
    told.open.set()

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            text = self.rfile.read(int(self.headers.get("Content-Length", 0)))
            content = json.loads(text or b"{}")
            told.got.append((self.command, self.path, content))
            told.open.wait(30)
            pictured = bool(content.get("attachments")) and told.status_with_picture
            self.send_response(told.status_with_picture if pictured else told.status)
            for name, value in {"Content-Length": "0", **told.headers}.items():
                self.send_header(name, value)
            self.end_headers()

        do_GET = do_POST  # noqa: N815 - as the standard library calls it

        def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - as inherited
            """Keep quiet."""

    with ThreadingHTTPServer((LOOPBACK, 0), Handler) as server:
        told.port = server.server_port
        thread = threading.Thread(target=server.serve_forever, args=(0.01,))
        thread.start()
        yield told
        told.open.set()
        server.shutdown()
        thread.join()


@pytest.fixture(autouse=True)
def everything_logged(caplog: pytest.LogCaptureFixture) -> Iterator[pytest.LogCaptureFixture]:
    """Catch what any logger says, down to the smallest, and look for the secret in it."""
    library, client = logging.getLogger("apprise"), logging.getLogger("urllib3")
    kept = library.propagate, list(library.handlers), client.level
    library.propagate, library.handlers[:] = True, []
    caplog.set_level(logging.DEBUG)
    yield caplog
    library.propagate, library.handlers[:] = kept[0], kept[1]
    client.setLevel(kept[2])
    assert SECRET not in caplog.text


def test_a_message_that_is_taken(service: Service) -> None:
    push = Push("phone", service.address(), None)
    assert push.send(TITLE, BODY) == Outcome(ok=True)
    ((method, path, content),) = service.got
    assert (method, path) == ("POST", f"/{SECRET}")
    assert (content["title"], content["message"]) == (TITLE, BODY)


HOSTILE = "\x1b[2J<img src=x onerror=go()> **b** [a](http://x) \N{RIGHT-TO-LEFT OVERRIDE}gnp."


@pytest.mark.parametrize(
    ("form", "arrives"),
    [
        ("text", " [2J<img src=x onerror=go()> **b** [a](http://x) gnp."),
        ("html", "&nbsp;[2J&lt;img&nbsp;src=x&nbsp;onerror=go()&gt;"),
    ],
)
def test_words_from_outside_are_no_markup(service: Service, form: str, arrives: str) -> None:
    push = Push("phone", service.address(f"?format={form}"), None)
    assert push.send(TITLE, HOSTILE).ok
    ((_, _, content),) = service.got
    assert arrives in content["message"]
    assert "\x1b" not in content["message"]


PASSING, CROWDED, LASTING = Trouble


@pytest.mark.parametrize(
    ("status", "reason", "trouble"),
    [
        (500, "the service has trouble of its own (HTTP 500)", PASSING),
        (503, "the service has trouble of its own (HTTP 503)", PASSING),
        (429, "the service wants fewer messages for now (HTTP 429)", CROWDED),
        (408, "the service did not take it (HTTP 408); look at the address", PASSING),
        (401, "the service refused it (HTTP 401); look at the address and its password", LASTING),
        (403, "the service refused it (HTTP 403); look at the address and its password", LASTING),
        (404, "the service did not take it (HTTP 404); look at the address", LASTING),
    ],
)
def test_a_message_that_is_refused(
    service: Service, status: int, reason: str, trouble: Trouble
) -> None:
    service.status = status
    outcome = Push("phone", service.address(), None).send(TITLE, BODY)
    assert outcome == Outcome(ok=False, reason=reason, trouble=trouble)
    assert len(service.got) == 1


@pytest.mark.parametrize("status", [301, 302, 307])
def test_a_redirect_is_not_followed(service: Service, status: int) -> None:
    service.status, service.headers = status, {"Location": "/elsewhere"}
    outcome = Push("phone", service.address(), None).send(TITLE, BODY)
    assert not outcome.ok
    assert outcome.reason == f"the service did not take it (HTTP {status}); look at the address"
    assert outcome.trouble is LASTING
    assert [path for _, path, _ in service.got] == [f"/{SECRET}"]


def test_nobody_listens() -> None:
    address = f"json://grower:{SECRET}@{LOOPBACK}:{free_port()}/{SECRET}"
    assert Push("phone", address, None).send(TITLE, BODY) == Outcome(
        ok=False,
        reason="nothing answers at the address (connection refused); look whether the service "
        "runs there",
    )


def test_a_service_that_does_not_answer_holds_nobody_up(service: Service) -> None:
    service.open.clear()
    push = Push("phone", service.address("?cto=1&rto=1"), None)
    assert push.send(TITLE, BODY) == Outcome(
        ok=False, reason="the service did not answer in time; look at the network"
    )
    assert len(service.got) == 1


PNG = b"\x89PNG\r\n\x1a\n and so on"


def test_a_picture_goes_with_it(service: Service) -> None:
    push = Push("phone", service.address(), None)
    assert push.pictures
    assert push.send(TITLE, BODY, PNG) == Outcome(ok=True)
    ((_, _, content),) = service.got
    (attached,) = content["attachments"]
    assert base64.b64decode(attached["base64"]) == PNG
    assert (attached["filename"], attached["mimetype"]) == ("last-six-hours.png", "image/png")


def test_a_picture_that_is_not_wanted_is_not_sent(service: Service) -> None:
    push = Push("phone", service.address(), None, pictures=False)
    assert (push.pictures, push.takes_pictures) == (False, True)
    assert push.send(TITLE, BODY, PNG) == Outcome(ok=True)
    assert service.got[0][2]["attachments"] == []


@pytest.mark.parametrize("status", [400, 413, 415, 422])
def test_a_picture_that_is_not_taken_costs_only_itself(service: Service, status: int) -> None:
    service.status_with_picture = status
    assert Push("phone", service.address(), None).send(TITLE, BODY, PNG) == Outcome(ok=True)
    assert [len(content["attachments"]) for _, _, content in service.got] == [1, 0]


@pytest.mark.parametrize("status", [401, 404, 429, 500])
def test_what_fails_for_another_reason_is_not_sent_twice(service: Service, status: int) -> None:
    service.status_with_picture = status
    assert not Push("phone", service.address(), None).send(TITLE, BODY, PNG).ok
    assert len(service.got) == 1


def test_a_full_disk_costs_only_the_picture(
    service: Service, monkeypatch: pytest.MonkeyPatch
) -> None:
    gone = Mock(side_effect=OSError(28, "No space left on device"))
    monkeypatch.setattr(tempfile, "TemporaryDirectory", gone)
    assert Push("phone", service.address(), None).send(TITLE, BODY, PNG) == Outcome(ok=True)
    assert service.got[0][2]["attachments"] == []


def test_a_failure_is_no_reason_to_give_up(service: Service) -> None:
    push = Push("phone", service.address(), None)
    service.status = 500
    assert not push.send(TITLE, BODY).ok
    service.status = 200
    assert push.send(TITLE, BODY).ok


@pytest.mark.parametrize(
    ("query", "timeouts"),
    [
        pytest.param("", (CONNECT_S, READ_S), id="none stated"),
        pytest.param("?format=text", (CONNECT_S, READ_S), id="another query"),
        pytest.param("?cto=1&rto=2", (1, 2), id="stated"),
        pytest.param("?format=text&rto=2", (4, 2), id="one stated, the library's own other"),
    ],
)
def test_no_service_may_take_its_time(query: str, timeouts: tuple[float, float]) -> None:
    push = Push("phone", f"json://{LOOPBACK}/x{query}", None)
    (plugin,) = push._apprise
    assert plugin.request_timeout == timeouts


@pytest.mark.parametrize(
    "address",
    [
        pytest.param(f"nothing://{SECRET}", id="unknown service"),
        pytest.param(f"json://u:{SECRET}@:5", id="no host"),
        pytest.param(SECRET, id="no address"),
        pytest.param("", id="empty"),
    ],
)
def test_an_unreadable_address_is_a_fault_of_the_settings(address: str) -> None:
    with pytest.raises(SettingsError) as caught:
        Push("phone", address, None)
    assert str(caught.value) == (
        "settings: notify phone.to: This is no address that the notification library takes; look "
        "at its form."
    )
    assert SECRET not in repr(caught.value.faults)


@pytest.mark.parametrize(
    ("status", "reason", "trouble"),
    [
        ("TIMEOUT", "the service did not answer in time", PASSING),
        ("PARTIAL", "only some of the receivers got it; look at the address", PASSING),
        ("NOMATCH", "no service takes this address; look at its form", LASTING),
    ],
)
def test_what_the_library_says_otherwise(
    monkeypatch: pytest.MonkeyPatch, status: str, reason: str, trouble: Trouble
) -> None:
    push = Push("phone", f"json://{LOOPBACK}/x", None)
    result = apprise.AppriseResult(status=apprise.AppriseResultStatus[status], results=[])
    monkeypatch.setattr(push._apprise, "notify", Mock(return_value=result))
    assert push.send(TITLE, BODY) == Outcome(ok=False, reason=reason, trouble=trouble)


def test_a_library_that_breaks_stops_nobody(monkeypatch: pytest.MonkeyPatch) -> None:
    push = Push("phone", f"json://{LOOPBACK}/x", None)
    monkeypatch.setattr(push._apprise, "notify", Mock(side_effect=KeyError(SECRET)))
    assert push.send(TITLE, BODY) == Outcome(
        ok=False, reason="the notification library failed: KeyError"
    )


def test_name_and_links_are_kept() -> None:
    links = PlainLinks()
    push = Push("phone", f"json://{LOOPBACK}/x", links)
    assert (push.name, push.links) == ("phone", links)


def test_the_library_is_kept_quiet_once() -> None:
    for _ in range(3):
        Push("phone", f"json://{LOOPBACK}/x", None)
    library = logging.getLogger("apprise")
    assert not library.propagate
    assert len(library.handlers) == 1
