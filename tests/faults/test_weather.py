"""A month of real weather through the front door: replayed, judged, stored, asked for.

The file is TMY3 data of Greensboro, North Carolina (Wilcox and Marion, NREL/TP-581-43156, 2008),
as pvlib ships it with its tests. Its dew point is given beside temperature and humidity, so it
checks the one that is computed here.
"""

import csv
import importlib.util
import json
import subprocess
import urllib.parse
import urllib.request
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from itertools import pairwise
from pathlib import Path
from typing import Any, Final

import pytest

from chamberwatch.core.air.psychrometrics import dew_point_c
from tests.brokers import MOSQUITTO, NO_MOSQUITTO, wait_until
from tests.faults.processes import DaemonProcess, command, daemon_at, environment

pytestmark = pytest.mark.skipif(MOSQUITTO is None, reason=NO_MOSQUITTO)

STANDARD_TIME: Final = timezone(timedelta(hours=-5))
TEMPERATURE, DEW_POINT, HUMIDITY, PRESSURE = (
    "Dry-bulb (C)",
    "Dew-point (C)",
    "RHum (%)",
    "Pressure (mbar)",
)
COLUMNS: Final = (
    "--column", f"temperature={TEMPERATURE}",
    "--column", f"humidity={HUMIDITY}",
    "--column", f"pressure={PRESSURE}",
)  # fmt: skip
DATE, HOUR = "Date (MM/DD/YYYY)", "Time (HH:MM)"
HOURS: Final = 720
FINE: Final = timedelta(minutes=5)

CHAMBER: Final = """
[[chamber]]
name = "{name}"
title = "{name}"
stage = "fruiting"
[[sensor]]
name = "{name}"
chamber = "{name}"
topic = "{name}"
unheard_after = "1 h"
[sensor.reads.temperature]
at = "/temperature"
[sensor.reads.humidity]
at = "/humidity"
[sensor.reads.pressure]
at = "/pressure"
unit = "hPa"
[sensor.time]
at = "/time"
"""


@dataclass(frozen=True)
class Hour:
    """One row of the file. Pressure in hPa."""

    time: datetime
    temperature_c: float
    humidity_pct: float
    pressure_hpa: float
    dew_point_c: float

    def allows(self, dew_point: float) -> bool:
        """Tell whether a dew point lies within what the rounding of the row leaves open.

        Temperatures are rounded to 0.1 K, humidity to 1 %.
        """
        low = rounded_c(self.temperature_c - 0.05, self.humidity_pct - 0.5) - 0.05
        high = rounded_c(self.temperature_c + 0.05, self.humidity_pct + 0.5) + 0.05
        return low <= dew_point <= high


def rounded_c(temperature_c: float, humidity_pct: float) -> float:
    """Return the dew point. [°C]."""
    return dew_point_c(temperature_c, min(humidity_pct, 100.0))


def weather_file() -> Path:
    """Return where pvlib keeps its weather."""
    found = importlib.util.find_spec("pvlib")
    if found is None or found.origin is None:
        pytest.skip("pvlib is not installed: pip install -e .[dev]")
    return Path(found.origin).parent / "data" / "723170TYA.CSV"


def june(folder: Path) -> tuple[Path, list[Hour]]:
    """Write the June of the file, of 1989, into a file of its own; return its rows too."""
    lines = weather_file().read_text(encoding="ascii").splitlines()
    rows = [line for line in lines[2:] if line.startswith("06/")]
    kept = [*lines[:2], *rows]
    file = folder / "june.csv"
    file.write_text("\n".join(kept) + "\n", encoding="ascii")
    return file, [hour_of(row) for row in csv.DictReader(kept[1:])]


def hour_of(row: dict[str, str]) -> Hour:
    """Read a row. Its hours run from 01:00 to 24:00."""
    day = datetime.strptime(row[DATE], "%m/%d/%Y").replace(tzinfo=STANDARD_TIME)
    time = day + timedelta(hours=int(row[HOUR][:2]))
    values = [float(row[name]) for name in (TEMPERATURE, HUMIDITY, PRESSURE, DEW_POINT)]
    return Hour(time.astimezone(UTC), *values)


