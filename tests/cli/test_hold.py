"""`hold`: the time that is meant, and what a daemon answers."""

import json
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime, time
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit
from zoneinfo import ZoneInfo

import pytest
from typer.testing import CliRunner

from chamberwatch.cli import app
from chamberwatch.cli.holding import WONT_HOLD, until
from chamberwatch.clock import WallClock
from chamberwatch.core.errors import ChamberwatchError, RefusedError
from chamberwatch.storage.book import open_books
from chamberwatch.web.own_pass import OwnPasses
from tests.brokers import free_port

LISBON = ZoneInfo("Europe/Lisbon")
BERLIN = ZoneInfo("Europe/Berlin")
AFTERNOON = datetime(2026, 1, 20, 15, 0, tzinfo=UTC)
MORNING = time(7, 30)

CONFIG = """
[web]
port = {port}
[[chamber]]
name = "tent"
stage = "fruiting"
{more}
[[sensor]]
name = "air"
chamber = "tent"
topic = "tent/air"
reads.humidity = {{ at = "/humidity" }}
"""
TUB = '[[chamber]]\nname = "tub"\nstage = "fruiting"\n'


@pytest.mark.parametrize(
    ("text", "zone", "meant"),
    [
        pytest.param("18:00", LISBON, datetime(2026, 1, 20, 18, 0, tzinfo=UTC), id="today"),
        pytest.param("18:00", BERLIN, datetime(2026, 1, 20, 17, 0, tzinfo=UTC), id="local time"),
        pytest.param("14:30", LISBON, datetime(2026, 1, 21, 14, 30, tzinfo=UTC), id="tomorrow"),
        pytest.param("15:00", LISBON, datetime(2026, 1, 21, 15, 0, tzinfo=UTC), id="just now"),
        pytest.param("morning", LISBON, datetime(2026, 1, 21, 7, 30, tzinfo=UTC), id="morning"),
        pytest.param(" Morning ", LISBON, datetime(2026, 1, 21, 7, 30, tzinfo=UTC), id="typed so"),
        pytest.param("5h", LISBON, datetime(2026, 1, 20, 20, 0, tzinfo=UTC), id="a length"),
        pytest.param("90 min", BERLIN, datetime(2026, 1, 20, 16, 30, tzinfo=UTC), id="minutes"),
    ],
)
def test_the_time_that_is_meant(text: str, zone: ZoneInfo, meant: datetime) -> None:
    assert until(text, AFTERNOON, zone, MORNING) == meant


def test_a_time_through_the_change_of_the_clocks() -> None:
    """On 29 March 2026 the clocks of Lisbon go from 01:00 to 02:00."""
    evening = datetime(2026, 3, 28, 23, 0, tzinfo=UTC)
    assert until("morning", evening, LISBON, MORNING) == datetime(2026, 3, 29, 6, 30, tzinfo=UTC)


@pytest.mark.parametrize("text", ["soon", "25:00", "at six", ""])
def test_what_is_no_time_is_said(text: str) -> None:
    with pytest.raises(RefusedError, match="is no time: write 18:00, morning, or a length"):
        until(text, AFTERNOON, LISBON, MORNING)


@contextmanager
def daemon(
    status: int, body: object, opens: Callable[[str], bool] = lambda _: True
) -> Iterator[tuple[int, list[str]]]:
    """Answer every request that opens it with the same; yield the port and what was asked."""
    asked: list[str] = []

    class Answers(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            asked.append(self.path)
            let_in = opens(self.headers.get("Authorization", ""))
            data = json.dumps(body if let_in else {"detail": "Log in."}).encode()
            self.send_response(status if let_in else 401)
            self.send_header("Content-Length", str(len(data)))
            self.end_headers()
            self.wfile.write(data)

        def log_message(self, *_: Any) -> None:  # noqa: ANN401 - the library's signature
            pass

    server = HTTPServer(("127.0.0.1", 0), Answers)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05})
    thread.start()
    try:
        yield server.server_port, asked
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


def config(folder: Path, port: int, more: str = "") -> str:
    file = folder / "chamberwatch.toml"
    file.write_text(CONFIG.format(port=port, more=more), encoding="utf-8")
    return str(file)


@pytest.mark.parametrize(("holds", "code"), [(True, 0), (False, WONT_HOLD)])
def test_the_answer_is_printed_and_is_the_exit_code(
    tmp_path: Path, holds: bool, code: int
) -> None:
    with daemon(200, {"holds": holds, "words": "Yes, or no."}) as (port, asked):
        result = CliRunner().invoke(app, ["hold", "--config", config(tmp_path, port)])
    assert (result.exit_code, result.output) == (code, "Yes, or no.\n")
    assert asked == ["/api/v1/chambers/tent/hold?"]


def test_behind_a_passcode_it_shows_that_it_may_read_the_database(tmp_path: Path) -> None:
    def opens(brings: str) -> bool:
        return passes.good(brings.removeprefix("Bearer "), WallClock().now())

    with closing(open_books(f"sqlite:///{tmp_path}/chamberwatch.db", WallClock().now())) as books:
        passes = OwnPasses(books)
        with daemon(200, {"holds": True, "words": "Yes."}, opens) as (port, asked):
            result = CliRunner().invoke(app, ["hold", "--config", config(tmp_path, port)])
    assert (result.exit_code, result.output) == (0, "Yes.\n")
    assert len(asked) == 2


def test_a_database_of_another_opens_nothing(tmp_path: Path) -> None:
    open_books(f"sqlite:///{tmp_path}/chamberwatch.db", WallClock().now()).close()
    with daemon(200, {}, lambda _: False) as (port, _):
        result = CliRunner().invoke(app, ["hold", "--config", config(tmp_path, port)])
    assert isinstance(result.exception, RefusedError)
    assert str(result.exception) == "Log in."


def test_the_time_is_handed_on(tmp_path: Path) -> None:
    with daemon(200, {"holds": True, "words": "Yes."}) as (port, asked):
        file = config(tmp_path, port, TUB)
        result = CliRunner().invoke(app, ["hold", "tub", "--till", "morning", "-c", file])
    assert result.exit_code == 0
    path = urlsplit(asked[0])
    assert path.path == "/api/v1/chambers/tub/hold"
    meant = datetime.fromisoformat(parse_qs(path.query)["until"][0])
    assert (meant.hour, meant.minute, meant.utcoffset()) == (7, 30, UTC.utcoffset(None))


@pytest.mark.parametrize(
    ("more", "arguments", "says"),
    [
        pytest.param(TUB, [], "Name the chamber. Known: tent, tub.", id="which one"),
        pytest.param("", ["--till", "noonish"], "“noonish” is no time", id="no time"),
    ],
)
def test_what_can_not_be_asked_is_said(
    tmp_path: Path, more: str, arguments: list[str], says: str
) -> None:
    file = config(tmp_path, free_port(), more)
    result = CliRunner().invoke(app, ["hold", *arguments, "--config", file])
    assert isinstance(result.exception, ChamberwatchError)
    assert says in str(result.exception)


def test_what_the_daemon_refuses_is_handed_on(tmp_path: Path) -> None:
    with daemon(409, {"detail": "State volume_l."}) as (port, _):
        result = CliRunner().invoke(app, ["hold", "--config", config(tmp_path, port)])
    assert str(result.exception) == "State volume_l."


def test_without_a_daemon_it_says_how_to_start_one(tmp_path: Path) -> None:
    result = CliRunner().invoke(app, ["hold", "--config", config(tmp_path, free_port())])
    assert "Start it with `chamberwatch run`" in str(result.exception)
