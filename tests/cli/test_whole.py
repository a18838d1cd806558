"""The daemon as a whole: messages in, reminder out, page open; the demo; the replay."""

import io
import json
import socket
import sys
import tempfile
import threading
import urllib.request
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from chamberwatch import clock
from chamberwatch.cli import main, running, showing
from chamberwatch.core.errors import RefusedError
from chamberwatch.daemon import Daemon, life, listen, tell_systemd
from chamberwatch.mqtt.trial import TrialBroker
from chamberwatch.sim.publisher import Publisher
from chamberwatch.sim.show import Report
from tests.brokers import free_port, wait_until

CONFIG = """
[database]
commit_every = "1 s"
[mqtt]
port = {broker}
[web]
port = {web}
[[chamber]]
name = "tent"
title = "Tent"
stage = "fruiting"
[[sensor]]
name = "air"
chamber = "tent"
topic = "tent/air"
unheard_after = "1 h"
[sensor.reads.humidity]
at = "/humidity"
[sensor.time]
at = "/time"
"""


@pytest.fixture
def broker() -> Iterator[TrialBroker]:
    with TrialBroker() as made:
        yield made


def fetch(port: int, path: str) -> Any:  # noqa: ANN401 - JSON
    with urllib.request.urlopen(f"http://127.0.0.1:{port}{path}", timeout=10) as answer:
        return json.load(answer)


def report(time: datetime, humidity: float) -> Report:
    body = {"time": time.isoformat(), "humidity": humidity}
    return Report("tent/air", json.dumps(body).encode(), time, 1)


def beside(work: Callable[[], None], daemons: list[Daemon]) -> tuple[threading.Thread, list[str]]:
    """Do `work` beside the main thread, then stop the daemon; keep what went wrong."""
    wrong: list[str] = []

    def guarded() -> None:
        try:
            work()
        except BaseException as error:  # noqa: BLE001 - told in the main thread
            wrong.append(repr(error))
        finally:
            for made in daemons:
                made.stop()

    return threading.Thread(target=guarded), wrong


@pytest.fixture
def daemons(monkeypatch: pytest.MonkeyPatch) -> list[Daemon]:
    """Catch the daemon that a command makes."""
    made: list[Daemon] = []

    class Caught(Daemon):
        def serve(self, listener: socket.socket, ready: Callable[[], None]) -> None:
            made.append(self)
            super().serve(listener, ready)

    monkeypatch.setattr(running, "Daemon", Caught)
    monkeypatch.setattr(showing, "Daemon", Caught)
    return made


def test_from_a_message_to_the_terminal(
    tmp_path: Path, broker: TrialBroker, daemons: list[Daemon], monkeypatch: pytest.MonkeyPatch
) -> None:
    web = free_port()
    file = tmp_path / "cw.toml"
    file.write_text(CONFIG.format(broker=broker.port, web=web), encoding="utf-8")
    terminal = io.StringIO()
    monkeypatch.setattr(sys, "stdout", terminal)

    def grow() -> None:
        wait_until(
            lambda: bool(daemons) and fetch(web, "/api/v1/health")["broker_connected"],
            "the daemon connects",
        )
        publisher = Publisher("127.0.0.1", broker.port, "a-sensor")
        publisher.connect()
        now = datetime.now(UTC)  # noqa: TID251 - a sensor has a clock of its own
        for minute in range(9):
            publisher.publish(report(now - timedelta(minutes=9 - minute), 76.0))
        publisher.drain(10)
        publisher.close()
        wait_until(lambda: "mist now" in terminal.getvalue(), "the message is told")
        air = fetch(web, "/api/v1/chambers/tent/air")
        assert air["humidity_pct"] == 76.0
        (live,) = fetch(web, "/api/v1/reminders?state=unacknowledged")["reminders"]
        assert live["call"] == "mist"

    thread, wrong = beside(grow, daemons)
    thread.start()
    running.run_daemon(file)
    thread.join(10)
    assert wrong == []
    assert "Humidity 76 % and steady, band 80 to 95 %." in terminal.getvalue()


