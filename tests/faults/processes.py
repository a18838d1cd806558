"""The daemon as a process of its own, to be killed, and a look into its file."""

import http.client
import json
import os
import signal
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path
from typing import Any, Final

from chamberwatch.clock import WallClock
from tests.brokers import DEADLINE_S, Client, Mosquitto, free_port, visiting, wait_until

ROOT: Final = Path(__file__).parents[2]
CLIENT_ID: Final = "faults"
STATUS: Final = "chamberwatch/status"
TABLES: Final = """
[database]
url = "sqlite:///{file}"
commit_every = "1 s"
[mqtt]
host = "{host}"
port = {broker}
client_id = "{client_id}"
window = 500
[web]
port = {web}
"""


def command(*words: str, of: str = "chamberwatch") -> list[str]:
    """Return a command line of ours."""
    return [sys.executable, "-m", of, *words]


def by_day() -> str:
    """Return settings of a site where it is about noon: quiet hours hold nothing back."""
    ahead_h = 12 - WallClock().now().hour
    # The names of these zones count westwards.
    return f'[site]\ntimezone = "Etc/GMT{-ahead_h:+d}"\n'


def clear_of_midnight() -> None:
    """Wait until the day, UTC, has at least two minutes left: a test may be about days."""
    now = WallClock().now()
    left = now.replace(hour=23, minute=59, second=59) - now
    if left < timedelta(minutes=2):
        threading.Event().wait(left.total_seconds() + 2.0)


def environment() -> dict[str, str]:
    """Return the environment without settings of whoever runs the tests."""
    kept = {k: v for k, v in os.environ.items() if not k.startswith("CHAMBERWATCH_")}
    return {**kept, "PYTHONPATH": str(ROOT)}


@dataclass
class DaemonProcess:
    """A daemon on a folder of its own; its status is heard from the broker.

    Attributes:
        folder: for settings, database and log.
        broker: runs.
        ear: hears the daemon's status.
        web: port of its page.
        place: of the database; None: in the folder.
        surroundings: more of its environment.
        room: network namespace it runs in; None: that of the tests.
        reaches: where it finds the broker; None: where the broker says.
        program: what Python runs; with more than ours around it where a test needs that.
    """

    folder: Path
    broker: Mosquitto
    ear: Client
    web: int = field(default_factory=free_port)
    place: Path | None = None
    surroundings: Mapping[str, str] = field(default_factory=dict)
    room: str | None = None
    reaches: tuple[str, int] | None = None
    program: str = "chamberwatch"
    _process: subprocess.Popen[bytes] | None = field(default=None, repr=False)

    @property
    def file(self) -> Path:
        return (self.place or self.folder) / "cw.db"

    def settle(self, house: str) -> None:
        """Write the settings: ours, then what the test declares."""
        host, port = self.reaches or (self.broker.host, self.broker.port)
        ours = TABLES.format(
            file=self.file, host=host, broker=port, client_id=CLIENT_ID, web=self.web
        )
        (self.folder / "cw.toml").write_text(ours + house, encoding="utf-8")

    def start(self, *, awaited: bool = True) -> None:
        """Start it, and wait until it says that it is at work and well: it has subscribed.

        Args:
            awaited: whether to wait; without a broker it can't say so.
        """
        within = ("ip", "netns", "exec", self.room) if self.room is not None else ()
        with (self.folder / "daemon.log").open("ab") as log:
            self._process = subprocess.Popen(
                [
                    *within,
                    *command("run", "--config", str(self.folder / "cw.toml"), of=self.program),
                ],
                cwd=self.folder,
                env={**environment(), **self.surroundings},
                stdout=log,
                stderr=log,
            )
        if awaited:
            self._await(at_work=True)

    def kill(self) -> None:
        """End it as a power cut would, and wait until the broker has noticed."""
        assert self._process is not None
        self._process.kill()
        self._process.wait(DEADLINE_S)
        self._process = None
        self._await(at_work=False)

    def end(self) -> int:
        """End it in order; return its exit code."""
        assert self._process is not None
        self._process.send_signal(signal.SIGTERM)
        code = self._process.wait(DEADLINE_S)
        self._process = None
        return code

    def troubles(self) -> list[str]:
        """Return what is wrong with it by its own word; “starting” before it answers."""
        health = self.health()
        return ["starting"] if health is None else list(map(str, health["troubles"]))

    def looked_over(self) -> str:
        """Return what it found when it looked itself over, as one text."""
        health = self.health()
        return "" if health is None else "\n".join(each["words"] for each in health["checks"])

    def health(self) -> dict[str, Any] | None:
        """Return what it says of itself on its page for programs; None before it answers."""
        line = http.client.HTTPConnection("127.0.0.1", self.web, timeout=DEADLINE_S)
        with closing(line):
            try:
                line.request("GET", "/api/v1/health")
            except ConnectionRefusedError:
                return None
            answer = line.getresponse()
            body = answer.read()
        assert answer.status == 200, body
        told: dict[str, Any] = json.loads(body)
        return told

    def says(self, words: str) -> bool:
        """Tell whether one of its troubles reads so."""
        return any(words in trouble for trouble in self.troubles())

    @contextmanager
    def standing_still(self) -> Iterator[None]:
        """Stop it in mid-step until the block is left."""
        assert self._process is not None
        self._process.send_signal(signal.SIGSTOP)
        # A stop is an order, not a fact: it stands when the kernel says so.
        state = Path(f"/proc/{self._process.pid}/stat")
        wait_until(lambda: state.read_text().rpartition(")")[2].split()[0] == "T", "it stands")
        try:
            yield
        finally:
            self._process.send_signal(signal.SIGCONT)

    def signal(self, number: signal.Signals) -> None:
        """Send it a signal."""
        assert self._process is not None
        self._process.send_signal(number)

    def abandon(self) -> None:
        """Leave no process behind, whatever happened."""
        if self._process is not None:
            self._process.kill()
            self._process.wait(DEADLINE_S)

    def rows(self, question: str) -> Sequence[tuple[Any, ...]]:
        """Ask its file."""
        with closing(sqlite3.connect(f"file:{self.file}?mode=ro", uri=True)) as file:
            return file.execute(question).fetchall()

    def number(self, question: str) -> int:
        """Ask its file for one number."""
        return int(self.rows(question)[0][0])

    def log(self) -> str:
        """Return what it said."""
        return (self.folder / "daemon.log").read_text(errors="replace")

    def _await(self, *, at_work: bool) -> None:
        def said() -> bool:
            process = self._process
            assert process is None or process.poll() is None, self.log()
            if self.ear.heard.empty():
                return False
            told = json.loads(self.ear.heard.get().payload)
            return bool(told["at_work"] is at_work and told.get("well", True))

        wait_until(said, f"the daemon says at_work: {at_work}")


@contextmanager
def daemon_at(
    folder: Path, *, log: str = "", rooms: tuple[str, str] | None = None
) -> Iterator[DaemonProcess]:
    """Have a broker and a daemon that is not started yet, until the block is left.

    Args:
        folder: for the files of both.
        log: further lines of the broker's settings.
        rooms: network namespaces of the broker and of the daemon; None: ours.
    """
    near, far = rooms or (None, None)
    broker = Mosquitto(folder, more=log, room=near)
    with broker.running(), visiting(broker) as ear:
        ear.subscribe(STATUS)
        daemon = DaemonProcess(folder, broker, ear, room=far)
        try:
            yield daemon
        finally:
            daemon.abandon()
