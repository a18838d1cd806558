"""A daemon and a bare subscriber as processes of their own, looked at from outside."""

import json
import os
import signal
import sqlite3
import subprocess
import sys
import threading
import time
import urllib.request
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any

from chamberwatch.sim.publisher import Publisher
from tests.brokers import free_port, wait_until
from tests.faults.processes import ROOT, command, environment

START_S = 120.0
"""A daemon on a busy machine may take so long to be there."""

TABLES = """
[database]
url = "sqlite:///{file}"
commit_every = "{commit_every}"
[mqtt]
port = {broker}
window = {window}
[web]
port = {web}
"""


@dataclass(frozen=True, slots=True)
class Process:
    """A process, by what the kernel counts of it.

    Attributes:
        pid: its number; 0: our own.
    """

    pid: int

    @property
    def _at(self) -> Path:
        return Path("/proc") / (str(self.pid) if self.pid else "self")

    def cpu_s(self) -> float:
        """Return the processor time so far. [s]."""
        text = (self._at / "stat").read_text(encoding="ascii")
        fields = text.rsplit(")", 1)[1].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    def resident_mb(self) -> float:
        """Return the resident memory. [MB]."""
        status = (self._at / "status").read_text(encoding="ascii")
        return int(status.split("VmRSS:")[1].split()[0]) * 1024 / 1e6

    def written_mb(self) -> float:
        """Return what it has had written to storage, as the kernel counts it. [MB]."""
        text = (self._at / "io").read_text(encoding="ascii")
        return int(text.split("write_bytes:")[1].split()[0]) / 1e6


@dataclass
class Daemon:
    """A daemon under way.

    Attributes:
        process: it.
        web: port of its pages.
        file: its database.
        connected_s: when it was last connected to the broker, on the monotonic clock. [s]
    """

    process: Process
    web: int
    file: Path
    connected_s: float = 0.0
    connected: threading.Event = field(default_factory=threading.Event)

    def rows(self, question: str) -> list[tuple[Any, ...]]:
        """Ask its file."""
        with closing(sqlite3.connect(f"file:{self.file}?mode=ro", uri=True)) as db:
            return db.execute(question).fetchall()

    def number(self, question: str) -> int:
        """Ask its file for one number."""
        return int(self.rows(question)[0][0])

    def since_connected_s(self) -> float:
        """Return how long ago it was connected. [s]."""
        return time.monotonic() - self.connected_s

    def await_pages(self) -> None:
        """Wait until it answers on its pages and listens."""
        wait_until(self._listens, "the daemon listens", START_S)

    def _listens(self) -> bool:
        address = f"http://127.0.0.1:{self.web}/api/v1/health"
        try:
            with urllib.request.urlopen(address, timeout=10) as answer:
                return bool(json.load(answer)["broker_connected"])
        except OSError:
            return False

    def read(self, log: IO[str]) -> None:
        """Follow what it says, and note when it is connected."""
        for line in log:
            if "Connected to the broker" in line:
                self.connected_s = time.monotonic()
                self.connected.set()


@dataclass(frozen=True, slots=True)
class Home:
    """Where a daemon lives, from one start to the next.

    Attributes:
        folder: for settings and database.
        broker: its port.
        house: chambers, sensors and addresses, as TOML.
        commit_every: as in the settings.
        window: as in the settings.
    """

    folder: Path
    broker: int
    house: str
    commit_every: str = "30 s"
    window: int = 500

    def settings(self, web: int) -> Path:
        """Write the settings file; return its path."""
        path = self.folder / "bench.toml"
        tables = TABLES.format(
            file=self.folder / "bench.db",
            broker=self.broker,
            web=web,
            commit_every=self.commit_every,
            window=self.window,
        )
        path.write_text(tables + self.house, encoding="utf-8")
        return path

    @contextmanager
    def daemon(self, *line: str) -> Iterator[Daemon]:
        """Run a daemon until the block is left.

        Args:
            line: the command line up to the settings file; without: that of `run`.
        """
        web = free_port()
        path = self.settings(web)
        start = line or (*command("run"), "--config")
        with running(*start, str(path)) as (process, log):
            daemon = Daemon(Process(process.pid), web, self.folder / "bench.db")
            reader = threading.Thread(target=daemon.read, args=(log,), daemon=True)
            reader.start()
            yield daemon


@contextmanager
def running(*line: str) -> Iterator[tuple[subprocess.Popen[str], IO[str]]]:
    """Run a command until the block is left; yield it, and what it says."""
    process = subprocess.Popen(
        line,
        env=environment(),
        cwd=ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    assert process.stdout is not None
    try:
        yield process, process.stdout
    finally:
        process.send_signal(signal.SIGTERM)
        try:
            process.wait(60)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait(10)


@dataclass
class Counter:
    """A bare subscriber as a process; `tests.bench.counting` is what it runs."""

    process: Process
    _popen: subprocess.Popen[str]
    _said: IO[str]

    def told(self) -> dict[str, Any]:
        """Wait until it has counted all it was asked for; return what it tells."""
        return self._line()

    def ask(self) -> dict[str, Any]:
        """End its counting now; return what it tells."""
        assert self._popen.stdin is not None
        self._popen.stdin.close()
        return self._line()

    def _line(self) -> dict[str, Any]:
        line = self._said.readline()
        assert line.startswith("{"), line + self._said.read()
        told: dict[str, Any] = json.loads(line)
        return told


@contextmanager
def counting(port: int, topic: str, *more: str) -> Iterator[Counter]:
    """Have a bare subscriber that listens, until the block is left.

    Args:
        port: of the broker.
        topic: what it subscribes to.
        more: options of `tests.bench.counting`.
    """
    line = (sys.executable, "-m", "tests.bench.counting", str(port), topic, *more)
    with running(*line) as (process, said):
        assert said.readline() == "listening\n", said.read()
        yield Counter(Process(process.pid), process, said)


@contextmanager
def publishing(port: int) -> Iterator[Publisher]:
    """Have a publisher until the block is left."""
    publisher = Publisher("127.0.0.1", port, "bench-sensor")
    publisher.connect()
    try:
        yield publisher
    finally:
        publisher.close()