def test_the_demo_shows_a_reminder_and_leaves_nothing(
    daemons: list[Daemon],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
) -> None:
    monkeypatch.setattr(showing, "HISTORY", timedelta(hours=2))
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    web = free_port()

    def look() -> None:
        wait_until(lambda: bool(daemons), "the demo serves")
        wait_until(
            # By day the list of what can be done is told before anything about the air.
            lambda: any(
                r["told"] and r["call"] in ("mist", "vent")
                for r in fetch(web, "/api/v1/reminders")["reminders"]
            ),
            "the tent is dry or stale, and that is told",
            40,
        )
        for kind in ("misted", "vented"):
            body = json.dumps({"chamber": "tent", "kind": kind}).encode()
            request = urllib.request.Request(
                f"http://127.0.0.1:{web}/api/v1/actions",
                body,
                {"Content-Type": "application/json"},
            )
            with urllib.request.urlopen(request, timeout=10) as answer:  # noqa: S310
                assert answer.status == 201
        # The tent feels the misting: its simulated air grows damp.
        wait_until(
            lambda: fetch(web, "/api/v1/chambers/tent/air")["humidity_pct"] > 80, "it is damp", 20
        )

    thread, wrong = beside(look, daemons)
    thread.start()
    wishes = showing.Wishes(pace=300.0, for_="60s", to="json://127.0.0.1:9", port=web, seed=1)
    showing.run_demo(wishes)
    thread.join(10)
    assert wrong == []
    told = capsys.readouterr()
    # The front was left open; towards the evening the room is stale, and then both may be asked.
    asked = ("does it stand open?", "mist now", "vent, then mist")
    assert any(f"* Tent: {each}" in told.out for each in asked)
    assert "The demo has ended" in told.out
    assert list(tmp_path.iterdir()) == []
    ours = {"intake", "rounds", "delivery", "announcing", "self-check"}
    ours |= {"simulated tent", "watch", "clock guard"}
    assert ours.isdisjoint(thread.name for thread in threading.enumerate())


def test_the_demo_ends_by_itself(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(showing, "HISTORY", timedelta(minutes=20))
    showing.run_demo(showing.Wishes(pace=60.0, for_="1s", to="", port=0, seed=1))
    assert "Ends by itself after 1s" in capsys.readouterr().out


def test_a_taken_port_is_one_line() -> None:
    with listen("127.0.0.1", 0) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(RefusedError, match=f"Port {port} on 127.0.0.1 is taken"):
            listen("127.0.0.1", port)


def test_replay_sends_every_row(
    tmp_path: Path,
    broker: TrialBroker,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    file = tmp_path / "log.csv"
    file.write_text("time,H\n2020-01-01T00:00,80\nnever,81\n2020-01-01T00:01,82\n")
    monkeypatch.setattr(
        sys,
        "argv",
        [
            "chamberwatch",
            "replay",
            str(file),
            "--topic",
            "tent/air",
            "--column",
            "humidity=H",
            "--zone",
            "-5",
            "--port",
            str(broker.port),
            "--speed",
            "100000",
        ],
    )
    with pytest.raises(SystemExit) as left:
        main()
    assert left.value.code == 0
    told = capsys.readouterr()
    assert "2 messages sent, 1 rows could not be read." in told.out
    assert "line 3:" in told.err


def test_systemd_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as heard:
        heard.bind(str(tmp_path / "notify"))
        monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "notify"))
        tell_systemd("READY=1")
        assert heard.recv(100) == b"READY=1"


def test_a_deaf_systemd_stops_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "nobody"))
    tell_systemd("READY=1")
    assert "can't be told" in caplog.text


def test_a_dead_part_stops_the_daemon(
    tmp_path: Path,
    broker: TrialBroker,
    daemons: list[Daemon],
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    file = tmp_path / "cw.toml"
    file.write_text(CONFIG.format(broker=broker.port, web=free_port()), encoding="utf-8")
    monkeypatch.setattr("chamberwatch.systemd.WATCH_EVERY_S", 0.05)

    def break_down(_self: object, _stopping: threading.Event) -> None:
        raise RuntimeError("a fault of ours")

    monkeypatch.setattr("chamberwatch.service.rounds.Rounds.run", break_down)
    with pytest.raises(RefusedError, match="“rounds” has stopped"):
        running.run_daemon(file)
    assert "a fault of ours" in caplog.text
    assert daemons != []


def test_a_hanging_part_is_seen(
    tmp_path: Path, broker: TrialBroker, daemons: list[Daemon], monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "cw.toml"
    file.write_text(CONFIG.format(broker=broker.port, web=free_port()), encoding="utf-8")
    monkeypatch.setattr("chamberwatch.systemd.WATCH_EVERY_S", 0.05)
    monkeypatch.setattr(life, "STUCK_AFTER_S", -1.0)
    with pytest.raises(RefusedError, match="rounds"):
        running.run_daemon(file)
    assert len(daemons) == 1


def test_vitals_before_anything_runs() -> None:
    assert Daemon().vitals().troubles == ("Still starting.",)
    assert isinstance(clock.WallClock().now(), datetime)
