"""Logged files of many hands: times as they are written, bad rows counted, nothing invented."""

import json
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chamberwatch.core.errors import RefusedError
from chamberwatch.sim import replay as module
from chamberwatch.sim.replay import Columns, Tally, count_rows, read_log, replay, time_of
from chamberwatch.sim.show import Report

LISBON: Final = ZoneInfo("Europe/Lisbon")
EASTERN: Final = timezone(timedelta(hours=-5))
PLAIN: Final = Columns("tent/log", {"temperature": "T", "humidity": "H"})


def logged(folder: Path, text: str) -> Path:
    file = folder / "log.csv"
    file.write_text(text, encoding="utf-8")
    return file


def read(file: Path, columns: Columns = PLAIN) -> tuple[list[Report], Tally]:
    tally = Tally()
    return list(read_log(file, columns, tally)), tally


# ------------------------------------------------------------ times


@pytest.mark.parametrize(
    ("text", "time_format", "zone", "utc"),
    [
        pytest.param("2024-01-05T10:00:00Z", "iso", UTC, "2024-01-05T10:00", id="iso, UTC"),
        pytest.param("2024-01-05 10:00+02:00", "iso", LISBON, "2024-01-05T08:00", id="own zone"),
        pytest.param("2024-07-05 10:00", "iso", LISBON, "2024-07-05T09:00", id="summer"),
        pytest.param("2024-01-05 10:00", "iso", LISBON, "2024-01-05T10:00", id="winter"),
        pytest.param("1704448800", "epoch", LISBON, "2024-01-05T10:00", id="epoch"),
        pytest.param("1704448800.5", "epoch", UTC, "2024-01-05T10:00:00.5", id="epoch, fraction"),
        pytest.param("01/05/1988 14:00", "%m/%d/%Y %H:%M", EASTERN, "1988-01-05T19:00", id="TMY3"),
        pytest.param(
            "01/05/1988 24:00", "%m/%d/%Y %H:%M", EASTERN, "1988-01-06T05:00", id="TMY3, midnight"
        ),
        pytest.param("12/31/1988 24:00", "%m/%d/%Y %H:%M", UTC, "1989-01-01T00:00", id="new year"),
        pytest.param("02/28/1988 24:00", "%m/%d/%Y %H:%M", UTC, "1988-02-29T00:00", id="leap day"),
        pytest.param(
            "24:00 05.01.2024", "%H:%M %d.%m.%Y", UTC, "2024-01-06T00:00", id="time first"
        ),
        pytest.param("2024-01-05T24:00", "iso", UTC, "2024-01-06T00:00", id="iso, midnight"),
        pytest.param("2024-01-05T24:00:00Z", "iso", UTC, "2024-01-06T00:00", id="iso, seconds"),
        pytest.param("2024-01-05T24:00+01:00", "iso", UTC, "2024-01-05T23:00", id="iso, zone"),
    ],
)
def test_time(text: str, time_format: str, zone: tzinfo, utc: str) -> None:
    got = time_of(text, time_format, zone)
    assert got == datetime.fromisoformat(utc).replace(tzinfo=UTC)
    assert got.tzinfo is UTC


@pytest.mark.parametrize(
    ("text", "time_format"),
    [
        pytest.param("", "iso", id="nothing"),
        pytest.param("yesterday", "iso", id="words"),
        pytest.param("2024-01-05 24:30", "iso", id="past midnight"),
        pytest.param("2024-01-05 25:00", "iso", id="no such hour"),
        pytest.param("2024-02-30 10:00", "iso", id="no such day"),
        pytest.param("nan", "epoch", id="not a number"),
        pytest.param("1e30", "epoch", id="endless"),
        pytest.param("1e17", "epoch", id="more than the machine counts"),
        pytest.param("9999-12-31 24:00", "iso", id="end of the calendar"),
        pytest.param("05.01.2024", "%d.%m.%Y %H:%M", id="half of it"),
    ],
)
def test_a_time_that_cannot_be_read_is_counted(
    text: str, time_format: str, tmp_path: Path
) -> None:
    file = logged(tmp_path, f"time,T,H\n{text},20,80\n")
    sent, tally = read(file, Columns("t", PLAIN.columns, time_format=time_format))
    assert sent == []
    assert tally.unread == 1
    assert tally.faults[0].startswith("line 2: ")


# ------------------------------------------------------------ rows


def test_a_row_becomes_a_message(tmp_path: Path) -> None:
    sent, tally = read(logged(tmp_path, "time,T,H\n2024-01-05T10:00:00Z,20.5,81\n"))
    (report,) = sent
    assert report.topic == "tent/log"
    assert report.time == datetime(2024, 1, 5, 10, tzinfo=UTC)
    assert report.values == 2
    assert json.loads(report.payload) == {
        "time": "2024-01-05T10:00:00+00:00",
        "temperature": 20.5,
        "humidity": 81.0,
    }
    assert tally == Tally()


