"""`listen` in the terminal, on a real broker and a real settings file."""

import os
import pty
import select
import subprocess
import sys
import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import AbstractContextManager
from pathlib import Path

import pytest
from typer.testing import CliRunner

from chamberwatch.cli import app
from chamberwatch.core.errors import ChamberwatchError, SettingsError
from chamberwatch.mqtt.trial import TrialBroker
from chamberwatch.settings import load
from tests.brokers import beside, free_port, visiting

SETTINGS = """# What I know of my tent.
[mqtt]
port = {port}

[[chamber]]
name = "tent"
title = "Tent"     # the blue one
stage = "fruiting"
shelves = ["top"]

[[sensor]]
name = "middle"
chamber = "tent"
topic = "tent/middle"
payload = "number"
reads.humidity = {{ unit = "%" }}
"""


@pytest.fixture(scope="module")
def broker() -> Iterator[TrialBroker]:
    with TrialBroker() as trial, talking(trial):
        yield trial


def talking(broker: TrialBroker) -> AbstractContextManager[None]:
    """Let some sensors speak."""

    def talk(stopping: threading.Event) -> None:
        with visiting(broker) as visitor:
            while not stopping.wait(0.1):
                visitor.publish("garden/2/climate", '{"humidity": 81.2, "temperature": 17.9}')
                visitor.publish("garden/tent/top/t", "37")
                visitor.publish("tent/middle", "88")
                visitor.publish("lamp", "on")

    return beside(talk)


@pytest.fixture
def config(tmp_path: Path, broker: TrialBroker) -> Path:
    path = tmp_path / "chamberwatch.toml"
    path.write_text(SETTINGS.format(port=broker.port))
    return path


def run(config: Path, *words: str) -> tuple[str, BaseException | None]:
    result = CliRunner().invoke(app, ["listen", *words, "--config", str(config)])
    return result.output, result.exception


def test_it_lists_what_is_heard(config: Path) -> None:
    said, error = run(config, "--for", "4s")
    assert error is None
    lines = said.splitlines()
    assert "garden/2/climate sends humidity 81.2, temperature 17.9: whose is it?" in lines
    assert "tent/middle is the sensor middle" in lines
    assert "lamp sends what can't be used here: it is neither a number nor JSON." in lines
    assert len(lines) == len(set(lines)) == 4


def test_only_what_nobody_claims(config: Path) -> None:
    said, _ = run(config, "--for", "4s", "--without-sensor")
    assert "tent/middle" not in said
    assert "garden/2/climate" in said


def test_claiming_writes_the_sensor_and_keeps_the_comments(config: Path) -> None:
    words = ("--take", "garden/2/climate", "--chamber", "tent", "--place", "top", "--name", "g")
    said, error = run(config, *words)
    assert error is None
    assert "It would read: humidity 81.2 %, temperature 17.9 °C" in said
    assert "systemctl reload chamberwatch" in said
    text = config.read_text()
    assert text.startswith("# What I know of my tent.\n")
    assert 'title = "Tent"     # the blue one' in text
    sensor = load(config, {}).sensor[-1]
    assert (sensor.name, sensor.topic, sensor.place) == ("g", "garden/2/climate", "top")
    assert {q.value: read.at for q, read in sensor.reads.items()} == {
        "humidity": "/humidity",
        "temperature": "/temperature",
    }


def test_what_is_not_said_is_proposed_by_the_topic(config: Path) -> None:
    _, error = run(config, "--take", "garden/tent/top/t", "--unit", "temperature=°C")
    assert error is None
    sensor = load(config, {}).sensor[-1]
    assert (sensor.name, sensor.chamber, sensor.place) == ("garden-tent-top-t", "tent", "top")


