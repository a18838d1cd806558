"""From the start of the process to READY=1, on an empty file and on one that holds a year.

The limit of the same run is a bare interpreter that imports the libraries a daemon stands on, and
does nothing. The year is that of `history`, copied: a daemon at work changes its file.
"""

import shutil
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Final

from tests.bench.history import DAYS, SENSORS, kept_year
from tests.bench.processes import START_S, Process
from tests.bench.told import Told
from tests.brokers import free_port
from tests.faults.processes import ROOT, command, environment

RUNS: Final = 5
LIBRARIES: Final = (
    "apprise, apscheduler.schedulers.background, fastapi, icalendar, itsdangerous, jinja2, "
    "jsonpointer, paho.mqtt.client, PIL.Image, psychrolib, pwdlib, pydantic_settings, segno, "
    "sqlalchemy, tomlkit, typer, uvicorn"
)
SETTINGS: Final = """
[database]
url = "sqlite:///{file}"
[mqtt]
port = {broker}
[web]
port = {web}
[[chamber]]
name = "tent"
stage = "fruiting"
volume_l = 500
"""
SENSOR: Final = """
[[sensor]]
name = "{name}"
chamber = "tent"
topic = "bench/{name}"
reads.temperature = {{ at = "/temperature" }}
reads.humidity = {{ at = "/humidity" }}
reads.co2 = {{ at = "/co2" }}
"""


def ready_s(folder: Path, file: Path) -> tuple[float, float]:
    """Start a daemon; return how long until it is ready, by the clock and of processor. [s]."""
    settings, address = folder / "bench.toml", folder / "notify"
    text = SETTINGS.format(file=file, broker=free_port(), web=free_port())
    sensors = "".join(SENSOR.format(name=name) for name in SENSORS)
    settings.write_text(text + sensors, encoding="utf-8")
    address.unlink(missing_ok=True)
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as ear:
        ear.bind(str(address))
        ear.settimeout(START_S)
        began = time.monotonic()
        process = subprocess.Popen(
            command("run", "--config", str(settings)),
            cwd=folder,
            env={**environment(), "NOTIFY_SOCKET": str(address)},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        try:
            while b"READY=1" not in ear.recv(4096):
                pass
            return time.monotonic() - began, Process(process.pid).cpu_s()
        finally:
            process.terminate()
            process.wait(60)


def bare_s() -> float:
    """Import the libraries in a bare interpreter; return how long that takes. [s]."""
    began = time.monotonic()
    subprocess.run(
        [sys.executable, "-c", f"import {LIBRARIES}"], cwd=ROOT, env=environment(), check=True
    )
    return time.monotonic() - began


def starting(told: Told) -> None:
    """An empty file and a year's, in turn with the bare interpreter."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        full = folder / "full.db"
        shutil.copyfile(kept_year(told), full)
        files: Mapping[str, Path] = {
            "an empty file": folder / "empty.db",
            f"a file of {DAYS} days at 5 s": full,
        }
        ready_s(folder, files["an empty file"])  # the byte code of all modules is there now
        rounds = []
        for _ in range(RUNS):
            limit = bare_s()
            rounds.append((limit, {what: ready_s(folder, file) for what, file in files.items()}))
    limit = statistics.median(limit for limit, _ in rounds)
    for what in files:
        took = statistics.median(found[what][0] for _, found in rounds)
        cpu_s = statistics.median(found[what][1] for _, found in rounds)
        told.add(
            f"start to ready on {what}",
            f"{took:.2f} s",
            limit=f"{limit:.2f} s",
            ratio=took / limit,
            how=f"until READY=1, {cpu_s:.2f} s of processor; median of {RUNS}; limit: importing "
            "the same libraries alone",
        )
