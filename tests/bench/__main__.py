"""Speed as ratios, each against a limit taken in the same run.

    python -m tests.bench          all
    python -m tests.bench ingest   one or more of: ingest, backlog, many, alone, phone, starting,
                                   air, tent, exchange, rotation, now, history, drawing
    python -m tests.bench winter   whole winters; apart from the others, with options of its own

Needs mosquitto. Absolute figures depend on the machine; the ratios are what counts.
"""

import json
import os
import signal
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import timeit
import urllib.request
from datetime import UTC, datetime, timedelta
from pathlib import Path

import paho.mqtt.client as mqtt
import psychrolib
from paho.mqtt.enums import CallbackAPIVersion
from rich.console import Console

from chamberwatch.core.air.psychrometrics import air_state
from chamberwatch.sim.publisher import Publisher
from chamberwatch.sim.show import Report
from tests.bench.alone import alone
from tests.bench.backlog import backlog
from tests.bench.drawing import drawing
from tests.bench.exchange import exchange
from tests.bench.history import history
from tests.bench.many import many
from tests.bench.now import now
from tests.bench.phone import phone
from tests.bench.rotation import rotation
from tests.bench.starting import starting
from tests.bench.tent import tent
from tests.bench.told import Told
from tests.bench.winter.bench import winter
from tests.brokers import Mosquitto, free_port, wait_until

MESSAGES = 20_000
VALUES = 3
DEADLINE_S = 120.0

CONFIG = """
[database]
commit_every = "1 s"
[mqtt]
port = {broker}
window = 500
[web]
port = {web}
[[chamber]]
name = "tent"
stage = "fruiting"
[[sensor]]
name = "air"
chamber = "tent"
topic = "bench/air"
reads.temperature = {{ at = "/temperature" }}
reads.humidity = {{ at = "/humidity" }}
reads.co2 = {{ at = "/co2" }}
time = {{ at = "/time" }}
"""


def reports(start: datetime) -> list[Report]:
    """Return calm readings a second apart, three values each."""
    made = []
    for n in range(MESSAGES):
        at = start + timedelta(seconds=n)
        body = {
            "time": at.isoformat(),
            "temperature": 18 + n % 7 / 10,
            "humidity": 88.5,
            "co2": 700,
        }
        made.append(Report("bench/air", json.dumps(body).encode(), at, VALUES))
    return made


def publish(port: int, sent: list[Report]) -> None:
    """Send everything as fast as the broker confirms it."""
    publisher = Publisher("127.0.0.1", port, "bench-sensor")
    publisher.connect()
    for report in sent:
        publisher.publish(report)
    publisher.drain(DEADLINE_S)
    publisher.close()


def bare_s(port: int) -> float:
    """Time a subscriber that only counts. [s]"""
    done, count = threading.Event(), 0

    def on_message(*_: object) -> None:
        nonlocal count
        count += 1
        if count == MESSAGES:
            done.set()

    client = mqtt.Client(CallbackAPIVersion.VERSION2, client_id="bench-bare")
    client.on_message = on_message
    ready = threading.Event()
    client.on_subscribe = lambda *_: ready.set()
    client.connect("127.0.0.1", port)
    client.loop_start()
    client.subscribe("bench/air", 1)
    assert ready.wait(10)
    began = time.monotonic()
    publish(port, reports(datetime.now(UTC) - timedelta(days=2)))  # noqa: TID251
    assert done.wait(DEADLINE_S)
    took = time.monotonic() - began
    client.disconnect()
    client.loop_stop()
    return took


def asked(port: int) -> dict[str, object]:
    """Return the daemon's health."""
    with urllib.request.urlopen(f"http://127.0.0.1:{port}/api/v1/health", timeout=10) as answer:
        found: dict[str, object] = json.load(answer)
    return found


