"""The watch over the daemon's own threads, and what systemd hears of it."""

import logging
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest
from starlette.applications import Starlette

from chamberwatch.clock import WallClock
from chamberwatch.core.errors import RefusedError
from chamberwatch.daemon import Daemon, life, listen, serving_config, watch_every_s
from chamberwatch.mqtt.trial import TrialBroker
from chamberwatch.service.announcing import Announcing
from chamberwatch.service.rounds import Rounds
from chamberwatch.settings import load
from chamberwatch.storage.migrations import STEPS
from chamberwatch.wiring.common import Occasion
from chamberwatch.wiring.machine import Machine, build
from tests.brokers import DEADLINE_S, free_port, wait_until
from tests.storage.older import make_older

JOIN_S = 3.0
CONFIG = """
[mqtt]
port = {broker}
out = "{out}"
[[chamber]]
name = "tent"
stage = "fruiting"
[[sensor]]
name = "air"
chamber = "tent"
topic = "tent/air"
payload = "number"
[sensor.reads.humidity]
"""


class Systemd:
    """Hears what the daemon tells."""

    def __init__(self, place: Path) -> None:
        self.heard: list[str] = []
        self.channel = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.channel.bind(str(place))
        self.thread = threading.Thread(target=self._hear)
        self.thread.start()

    def _hear(self) -> None:
        while (said := self.channel.recv(100)) != b"":
            self.heard.append(said.decode())

    def catch_up(self) -> None:
        """Return once all is heard that was said before this."""
        with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as sender:
            sender.sendto(b"mark", self.channel.getsockname())
        wait_until(lambda: "mark" in self.heard, "the mark is heard")

    def fed(self) -> int:
        return self.heard.count("WATCHDOG=1")

    def close(self) -> None:
        # Shutting it down would end the daemon's side too; an empty letter ends the hearing.
        with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as sender:
            sender.sendto(b"", self.channel.getsockname())
        self.thread.join(DEADLINE_S)
        self.channel.close()


@pytest.fixture
def systemd(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Systemd]:
    place = tmp_path / "notify"
    made = Systemd(place)
    monkeypatch.setenv("NOTIFY_SOCKET", str(place))
    yield made
    made.close()


@pytest.fixture
def broker() -> Iterator[TrialBroker]:
    with TrialBroker() as made:
        yield made


@contextmanager
def serving(
    tmp_path: Path, broker: TrialBroker, more: str = "", out: str = "chamberwatch"
) -> Iterator[tuple[Daemon, Machine]]:
    """Serve beside the block; what ended the serving is in `daemon._failed`."""
    file = tmp_path / "cw.toml"
    file.write_text(more + CONFIG.format(broker=broker.port, out=out), encoding="utf-8")
    daemon = Daemon()
    with listen("127.0.0.1", 0) as listener, (tmp_path / "terminal").open("w") as terminal:
        occasion = Occasion(terminal, "http://tent", daemon.vitals, ailing=daemon.ailing)
        machine = build(load(file, {}), WallClock(), occasion)

        def serve() -> None:
            with daemon.running(machine), suppress(RefusedError):
                daemon.serve(listener, lambda: None)

        thread = threading.Thread(target=serve)
        thread.start()
        try:
            yield daemon, machine
        finally:
            daemon.stop()
            thread.join(DEADLINE_S)
            assert not thread.is_alive()


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("chamberwatch.systemd.WATCH_EVERY_S", 0.05)
    monkeypatch.setattr(life, "JOIN_S", JOIN_S)


@pytest.fixture
def hanging() -> Iterator[threading.Event]:
    """Return an event that a hanging part waits for; it is let go in the end."""
    until = threading.Event()
    yield until
    until.set()


def test_it_is_fed_while_all_live(tmp_path: Path, broker: TrialBroker, systemd: Systemd) -> None:
    with serving(tmp_path, broker) as (daemon, _):
        wait_until(lambda: systemd.fed() >= 5, "the watchdog is fed")
        assert daemon.ailing() == ""
        assert systemd.heard[0] == "READY=1"
    # A look that was under way feeds it once more, which does no harm.
    wait_until(lambda: "STOPPING=1" in systemd.heard[-2:], "it hears of the end")


def test_a_start_that_brings_the_database_up_to_date_has_time(
    tmp_path: Path, broker: TrialBroker, systemd: Systemd, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.INFO, "chamberwatch")
    path = tmp_path / "old.db"
    make_older(path, 1)
    with serving(tmp_path, broker, f'[database]\nurl = "sqlite:///{path}"\n'):
        wait_until(lambda: "READY=1" in systemd.heard, "it is ready")
    assert systemd.heard[:2] == ["EXTEND_TIMEOUT_USEC=180000000", "READY=1"]
    assert f"brought up to date ({STEPS[-1][0]})" in caplog.text


@pytest.mark.parametrize(
    ("part", "method", "name"),
    [
        pytest.param(Rounds, "look", "rounds", id="rounds"),
        pytest.param(Announcing, "look", "announcing", id="announcing"),
    ],
)
def test_a_hanging_part_is_fed_no_more(
    tmp_path: Path,
    broker: TrialBroker,
    systemd: Systemd,
    hanging: threading.Event,
    monkeypatch: pytest.MonkeyPatch,
    part: type,
    method: str,
    name: str,
) -> None:
    monkeypatch.setattr("chamberwatch.service.rounds.EVERY_S", 0.05)
    monkeypatch.setattr("chamberwatch.service.announcing.LOOK_EVERY_S", 0.05)
    monkeypatch.setattr("chamberwatch.service.delivery.LOOK_AGAIN_S", 0.05)
    hangs = threading.Event()
    works = getattr(part, method)

    def look(self: object) -> None:
        if hangs.is_set():
            hanging.wait()
        works(self)

    monkeypatch.setattr(part, method, look)
    with serving(tmp_path, broker) as (daemon, _):
        wait_until(lambda: systemd.fed() >= 5, "the watchdog is fed")
        hangs.set()
        # Not before: whatever is slow on a busy machine would be called hanging.
        monkeypatch.setattr(life, "STUCK_AFTER_S", 5.0)
        wait_until(lambda: bool(daemon._failed), "it is noticed")
        systemd.catch_up()
        fed = systemd.fed()
        wait_until(lambda: "STOPPING=1" in systemd.heard, "the daemon stops")
        assert daemon._failed == f"The thread “{name}” does not answer."
        assert systemd.fed() == fed


