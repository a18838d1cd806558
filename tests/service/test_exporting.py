"""What is kept, as rows of tables."""

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from chamberwatch.core.errors import UnknownNameError
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Container, Entry, EntryKind, Start
from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.core.watch.reminder import Call, Cause, Event, Evidence, advance
from chamberwatch.service import exporting as module
from chamberwatch.service.books import Span
from chamberwatch.service.export_rows import COLUMNS, Cell, Kind, type_of
from chamberwatch.service.exporting import Exporting, Wanted
from chamberwatch.storage.book import SqlBooks, open_books
from tests.make import NOON, at, evidence

T, RH, CO2 = Quantity.TEMPERATURE, Quantity.HUMIDITY, Quantity.CO2


@pytest.fixture
def books(tmp_path: Path) -> Iterator[SqlBooks]:
    opened = open_books(f"sqlite:///{tmp_path / 'cw.db'}", NOON)
    yield opened
    opened.close()


def told(books: SqlBooks, kind: Kind, wanted: Wanted | None = None) -> list[dict[str, Cell]]:
    """Return the rows by the names of their columns, without empty cells."""
    exporting, asked, shares = Exporting(books), wanted or Wanted(), list[float]()
    names = exporting.columns(kind, asked)
    rows = list(exporting.rows(kind, asked, shares.append))
    assert all(len(row) == len(names) for row in rows)
    for row in rows:
        for name, cell in zip(names, row, strict=True):
            assert cell is None or type(cell) is type_of(name), name
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    found = [dict(zip(names, row, strict=True)) for row in rows]
    return [{name: cell for name, cell in row.items() if cell is not None} for row in found]


def keep(books: SqlBooks, *readings: Reading) -> None:
    with books.write() as book:
        book.readings.add(readings)


# ------------------------------------------------------------------ readings


def test_what_a_sensor_says_at_once_stands_in_one_row(books: SqlBooks) -> None:
    keep(
        books,
        Reading(at(0), "top", T, 20.5),
        Reading(at(0), "low", T, 19.0),
        Reading(at(0), "top", RH, 88.0, raw=89.5),
        Reading(at(0), "top", CO2, 900.0, timed=False),
        Reading(at(1), "top", Quantity.PRESSURE, 101_325.0),
        Reading(at(1), "top", Quantity.BATTERY, 2.9),
    )
    assert told(books, Kind.READINGS) == [
        {
            "time_utc": at(0),
            "sensor": "top",
            "temperature_c": 20.5,
            "humidity_pct": 88.0,
            "humidity_sent_pct": 89.5,
            "time_from": "sensor",
        },
        {"time_utc": at(0), "sensor": "low", "temperature_c": 19.0, "time_from": "sensor"},
        {"time_utc": at(0), "sensor": "top", "co2_ppm": 900.0, "time_from": "arrival"},
        {
            "time_utc": at(1),
            "sensor": "top",
            "pressure_pa": 101_325.0,
            "battery_v": 2.9,
            "time_from": "sensor",
        },
    ]


@pytest.mark.parametrize("page", [1, 2, 3, 7])
def test_the_ends_of_pages_tear_no_row(
    books: SqlBooks, monkeypatch: pytest.MonkeyPatch, page: int
) -> None:
    keep(books, *(Reading(at(n), s, q, 20.0) for n in range(4) for s in "ab" for q in (T, RH)))
    whole = told(books, Kind.READINGS)
    monkeypatch.setattr(module, "PAGE", page)
    assert told(books, Kind.READINGS) == whole
    assert len(whole) == 8


def test_of_a_span_and_of_one_sensor(books: SqlBooks) -> None:
    keep(books, *(Reading(at(n), s, T, 20.0) for n in range(5) for s in ("top", "low")))
    wanted = Wanted(Span(at(1), at(3)), "low")
    assert [(row["time_utc"], row["sensor"]) for row in told(books, Kind.READINGS, wanted)] == [
        (at(1), "low"),
        (at(2), "low"),
    ]
    assert told(books, Kind.READINGS, Wanted(Span(at(60), at(90)))) == []


