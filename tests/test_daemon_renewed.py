"""A daemon that takes new settings over while it serves."""

import http.client
import io
import os
import signal
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from chamberwatch.clock import WallClock
from chamberwatch.core.errors import RefusedError
from chamberwatch.daemon import Daemon, heed_hangup, life, listen
from chamberwatch.mqtt.trial import TrialBroker
from chamberwatch.settings import Put, SettingsFile, load
from chamberwatch.wiring.common import Occasion
from chamberwatch.wiring.machine import Machine
from chamberwatch.wiring.renewing import Read, Renewing, Step
from tests.brokers import DEADLINE_S, wait_until

TEXT = '[mqtt]\nport = {port}\n[[chamber]]\nname = "tent"\ntitle = "Tent"\nstage = "fruiting"\n'


@dataclass
class Served:
    """A daemon at work."""

    daemon: Daemon
    renewing: Renewing
    file: Path
    port: int

    @property
    def machine(self) -> Machine:
        assert self.daemon.machine is not None
        return self.daemon.machine

    def title(self) -> str:
        return self.machine.house.chamber("tent").title

    def called(self, title: str) -> Callable[[], bool]:
        return lambda: self.title() == title

    def rename(self, title: str) -> None:
        self.renewing.change([Put("chamber", "tent", {"title": title})])

    def write(self, before: str) -> None:
        text = self.file.read_text(encoding="utf-8").replace('"Tent"', '"Tub"')
        self.file.write_text(text.replace("[mqtt]", f"[mqtt]\n{before}"), encoding="utf-8")

    def status(self) -> int:
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=DEADLINE_S)
        try:
            line.request("GET", "/api/v1/chambers")
            return line.getresponse().status
        finally:
            line.close()


@contextmanager
def serving(tmp_path: Path) -> Iterator[Served]:
    with TrialBroker() as broker, listen("127.0.0.1", 0) as listener:
        file = tmp_path / "cw.toml"
        file.write_text(TEXT.format(port=broker.port), encoding="utf-8")
        daemon = Daemon()
        renewing = Renewing(
            SettingsFile(file, {}),
            lambda: Read(load(file, {})),
            WallClock(),
            Occasion(io.StringIO(), "http://tent", daemon.vitals, ailing=daemon.ailing),
            daemon.renew,
        )
        daemon.renewing = renewing
        machine = renewing.first(Read(load(file, {})))
        ready = threading.Event()

        def serve() -> None:
            with daemon.running(machine), suppress(RefusedError):
                daemon.serve(listener, ready.set)

        thread = threading.Thread(target=serve)
        thread.start()
        try:
            assert ready.wait(DEADLINE_S)
            yield Served(daemon, renewing, file, listener.getsockname()[1])
        finally:
            daemon.stop()
            thread.join(DEADLINE_S)
            assert not thread.is_alive()


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("chamberwatch.systemd.WATCH_EVERY_S", 0.05)


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    with serving(tmp_path) as made:
        yield made


def test_a_change_holds_and_the_watch_is_content(served: Served) -> None:
    wait_until(lambda: len(served.machine.self_watch.checkup.now()) == 4, "it looked itself over")
    first, started = served.machine, served.machine.app.state.desk.history.health().started
    served.rename("Tub")
    assert served.status() == 200
    assert served.title() == "Tub"
    assert served.machine is not first
    assert served.daemon.ailing() == ""
    assert served.renewing.stand().trouble == ""
    # What was found in the database, and since when it runs, is known still.
    health = served.machine.app.state.desk.history.health()
    assert health.started == started
    assert len(health.checks) == 4
    wait_until(served.machine.link.connected, "it is connected again")
    assert served.daemon.vitals().connected


def test_two_changes_at_once_both_hold(served: Served) -> None:
    served.rename("Tub")
    served.renewing.change([Put("chamber", "tent", {"volume_l": 90})])
    wait_until(lambda: served.machine.house.chamber("tent").volume_l == 90, "both are taken")
    assert served.title() == "Tub"


def test_settings_at_fault_change_nothing(served: Served) -> None:
    first = served.machine
    served.write("window = 0")
    served.renewing.read_again()
    wait_until(lambda: "mqtt.window" in served.renewing.stand().trouble, "it is said")
    assert served.status() == 200
    assert served.machine is first


