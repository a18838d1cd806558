"""Two daemons that are told to use one database."""

import os
import signal
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.brokers import DEADLINE_S, free_port, wait_until
from tests.faults.processes import command, environment

HOUSE = """
[database]
url = "sqlite:///cw.db"
[mqtt]
port = {broker}
[web]
port = {web}
[[chamber]]
name = "tent"
stage = "fruiting"
"""

Start = Callable[[str], subprocess.Popen[bytes]]


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Start]:
    """Start a daemon that logs to a file of its name; none is left behind."""
    started: list[subprocess.Popen[bytes]] = []

    def begin(name: str) -> subprocess.Popen[bytes]:
        file = tmp_path / f"{name}.toml"
        file.write_text(HOUSE.format(broker=free_port(), web=free_port()), encoding="utf-8")
        with (tmp_path / f"{name}.log").open("wb") as log:
            process = subprocess.Popen(
                command("run", "--config", str(file)),
                cwd=tmp_path,
                env=environment(),
                stdout=log,
                stderr=log,
            )
        started.append(process)
        return process

    yield begin
    for process in started:
        process.kill()
        process.wait(DEADLINE_S)


def test_the_second_is_refused_until_the_first_is_gone(tmp_path: Path, start: Start) -> None:
    def said(name: str) -> str:
        return (tmp_path / f"{name}.log").read_text(encoding="utf-8")

    first = start("first")
    wait_until(lambda: "The page is at" in said("first"), "the first runs")
    second = start("second")
    assert second.wait(DEADLINE_S) == 1
    assert (
        f"Another chamberwatch runs with this database ({tmp_path / 'cw.db'}). Stop it first."
        in said("second")
    )
    assert "Traceback" not in said("second")
    first.send_signal(signal.SIGKILL)
    first.wait(DEADLINE_S)
    third = start("third")
    wait_until(lambda: "The page is at" in said("third"), "the next one starts after a kill")
    os.kill(third.pid, signal.SIGINT)
    assert third.wait(DEADLINE_S) == 0
    assert said("third").splitlines()[-1].endswith("Stopped; everything taken in is kept.")
