"""The daemon as a process of its own, to be killed, and a look into its file."""

import json
import os
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from tests.brokers import DEADLINE_S, Client, Mosquitto, free_port, visiting, wait_until

ROOT: Final = Path(__file__).parents[2]
CLIENT_ID: Final = "faults"
STATUS: Final = "chamberwatch/status"
TABLES: Final = """
[database]
url = "sqlite:///{file}"
commit_every = "1 s"
[mqtt]
port = {broker}
client_id = "{client_id}"
window = 500
[web]
port = {web}
"""


def command(*words: str) -> list[str]:
    """Return a command line of ours."""
    return [sys.executable, "-m", "chamberwatch", *words]


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
    """

    folder: Path
    broker: Mosquitto
    ear: Client
    web: int = field(default_factory=free_port)
    _process: subprocess.Popen[bytes] | None = field(default=None, repr=False)

    @property
    def file(self) -> Path:
        return self.folder / "cw.db"

    def settle(self, house: str) -> None:
        """Write the settings: ours, then what the test declares."""
        ours = TABLES.format(
            file=self.file, broker=self.broker.port, client_id=CLIENT_ID, web=self.web
        )
        (self.folder / "cw.toml").write_text(ours + house, encoding="utf-8")

    def start(self) -> None:
        """Start it, and wait until it says that it is at work and well: it has subscribed."""
        with (self.folder / "daemon.log").open("ab") as log:
            self._process = subprocess.Popen(
                command("run", "--config", str(self.folder / "cw.toml")),
                cwd=self.folder,
                env=environment(),
                stdout=log,
                stderr=log,
            )
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
def daemon_at(folder: Path, *, log: str = "") -> Iterator[DaemonProcess]:
    """Have a broker and a daemon that is not started yet, until the block is left."""
    with Mosquitto(folder, more=log).running() as broker, visiting(broker) as ear:
        ear.subscribe(STATUS)
        daemon = DaemonProcess(folder, broker, ear)
        try:
            yield daemon
        finally:
            daemon.abandon()