def finer(folder: Path, hours: list[Hour]) -> tuple[Path, int]:
    """Write the same month as a sensor in it would report: every five minutes, no jumps."""
    rows: list[tuple[str, str, str, str]] = []
    for one, other in pairwise(hours):
        parts = (other.time - one.time) // FINE
        for part in range(parts):
            share = part / parts
            pairs = (
                (one.temperature_c, other.temperature_c),
                (one.humidity_pct, other.humidity_pct),
                (one.pressure_hpa, other.pressure_hpa),
            )
            t, rh, p = (f"{a + (b - a) * share:.2f}" for a, b in pairs)
            rows.append(((one.time + part * FINE).isoformat(), t, rh, p))
    file = folder / "finer.csv"
    with file.open("w", encoding="utf-8", newline="") as opened:
        csv.writer(opened).writerows([("time", TEMPERATURE, HUMIDITY, PRESSURE), *rows])
    return file, len(rows)


def replay(daemon: DaemonProcess, file: Path, topic: str, *more: str) -> str:
    """Replay a file as a person would; return what the command said."""
    words = ("replay", str(file), "--topic", topic, "--port", str(daemon.broker.port))
    done = subprocess.run(
        command(*words, *COLUMNS, *more),
        env=environment(), cwd=daemon.folder, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def stored(daemon: DaemonProcess, quantity: str, begin: datetime, end: datetime) -> dict[str, Any]:
    """Ask for a quantity of the yard, page by page; return values by time."""
    asked = {"chamber": "yard", "quantity": quantity, "limit": "250"}
    asked |= {"from": begin.isoformat(), "to": end.isoformat()}
    found: dict[str, Any] = {}
    pages, more = 0, True
    while more:
        address = f"http://127.0.0.1:{daemon.web}/api/v1/readings?{urllib.parse.urlencode(asked)}"
        with urllib.request.urlopen(address, timeout=10) as answer:
            page = json.load(answer)
        found |= {row["time"]: row["value"] for row in page["rows"]}
        pages += 1
        more = page["next"] is not None
        asked["cursor"] = page["next"] or ""
    assert pages == 3
    return found


def test_a_june_of_real_weather(tmp_path: Path) -> None:
    file, hours = june(tmp_path)
    fine, fine_rows = finer(tmp_path, hours)
    assert len(hours) == HOURS
    with daemon_at(tmp_path) as daemon:
        daemon.settle(CHAMBER.format(name="yard") + CHAMBER.format(name="finer"))
        daemon.start()
        said = replay(
            daemon, file, "yard",
            "--time", DATE, "--time", HOUR, "--time-format", "%m/%d/%Y %H:%M",
            "--zone", "-5", "--skip-lines", "1",
        )  # fmt: skip
        assert f"{HOURS} messages sent, 0 rows could not be read." in said
        replay(daemon, fine, "finer")
        expected = 3 * (HOURS + fine_rows)
        wait_until(
            lambda: daemon.number("select count(*) from readings") >= expected, "all is stored"
        )
        begin, end = hours[0].time, hours[-1].time + timedelta(hours=1)
        dew_points = stored(daemon, "dew_point_c", begin, end)
        pressures = stored(daemon, "pressure_pa", begin, end)
        assert daemon.end() == 0, daemon.log()
    dew = {datetime.fromisoformat(time): value for time, value in dew_points.items()}
    assert list(dew) == [hour.time for hour in hours]
    for hour in hours:
        computed = dew_point_c(hour.temperature_c, hour.humidity_pct)
        assert dew[hour.time] == pytest.approx(round(computed, 4), abs=1e-9)
    assert list(pressures.values()) == [100 * hour.pressure_hpa for hour in hours]
    outside = [hour for hour in hours if not hour.allows(hour.dew_point_c)]
    # The file is put together from months of several years, smoothed at their seams value by
    # value, so that at the ends of June its dew point no longer belongs to its air.
    print(f"{len(outside)} of {HOURS} hours disagree with the dew point of the file")
    for hour in outside:
        print(f"  {hour}; computed {dew[hour.time]:.2f}")
    assert len(outside) <= HOURS // 100
    # Weather decades old moves reminders, hourly too since those sensors may be quiet for an
    # hour, and is never spoken of.
    moves = dict(
        daemon.rows(
            "select r.chamber, count(*) from moves m join reminders r on r.id = m.reminder "
            "group by r.chamber"
        )
    )
    print(f"moves of reminders: {moves}")
    assert set(moves) == {"finer", "yard"}
    assert moves["finer"] > 100
    assert daemon.number("select count(*) from outbox") == 0
    assert daemon.number("select count(*) from rejects") == 0