@pytest.mark.parametrize(
    ("words", "kind", "why"),
    [
        pytest.param(
            ("--take", "garden/tent/top/t"),
            ChamberwatchError,
            "It may be 37 °C or 37 °F. Say which. Add one of: --unit temperature=°C",
            id="unit",
        ),
        pytest.param(("--take", "tent/middle"), ChamberwatchError, "reads tent/mid", id="claimed"),
        pytest.param(
            ("--take", "garden/2/climate"), ChamberwatchError, "Say its chamber", id="no-chamber"
        ),
        pytest.param(
            ("--take", "garden/2/climate", "--chamber", "attic"),
            SettingsError,
            "There is no such chamber. Known: tent.",
            id="no-such-chamber",
        ),
        pytest.param(
            ("--take", "garden/2/climate", "--chamber", "tent", "--name", "middle"),
            ChamberwatchError,
            "There is a sensor “middle” already",
            id="name-in-use",
        ),
        pytest.param(
            ("--take", "silent", "--for", "4s"), ChamberwatchError, "Nothing came on", id="silent"
        ),
        pytest.param(
            ("--take", "lamp", "--for", "4s"), ChamberwatchError, "can't be used", id="unreadable"
        ),
        pytest.param(
            ("--take", "x", "--unit", "°C"),
            ChamberwatchError,
            "write quantity=unit",
            id="unit-form",
        ),
        pytest.param(
            ("--take", "x", "--unit", "heat=°C"),
            ChamberwatchError,
            "write quantity",
            id="quantity",
        ),
    ],
)
def test_what_can_not_be_claimed(
    config: Path, words: tuple[str, ...], kind: type[ChamberwatchError], why: str
) -> None:
    before = config.read_text()
    _, error = run(config, *words)
    assert isinstance(error, kind)
    assert why in str(error)
    assert config.read_text() == before


def test_without_a_broker_it_says_what_to_do(config: Path) -> None:
    config.write_text(SETTINGS.format(port=free_port()))
    for words in ((), ("--take", "x")):
        _, error = run(config, "--for", "4s", *words)
        assert "nothing listens there; start it" in str(error)


def test_exit_codes(config: Path) -> None:
    command = [sys.executable, "-m", "chamberwatch", "listen", "--config", str(config)]
    fine = subprocess.run([*command, "--for", "4s"], capture_output=True, timeout=60, check=False)
    refused = subprocess.run(
        [*command, "--take", "tent/middle"], capture_output=True, timeout=60, check=False
    )
    config.write_text("[mqtt]\nport = 0\n")
    faulty = subprocess.run(command, capture_output=True, timeout=60, check=False)
    assert (fine.returncode, refused.returncode, faulty.returncode) == (0, 1, 2)


def test_a_terminal_shows_a_table(config: Path) -> None:
    shown = in_a_terminal(config, "--for", "4s")
    assert "garden/2/climate" in shown
    assert "Ctrl+C ends it." in shown


@pytest.mark.parametrize(("sure", "written"), [("y", True), ("n", False)])
def test_a_terminal_asks_back(config: Path, sure: str, written: bool) -> None:
    answers = {"Its chamber": "tent", "Its name": "", "settings?": sure}
    shown = in_a_terminal(config, "--take", "garden/2/climate", answers=answers)
    assert "It would read: humidity 81.2 %" in shown
    names = [sensor.name for sensor in load(config, {}).sensor]
    assert ("garden-2-climate" in names) == written


def in_a_terminal(config: Path, *words: str, answers: Mapping[str, str] | None = None) -> str:
    """Run the command on a terminal of its own, answer its questions, return what it showed."""
    command = [sys.executable, "-m", "chamberwatch", "listen", *words, "--config", str(config)]
    ours, its = pty.openpty()
    process = subprocess.Popen(command, stdin=its, stdout=its, stderr=its)
    os.close(its)
    shown, end_s, left = "", time.monotonic() + 40, dict(answers or {})
    try:
        while time.monotonic() < end_s:
            if not select.select([ours], [], [], 0.2)[0]:
                continue
            try:
                shown += os.read(ours, 4096).decode(errors="replace")
            except OSError:  # it has ended
                break
            for question in [each for each in left if each in shown]:
                os.write(ours, f"{left.pop(question)}\n".encode())
    finally:
        process.kill()
        process.wait()
        os.close(ours)
    return shown