def test_a_sensor_that_is_none(books: SqlBooks) -> None:
    with pytest.raises(UnknownNameError, match=r"sensor “attic” is kept.*none yet"):
        told(books, Kind.READINGS, Wanted(sensor="attic"))
    keep(books, Reading(at(0), "top", T, 20.0))
    with pytest.raises(UnknownNameError, match=r"There are readings of: top\."):
        told(books, Kind.READINGS, Wanted(sensor="attic"))


@pytest.mark.parametrize("kind", Kind)
def test_of_nothing_nothing(books: SqlBooks, kind: Kind) -> None:
    assert told(books, kind) == []


def test_the_time_of_the_site_beside_utc(books: SqlBooks) -> None:
    keep(books, Reading(datetime.fromisoformat("2026-10-25T00:30Z"), "top", T, 20.0))
    keep(books, Reading(datetime.fromisoformat("2026-10-25T01:30Z"), "top", T, 20.0))
    zone = ZoneInfo("Europe/Berlin")
    rows = told(books, Kind.READINGS, Wanted(zone=zone))
    assert list(rows[0])[:3] == ["time_utc", "time_site", "sensor"]
    # The hour that comes twice is told apart by its offset.
    assert [row["time_site"] for row in rows] == [
        "2026-10-25T02:30:00+02:00",
        "2026-10-25T02:30:00+01:00",
    ]


# ------------------------------------------------------------------ the rest


def test_what_was_told_of_batches(books: SqlBooks) -> None:
    start = Start("shiitake", Container.LOG, 20, "oak", "cold", "plugs", 9e4, 5e4, 44.0, 1, 2)
    with books.write() as book:
        for entry in (
            Entry(0, 1, EntryKind.STARTED, at(0), at(1), "page", start=start, chamber="tent"),
            Entry(0, 1, EntryKind.STAGED, at(2), at(3), "api", stage=Stage.FRUITING, flush=1),
            Entry(0, 1, EntryKind.WITHDRAWN, at(2), at(4), "api", "no", corrects=2),
        ):
            book.growing.add(entry)
    first, second, third = told(books, Kind.BATCHES)
    assert first == {
        "at_utc": at(0),
        "batch": 1,
        "entry": 1,
        "kind": "started",
        "chamber": "tent",
        "species": "shiitake",
        "container": "log",
        "started_count": 20,
        "substrate": "oak",
        "strain": "cold",
        "spawn": "plugs",
        "wet_g": 9e4,
        "dry_g": 5e4,
        "moisture_pct": 44.0,
        "parent_batch": 1,
        "split_from_batch": 2,
        "sign": "",
        "note": "",
        "recorded_utc": at(1),
        "via": "page",
        "holds": True,
    }
    assert (second["stage"], second["flush"], second["replaced_by_entry"]) == ("fruiting", 1, 3)
    assert [row["holds"] for row in (second, third)] == [False, False]
    assert (third["corrects_entry"], third["note"]) == (2, "no")


def test_what_was_done(books: SqlBooks) -> None:
    def deed(kind: Deed, amount: float | None, **more: object) -> Action:
        return Action(0, "tent", kind, at(0), "so", at(1), "page", amount, **more)  # type: ignore[arg-type]

    with books.write() as book:
        for action in (
            deed(Deed.MISTED, 25.0, standing_g=100.0, advised=True),
            deed(Deed.VENTED, 4.0),
            deed(Deed.VENTED, 4.0, corrects=2, withdrawn=True),
        ):
            book.actions.add(action)
    misted, vented, taken_back = told(books, Kind.ACTIONS)
    assert misted == {
        "at_utc": at(0),
        "action": 1,
        "chamber": "tent",
        "deed": "misted",
        "sprayed_g": 25.0,
        "standing_g": 100.0,
        "advised": True,
        "note": "so",
        "recorded_utc": at(1),
        "via": "page",
        "holds": True,
    }
    assert (vented["vented_min"], vented["holds"], vented["replaced_by_action"]) == (4.0, False, 3)
    assert "sprayed_g" not in vented
    assert (taken_back["holds"], taken_back["corrects_action"]) == (False, 2)