def test_it_gives_up_when_another_one_has_its_database(
    tmp_path: Path, broker: TrialBroker, systemd: Systemd
) -> None:
    with serving(tmp_path, broker) as (daemon, _):
        wait_until(lambda: "READY=1" in systemd.heard, "it runs")
        daemon.give_up("Another chamberwatch took this database.")
        wait_until(lambda: "STOPPING=1" in systemd.heard, "the daemon stops")
        assert daemon._failed == "Another chamberwatch took this database."


def test_a_hanging_thread_does_not_keep_the_process(tmp_path: Path, broker: TrialBroker) -> None:
    with serving(tmp_path, broker) as (daemon, _):
        wait_until(lambda: bool(daemon._threads), "it runs")
        assert {t.name for t in daemon._threads} == {"intake", "rounds", "delivery", "announcing"}
        assert all(thread.daemon for thread in daemon._threads)


def alive(thread: threading.Thread) -> bool:
    return thread.is_alive()


def test_all_that_hang_are_waited_for_together(
    tmp_path: Path, broker: TrialBroker, hanging: threading.Event
) -> None:
    with serving(tmp_path, broker) as (daemon, _):
        wait_until(lambda: bool(daemon._threads) and all(map(alive, daemon._threads)), "it runs")
        for number in range(6):
            name = f"hangs {number}"
            thread = threading.Thread(target=hanging.wait, name=name, daemon=True)
            thread.start()
            daemon._threads.append(thread)
        began_s = time.monotonic()
    # One after the other they would take six times as long as all may take together.
    assert JOIN_S <= time.monotonic() - began_s < 6 * JOIN_S


def test_who_sent_a_request_is_believed_of_a_proxy_on_this_machine_alone(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("FORWARDED_ALLOW_IPS", "*")
    config = serving_config(Starlette())
    assert config.forwarded_allow_ips == "127.0.0.1,::1"
    assert config.proxy_headers


@pytest.mark.parametrize(
    ("sign", "out", "threads"),
    [
        pytest.param("", "", {"intake", "rounds", "delivery"}, id="neither"),
        pytest.param(
            '[sign_of_life]\nurl = "http://127.0.0.1:9/"\n',
            "house/watcher",
            {"intake", "rounds", "delivery", "announcing", "sign of life"},
            id="both",
        ),
    ],
)
def test_each_has_a_thread_where_it_is_wanted(
    tmp_path: Path, broker: TrialBroker, sign: str, out: str, threads: set[str]
) -> None:
    with serving(tmp_path, broker, sign, out) as (daemon, machine):
        wait_until(lambda: bool(daemon._threads), "it runs")
        assert {thread.name for thread in daemon._threads} == threads
        assert (machine.self_watch.out is not None) is bool(out)


def test_a_sign_of_life_that_does_not_arrive_is_a_trouble(
    tmp_path: Path, broker: TrialBroker
) -> None:
    sign = f'[sign_of_life]\nurl = "http://127.0.0.1:{free_port()}/a-secret-word"\n'
    with serving(tmp_path, broker, sign) as (daemon, machine):
        wait_until(lambda: daemon.vitals().troubles == (), "all is well")
        assert machine.self_watch.sign_of_life is not None
        machine.self_watch.sign_of_life.give()
        (trouble,) = daemon.vitals().troubles
        assert trouble.startswith("The sign of life does not arrive: nothing listens there")
        assert "secret" not in trouble


@pytest.mark.parametrize(
    ("environment", "every_s"),
    [
        pytest.param({}, 10.0, id="nobody asks"),
        pytest.param({"WATCHDOG_USEC": "120000000"}, 10.0, id="seldom"),
        pytest.param({"WATCHDOG_USEC": "6000000"}, 3.0, id="often"),
        pytest.param({"WATCHDOG_USEC": "6000000", "WATCHDOG_PID": "7"}, 3.0, id="of us"),
        pytest.param({"WATCHDOG_USEC": "6000000", "WATCHDOG_PID": "8"}, 10.0, id="of another"),
        pytest.param({"WATCHDOG_USEC": "0"}, 10.0, id="never"),
        pytest.param({"WATCHDOG_USEC": "soon"}, 10.0, id="no number"),
    ],
)
def test_it_is_fed_as_often_as_systemd_asks(
    environment: dict[str, str], every_s: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("chamberwatch.systemd.WATCH_EVERY_S", 10.0)
    assert watch_every_s(environment, 7) == every_s


def test_the_self_check_stands_in_the_health(tmp_path: Path, broker: TrialBroker) -> None:
    with serving(tmp_path, broker) as (_, machine):
        checkup = machine.self_watch.checkup
        wait_until(lambda: len(checkup.now()) == 4, "it has looked itself over")
        wait_until(lambda: all(line.well for line in checkup.now()), "all is well")
        assert [line.name for line in checkup.now()] == ["clock", "disk", "broker", "database"]