def test_a_weather_file_of_two_time_columns(tmp_path: Path) -> None:
    """TMY3 (NREL 2008): a line about the station, then Date and Time, hours 1 to 24."""
    text = (
        '723170,"A STATION",NC,-5.0,36.1,-79.9,270\n'
        "Date (MM/DD/YYYY),Time (HH:MM),Dry-bulb (C),RHum (%)\n"
        "01/01/1988,23:00,10.0,80\n"
        "01/01/1988,24:00,9.4,83\n"
        "01/02/1988,01:00,8.9,86\n"
    )
    columns = Columns(
        "out/door",
        {"temperature": "Dry-bulb (C)", "humidity": "RHum (%)"},
        time_columns=("Date (MM/DD/YYYY)", "Time (HH:MM)"),
        time_format="%m/%d/%Y %H:%M",
        zone=EASTERN,
        skip_lines=1,
    )
    file = logged(tmp_path, text)
    sent, tally = read(file, columns)
    assert [report.time.hour for report in sent] == [4, 5, 6]
    assert tally.unread == 0
    assert count_rows(file, columns) == 3


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        pytest.param("2024-01-05,M,80", "“M” in column T is not a number", id="a letter"),
        pytest.param("2024-01-05,nan,80", "“nan” in column T is not a number", id="nan"),
        pytest.param("2024-01-05,20,inf", "“inf” in column H is not a number", id="inf"),
        pytest.param("2024-01-05,,", "no value", id="empty cells"),
        pytest.param("2024-01-05", "no value", id="short"),
    ],
)
def test_a_bad_row_is_counted_with_its_line_and_reason(
    row: str, reason: str, tmp_path: Path
) -> None:
    text = f"about\ntime,T,H\n2024-01-04,20,80\n{row}\n2024-01-06,20,80\n"
    sent, tally = read(logged(tmp_path, text), Columns("t", PLAIN.columns, skip_lines=1))
    assert [report.time.day for report in sent] == [4, 6]
    assert tally.unread == 1
    assert tally.faults[0].startswith("line 4: ")
    assert reason in tally.faults[0]


def test_an_empty_cell_leaves_its_quantity_out(tmp_path: Path) -> None:
    (report,), _ = read(logged(tmp_path, "time,T,H\n2024-01-05,,80,more,than,wanted\n"))
    assert set(json.loads(report.payload)) == {"time", "humidity"}


def test_delimiter_and_mark_at_the_beginning(tmp_path: Path) -> None:
    file = logged(tmp_path, "\ufefftime;T;H\n2024-01-05;20;80\n")
    sent, _ = read(file, Columns("t", PLAIN.columns, delimiter=";"))
    assert len(sent) == 1


def test_only_the_first_faults_are_kept(tmp_path: Path) -> None:
    rows = "never,20,80\n" * (module.FAULTS_KEPT + 5)
    _, tally = read(logged(tmp_path, "time,T,H\n" + rows))
    assert tally.unread == module.FAULTS_KEPT + 5
    assert len(tally.faults) == module.FAULTS_KEPT


@pytest.mark.parametrize("text", ["", "time,X\n2024-01-05,1\n"])
def test_a_missing_column_is_named(text: str, tmp_path: Path) -> None:
    with pytest.raises(RefusedError, match=r"has no column .*T, H"):
        read(logged(tmp_path, text))


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(RefusedError, match="can't be read"):
        read(tmp_path / "none.csv")
    with pytest.raises(RefusedError, match="can't be read"):
        count_rows(tmp_path / "none.csv", PLAIN)


def test_a_quote_that_is_never_closed_is_counted(tmp_path: Path) -> None:
    swallowed = '2024-01-05,20,"80\n' + "2024-01-05,20,80\n" * 9000
    sent, tally = read(logged(tmp_path, "time,T,H\n2024-01-04,20,80\n" + swallowed))
    assert sent[0].time.day == 4
    assert tally.unread >= 1
    assert "field larger" in tally.faults[0]


@given(cells=st.lists(st.text(max_size=12), min_size=3, max_size=3))
def test_no_row_stops_the_reading(
    cells: list[str], tmp_path_factory: pytest.TempPathFactory
) -> None:
    row = ",".join('"' + cell.replace('"', '""') + '"' for cell in cells)
    file = tmp_path_factory.mktemp("rows") / "log.csv"
    file.write_bytes(f"time,T,H\n{row}\n".encode("utf-8", "surrogatepass"))
    sent, tally = read(file)
    assert len(sent) + tally.unread == 1


# ------------------------------------------------------------ pace


class Box:
    """Takes reports and counts."""

    def __init__(self) -> None:
        self.taken: list[Report] = []
        self.waited: list[float] = []
        self.progress = 0
        self.stop_after = 1000

    def publish(self, report: Report) -> None:
        self.taken.append(report)

    def wait(self, seconds: float) -> bool:
        self.waited.append(seconds)
        return len(self.waited) > self.stop_after

    def step(self) -> None:
        self.progress += 1

    def send(self, minutes: list[int], speed: float | None) -> Tally:
        start, tally = datetime(2024, 1, 5, tzinfo=UTC), Tally()
        made = (Report("t", b"{}", start + timedelta(minutes=m), 0) for m in minutes)
        replay(made, self, tally, speed=speed, wait=self.wait, progress=self.step)
        return tally


def test_as_fast_as_it_goes() -> None:
    box = Box()
    assert box.send([0, 60, 120], None).sent == len(box.taken) == box.progress == 3
    assert box.waited == []


def test_times_faster_than_life() -> None:
    box = Box()
    # What goes back in time is not waited for.
    box.send([0, 1, 3, 2, 2], 60.0)
    assert box.waited == [1.0, 2.0]
    assert len(box.taken) == 5


def test_stopped_while_waiting() -> None:
    box = Box()
    box.stop_after = 1
    assert box.send([0, 1, 2, 3], 1.0).sent == 2
    assert box.waited == [60.0, 60.0]