def test_parts_that_cannot_begin_leave_the_former_at_work(served: Served) -> None:
    served.write('tls = true\nca_file = "/nowhere.pem"')
    served.renewing.read_again()
    wait_until(lambda: "/nowhere.pem" in served.renewing.stand().trouble, "it is said")
    assert served.status() == 200
    assert served.title() == "Tent"
    wait_until(served.machine.link.connected, "it is connected again")
    assert served.daemon.ailing() == ""


def test_a_fault_of_ours_leaves_the_former_at_work_too(served: Served) -> None:
    def broken() -> Machine:
        raise ValueError("broken")

    class Broken:
        def next(self) -> Step | None:
            step = served.renewing.next()
            return None if step is None else replace(step, new=broken)

        def took(self, why_not: str) -> None:
            served.renewing.took(why_not)

    served.daemon.renewing = Broken()
    served.rename("Tub")
    wait_until(lambda: "the fault is ours" in served.renewing.stand().trouble, "it is said")
    assert served.status() == 200
    assert served.title() == "Tent"
    assert (served.daemon.ailing(), served.daemon._failed) == ("", "")


def test_nothing_is_put_away_beneath_a_thread_that_hangs(
    served: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(life, "JOIN_S", 0.1)
    first, books = served.machine, served.machine.books
    go_on, read = threading.Event(), []

    def hang() -> None:
        go_on.wait(DEADLINE_S)
        with books.read() as book:
            read.append(book.kept.text("anything"))

    hanging = threading.Thread(target=hang, daemon=True)
    hanging.start()
    served.daemon._threads.append(hanging)
    served.rename("Tub")
    wait_until(lambda: served.daemon._threads == [hanging], "all others have ended")
    threading.Event().wait(2 * life.LOOK_AGAIN_S)
    assert served.machine is first
    go_on.set()
    wait_until(served.called("Tub"), "it goes on")
    assert read == [None]


def test_where_nothing_can_be_made_the_daemon_gives_up_in_the_open(served: Served) -> None:
    def none() -> Machine:
        raise RefusedError("It can't be.")

    class Nothing:
        def next(self) -> Step:
            return Step(none, none)

        def took(self, why_not: str) -> None:
            self.why_not = why_not

    served.daemon.renewing = Nothing()
    served.daemon.renew()
    wait_until(lambda: bool(served.daemon._failed), "it gives up")
    assert served.daemon._failed == "The settings could not be taken over."


def test_a_broken_reader_stops_it_too(served: Served) -> None:
    class Broken:
        def next(self) -> Step | None:
            raise ValueError("broken")

        def took(self, why_not: str) -> None:
            self.why_not = why_not

    served.daemon.renewing = Broken()
    served.daemon.renew()
    wait_until(lambda: bool(served.daemon._failed), "it gives up")


def test_a_change_that_hangs_is_seen(served: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("chamberwatch.systemd.WATCH_EVERY_S", 10.0)
    served.daemon._changing_s = time.monotonic()
    assert served.daemon.ailing() == ""
    assert not any("has stopped" in trouble for trouble in served.daemon.vitals().troubles)
    monkeypatch.setattr(life, "STUCK_AFTER_S", -1.0)
    assert served.daemon.ailing() == "The settings can't be taken over."
    served.daemon._changing_s = None


def test_a_stop_in_the_middle_ends_in_order(tmp_path: Path) -> None:
    with serving(tmp_path) as served:
        served.rename("Tub")
        served.daemon.stop()


def test_nothing_is_renewed_where_nothing_can_be() -> None:
    daemon = Daemon()
    daemon.renew()
    assert not daemon._wanted.is_set()


def test_a_hangup_reads_the_settings_again() -> None:
    heard: list[int] = []
    before = signal.getsignal(signal.SIGHUP)
    try:
        heed_hangup(lambda: heard.append(1))
        os.kill(os.getpid(), signal.SIGHUP)
        wait_until(lambda: heard == [1], "it is heard")
    finally:
        signal.signal(signal.SIGHUP, before)