@pytest.mark.parametrize(
    ("spoke", "shown"),
    [
        pytest.param(
            evidence(),
            {
                "evidence_sensor": "middle",
                "evidence_quantity": "humidity",
                "evidence_unit": "%",
                "evidence_value": 76.0,
                "evidence_low": 80.0,
                "evidence_high": 95.0,
                "evidence_trend_per_h": -12.0,
                "evidence_since_utc": NOON,
            },
            id="a reading",
        ),
        pytest.param(
            Evidence("middle", None, None, None, None, None, NOON),
            {"evidence_sensor": "middle", "evidence_since_utc": NOON},
            id="silence",
        ),
        pytest.param(None, {}, id="nothing"),
    ],
)
def test_reminders_and_their_moves(
    books: SqlBooks, spoke: Evidence | None, shown: dict[str, Cell]
) -> None:
    with books.write() as book:
        reminder = book.reminders.of("tent", Call.MIST, "")
        reminder, move = advance(reminder, Event.RAISED, at(0), Cause("too dry", spoke))
        book.reminders.save(reminder, [move])
    (row,) = told(books, Kind.REMINDERS)
    assert {name: row[name] for name in row if name.startswith("evidence")} == shown
    assert (row["since_utc"], row["call"], row["state"]) == (at(0), "mist", "unacknowledged")
    (row,) = told(books, Kind.MOVES)
    assert {name: row.pop(name) for name in list(row) if name.startswith("evidence")} == shown
    assert row == {
        "time_utc": at(0),
        "move": 1,
        "reminder": 1,
        "episode": 1,
        "chamber": "tent",
        "call": "mist",
        "subject": "",
        "event": "raised",
        "before": "normal",
        "after": "unacknowledged",
        "cause": "too dry",
    }
    assert told(books, Kind.MOVES, Wanted(Span(at(1), at(2)))) == []


def test_a_reminder_that_never_was_raised_has_no_time(books: SqlBooks) -> None:
    with books.write() as book:
        book.reminders.of("tent", Call.MIST, "")
    (row,) = told(books, Kind.REMINDERS, Wanted(zone=ZoneInfo("Europe/Berlin")))
    assert "since_utc" not in row
    assert "since_site" not in row


@pytest.mark.parametrize("kind", [Kind.BATCHES, Kind.ACTIONS, Kind.MOVES])
def test_many_pages(books: SqlBooks, monkeypatch: pytest.MonkeyPatch, kind: Kind) -> None:
    monkeypatch.setattr(module, "PAGE", 2)
    with books.write() as book:
        reminder = book.reminders.of("tent", Call.MIST, "")
        for n in range(5):
            event = Event.RETURNED if n % 2 else Event.RAISED
            reminder, move = advance(reminder, event, at(n), "so")
            book.reminders.save(reminder, [move])
            book.growing.add(Entry(0, 1, EntryKind.NOTED, at(n), at(n), "api"))
            book.actions.add(Action(0, "tent", Deed.NOTED, at(n), "", at(n), "api"))
    first = COLUMNS[kind][0]
    assert [row[first] for row in told(books, kind)] == [at(n) for n in range(5)]


def test_it_never_holds_more_than_a_page(books: SqlBooks, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of readings far apart each row comes as soon as its page is read."""
    monkeypatch.setattr(module, "PAGE", 10)
    keep(books, *(Reading(at(n), "top", T, 20.0) for n in range(100)))
    shares: list[float] = []
    rows = Exporting(books).rows(Kind.READINGS, Wanted(), shares.append)
    for _ in range(15):
        next(rows)
    assert len(shares) == 1
    assert shares[0] == pytest.approx(9 / 99, abs=0.001)
    keep(books, Reading(at(100.5), "top", T, 21.0))  # nobody has to wait for it
    assert len(list(rows)) == 85