def daemon_s(folder: Path, port: int) -> tuple[float, float, float]:
    """Time the daemon until all is stored: wall [s], processor [s], resident memory [MB]."""
    web = free_port()
    file = folder / "bench.toml"
    file.write_text(CONFIG.format(broker=port, web=web), encoding="utf-8")
    with subprocess.Popen(
        [sys.executable, "-m", "chamberwatch", "run", "--config", str(file)],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    ) as process:
        wait_until(lambda: _connected(web), "the daemon connects")
        before_s = _cpu_s(process.pid)
        began = time.monotonic()
        publish(port, reports(datetime.now(UTC) - timedelta(days=2)))  # noqa: TID251
        wait_until(
            lambda: asked(web)["readings"] == MESSAGES * VALUES, "all is stored", DEADLINE_S
        )
        took, cpu_s = time.monotonic() - began, _cpu_s(process.pid) - before_s
        status = Path(f"/proc/{process.pid}/status").read_text(encoding="ascii")
        rss_mb = int(status.split("VmRSS:")[1].split()[0]) / 1024
        process.send_signal(signal.SIGTERM)
    return took, cpu_s, rss_mb


def _connected(web: int) -> bool:
    try:
        return bool(asked(web)["broker_connected"])
    except OSError:
        return False


def _cpu_s(pid: int) -> float:
    fields = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def ingest(told: Told) -> None:
    """Durable ingest, every reading judged, against a bare subscriber on the same broker."""
    ratios, cpu, memory = [], [], []
    ours, limits = [], []
    for _ in range(3):
        with tempfile.TemporaryDirectory() as name:
            broker = Mosquitto(Path(name))
            broker.start()
            try:
                bare = bare_s(broker.port)
                took, cpu_s, rss_mb = daemon_s(Path(name), broker.port)
            finally:
                broker.stop()
        ratios.append(bare / took)
        ours.append(took)
        limits.append(bare)
        cpu.append(cpu_s / MESSAGES * 1e6)
        memory.append(rss_mb)
    rate = statistics.median(ratios)
    told.add(
        "live: durable ingest, every reading judged",
        f"{MESSAGES / statistics.median(ours):.0f} messages/s",
        limit=f"{MESSAGES / statistics.median(limits):.0f} messages/s",
        ratio=rate,
        aim=">= 0.3",
        met=rate >= 0.3,
        how=f"{MESSAGES} messages of JSON, {VALUES} values and their time, from one sender, which "
        "is a part of both; limit: a bare "
        f"subscriber on the same broker; median of 3; {statistics.median(cpu):.0f} us of "
        "processor a message",
    )
    told.add(
        "live: resident memory",
        f"{max(memory):.0f} MB",
        aim="< 110 MB",
        met=max(memory) < 110,
        how="after the load",
    )


def air(told: Told) -> None:
    """The air state with all derived quantities, against psychrolib's wet bulb alone."""
    ours = (
        min(timeit.repeat(lambda: air_state(18.3, 91.2, 99_900.0), number=5000, repeat=5)) / 5000
    )
    theirs = (
        min(
            timeit.repeat(
                lambda: psychrolib.GetTWetBulbFromRelHum(18.3, 0.912, 99_900.0),
                number=5000,
                repeat=5,
            )
        )
        / 5000
    )
    told.add(
        "air state",
        f"{ours * 1e6:.0f} us",
        limit=f"{theirs * 1e6:.0f} us",
        ratio=ours / theirs,
        how="limit: psychrolib's wet bulb alone",
    )


BENCHES = {
    "ingest": ingest,
    "backlog": backlog,
    "many": many,
    "alone": alone,
    "phone": phone,
    "starting": starting,
    "air": air,
    "tent": tent,
    "exchange": exchange,
    "rotation": rotation,
    "now": now,
    "history": history,
    "drawing": drawing,
}


def main() -> None:
    """Run what was asked for and print one table."""
    if sys.argv[1:2] == ["winter"]:
        winter(sys.argv[2:])
        return
    wanted = sys.argv[1:] or list(BENCHES)
    unknown = set(wanted) - set(BENCHES)
    if unknown:
        sys.exit(
            f"There is no bench {', '.join(unknown)}. Known: {', '.join([*BENCHES, 'winter'])}."
        )
    told = Told()
    for name in wanted:
        BENCHES[name](told)
    Console(width=None if sys.stdout.isatty() else 200).print(told.table())


if __name__ == "__main__":
    main()
