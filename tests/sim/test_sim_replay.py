"""Old logs, as they come."""

import json
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from chamberwatch.core.errors import RefusedError
from chamberwatch.sim.replay import Columns, Tally, count_rows, read_log, replay, time_of
from chamberwatch.sim.show import Report
from tests.make import NOON, at

PLAIN = Columns("tent/air", {"humidity": "H", "temperature": "T"})


def written(folder: Path, text: str) -> Path:
    file = folder / "log.csv"
    file.write_text(text, encoding="utf-8")
    return file


@pytest.mark.parametrize(
    ("text", "form", "zone", "time"),
    [
        pytest.param("2026-01-20T12:00:00+00:00", "iso", UTC, NOON, id="iso"),
        pytest.param("2026-01-20 12:00", "iso", UTC, NOON, id="iso, no zone"),
        pytest.param("2026-01-20 13:00", "iso", ZoneInfo("Europe/Berlin"), NOON, id="zone"),
        pytest.param("1768910400", "epoch", UTC, NOON, id="epoch"),
        pytest.param(
            "01/20/2026 07:00",
            "%m/%d/%Y %H:%M",
            timezone(timedelta(hours=-5)),
            NOON,
            id="weather file",
        ),
        pytest.param(
            "01/19/2026 24:00", "%m/%d/%Y %H:%M", UTC, NOON - timedelta(hours=12), id="hour 24"
        ),
    ],
)
def test_times(text: str, form: str, zone: tzinfo, time: datetime) -> None:
    assert time_of(text, form, zone) == time


def test_rows_become_messages_and_the_rest_is_counted(tmp_path: Path) -> None:
    file = written(
        tmp_path,
        "\ufefftime,H,T\n2026-01-20T12:00,80,18\nnever,80,18\n2026-01-20T12:01,,18.5\n"
        "2026-01-20T12:02,,\n2026-01-20T12:03,wet,18\n2026-01-20T12:04,nan,18\n",
    )
    tally = Tally()
    reports = list(read_log(file, PLAIN, tally))
    assert [json.loads(r.payload) for r in reports] == [
        {"time": "2026-01-20T12:00:00+00:00", "humidity": 80.0, "temperature": 18.0},
        {"time": "2026-01-20T12:01:00+00:00", "temperature": 18.5},
    ]
    assert [r.values for r in reports] == [2, 1]
    assert tally.unread == 4
    assert [fault.split(":")[0] for fault in tally.faults] == [
        "line 3",
        "line 5",
        "line 6",
        "line 7",
    ]
    assert count_rows(file, PLAIN) == 6


def test_lines_before_the_names_and_another_delimiter(tmp_path: Path) -> None:
    file = written(tmp_path, "a station\nDay;Hour;H;T\n2026-01-20;12:00;80;18\n")
    columns = Columns("a", {"humidity": "H"}, ("Day", "Hour"), skip_lines=1, delimiter=";")
    (report,) = read_log(file, columns, Tally())
    assert report.time == NOON


def test_a_missing_column_is_refused_with_those_there(tmp_path: Path) -> None:
    file = written(tmp_path, "time,RH,T\n")
    with pytest.raises(RefusedError, match=r"no column H\. It has: time, RH, T"):
        list(read_log(file, PLAIN, Tally()))


def test_an_empty_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(RefusedError, match="no column"):
        list(read_log(written(tmp_path, ""), PLAIN, Tally()))


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(RefusedError, match="can't be read"):
        count_rows(tmp_path / "none.csv", PLAIN)


def test_only_the_first_faults_are_kept(tmp_path: Path) -> None:
    file = written(tmp_path, "time,H,T\n" + "never,1,1\n" * 50)
    tally = Tally()
    assert list(read_log(file, PLAIN, tally)) == []
    assert (tally.unread, len(tally.faults)) == (50, 20)


class Ear:
    def __init__(self) -> None:
        self.heard: list[Report] = []

    def publish(self, report: Report) -> None:
        self.heard.append(report)


REPORTS = [Report("a", b"1", at(minute), 1) for minute in (0, 1, 1, 4)]


@pytest.mark.parametrize(
    ("speed", "waits"),
    [
        pytest.param(None, [], id="as fast as it goes"),
        pytest.param(60.0, [1.0, 3.0], id="sixty times life"),
    ],
)
def test_speed(speed: float | None, waits: list[float]) -> None:
    waited: list[float] = []
    ear, tally, ticks = Ear(), Tally(), []

    def wait(seconds: float) -> bool:
        waited.append(seconds)
        return False

    replay(iter(REPORTS), ear, tally, speed=speed, wait=wait, progress=lambda: ticks.append(1))
    assert waited == waits
    assert (ear.heard, tally.sent, len(ticks)) == (REPORTS, 4, 4)


def test_it_can_be_stopped() -> None:
    ear = Ear()
    replay(iter(REPORTS), ear, Tally(), speed=1.0, wait=lambda _s: True, progress=lambda: None)
    assert len(ear.heard) == 1
