"""A grower who has nothing yet: an empty folder, a broker, two sensors that speak, a daemon."""

import json
import signal
import sqlite3
import subprocess
import threading
import tomllib
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from chamberwatch.settings.first import begin
from tests.brokers import DEADLINE_S, Client, Mosquitto, free_port, listens, visiting, wait_until
from tests.faults.processes import command, environment

TENT_TOPIC: Final = "greenhouse/sensor-7/climate"
ROOM_TOPIC: Final = "house/living/th"
EVERY_S: Final = 0.5


@dataclass
class Air:
    """What the two sensors say from now on."""

    client: Client
    temperature_c: float = 17.8
    humidity_pct: float = 93.0
    co2_ppm: int = 820

    def say(self) -> None:
        tent = {
            "temperature": self.temperature_c,
            "humidity": self.humidity_pct,
            "co2": self.co2_ppm,
            "rssi": -61,
        }
        self.client.publish(TENT_TOPIC, json.dumps(tent))
        self.client.publish(ROOM_TOPIC, json.dumps({"temperature": 20.4, "humidity": 44.0}))


@dataclass
class Newcomer:
    """What a grower has after the first start, and a look behind the pages.

    Attributes:
        folder: empty but for what the daemon makes.
        broker: runs, on a port that nobody would guess.
        air: of the tent.
        web: port of the pages.
    """

    folder: Path
    broker: Mosquitto
    air: Air
    web: int = field(default_factory=free_port)
    _process: subprocess.Popen[bytes] | None = field(default=None, repr=False)

    @property
    def at(self) -> str:
        return f"http://127.0.0.1:{self.web}"

    @property
    def file(self) -> Path:
        return self.folder / "chamberwatch.toml"

    def start(self) -> None:
        """Start with the settings file that is begun where there is none.

        Only the port is put into it, for others may run on this machine.
        """
        assert begin(self.file)
        text = self.file.read_text().replace("[web]\n", f"[web]\nport = {self.web}\n")
        self.file.write_text(text)
        with (self.folder / "daemon.log").open("ab") as log:
            self._process = subprocess.Popen(
                command("run", "--config", str(self.file)),
                cwd=self.folder,
                env=environment(),
                stdout=log,
                stderr=log,
            )
        wait_until(self._answers, "the page answers")

    def _answers(self) -> bool:
        assert self._process is not None
        assert self._process.poll() is None, self.log()
        return listens(self.web)

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

    def log(self) -> str:
        """Return what the daemon said."""
        return (self.folder / "daemon.log").read_text(errors="replace")

    def settings(self) -> dict[str, Any]:
        """Return what stands in the settings file."""
        return tomllib.loads(self.file.read_text())

    def rows(self, question: str) -> Sequence[tuple[Any, ...]]:
        """Ask the database."""
        name = f"file:{self.folder / 'chamberwatch.db'}?mode=ro"
        with closing(sqlite3.connect(name, uri=True)) as file:
            return file.execute(question).fetchall()

    def by_hand(self, before: str, after: str) -> None:
        """Change the settings file with an editor."""
        text = self.file.read_text()
        assert text.count(before) == 1
        self.file.write_text(text.replace(before, after))


@contextmanager
def newcomer(folder: Path) -> Iterator[Newcomer]:
    """Have all of it run until the block is left."""
    home, elsewhere = folder / "home", folder / "broker"
    home.mkdir()
    elsewhere.mkdir()
    with Mosquitto(elsewhere).running() as broker, visiting(broker) as client:
        made = Newcomer(home, broker, Air(client))
        ended = threading.Event()

        def speak() -> None:
            while not ended.wait(EVERY_S):
                made.air.say()

        speaking = threading.Thread(target=speak)
        speaking.start()
        try:
            made.start()
            yield made
        finally:
            ended.set()
            speaking.join(DEADLINE_S)
            made.abandon()
