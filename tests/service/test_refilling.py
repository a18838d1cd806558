"""Mistings that hold ever shorter: the grower is asked once to put water down."""

import threading
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

import pytest

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.watch.action import Deed
from chamberwatch.core.watch.found import Found, Kind
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.core.watch.reminder import Call, Priority, State
from chamberwatch.service.books import OutRow
from chamberwatch.service.history import History, Vitals
from tests.fakes import PlainLinks
from tests.make import NOON, at
from tests.service.machine import Bench

BODY: Final = (
    "Mistings held about 40 min before and about 12 min the last three times: the water that "
    "stood there is used up, and more mist alone won't hold. Fill the tray and wet the walls with "
    "fresh water; change what stands there daily."
)
HOUR: Final = 60.0


def keep(bench: Bench, *holds: tuple[float, float], chamber: str = "tent") -> None:
    """Keep mistings: so many hours before noon, and for how many minutes each held."""
    with bench.sql.write() as book:
        for hours, minutes in holds:
            start = NOON - timedelta(hours=hours)
            book.found.add(
                Found(
                    0,
                    chamber,
                    Kind.MISTING,
                    start,
                    start + timedelta(minutes=2),
                    humidity_after_pct=90.0,
                    held=timedelta(minutes=minutes),
                    amount=12.0,
                )
            )


def before(bench: Bench) -> None:
    keep(bench, *((24.0 * day, 40.0) for day in range(7, 1, -1)))


def told(bench: Bench) -> list[OutRow]:
    return [r for r in reversed(bench.outbox()) if "refill" in r.title]


def round_at(bench: Bench, minutes: float) -> None:
    bench.clock.turn(seconds=(at(minutes) - bench.clock.now()).total_seconds())
    bench.rounds.look()


def body(bench: Bench) -> str:
    """Return what the page says of it."""
    vitals = Vitals(connected=True, message_ago=None, troubles=())
    history = History(
        bench.books, bench.clock, bench.house, bench.board, UTC, lambda: vitals, NOON, "0.0"
    )
    (shown,) = [r for r in history.now("tent").reminders if r.reminder.call is Call.REFILL]
    return shown.body


def test_told_once_until_it_is_refilled(bench: Bench) -> None:
    before(bench)
    keep(bench, (20.0, 12.0), (10.0, 11.0))
    round_at(bench, 1)
    assert told(bench) == []
    keep(bench, (2.0, 13.0))
    round_at(bench, 1.4)
    assert told(bench) == []  # the record is searched once in a minute, and so is this
    round_at(bench, 2)
    (row,) = told(bench)
    assert (row.title, row.body) == ("Tent: refill the tray and wet the walls", BODY)
    assert row.priority is Priority.LOW
    assert body(bench) == BODY
    for minute in range(3, 30):
        round_at(bench, minute)
    assert len(told(bench)) == 1
    bench.logbook.act("tent", Deed.REFILLED, None, "", "page")
    assert bench.reminder(Call.REFILL).state is State.ACKNOWLEDGED
    round_at(bench, 31)
    assert bench.reminder(Call.REFILL).state is State.NORMAL
    assert len(told(bench)) == 1


def test_it_goes_by_itself_when_mistings_hold_again(bench: Bench) -> None:
    before(bench)
    keep(bench, (20.0, 12.0), (10.0, 11.0), (2.0, 13.0))
    round_at(bench, 1)
    assert bench.reminder(Call.REFILL).active
    keep(bench, (1.0, 42.0))
    round_at(bench, 2)
    assert bench.reminder(Call.REFILL).state is State.RETURNED
    assert body(bench) == (
        "The last mistings had held about 12 min only; that is over. If it happens often, a "
        "larger tray lasts longer."
    )


def test_a_drier_room_is_no_reason(bench: Bench) -> None:
    """The room had 11 g/m3 last week and has 7 since."""
    before(bench)
    keep(bench, (20.0, 12.0), (10.0, 11.0), (2.0, 13.0))
    readings = []
    for hours in (168, 144, 120, 96, 72, 48, 20, 10, 2):
        time = NOON - timedelta(hours=hours)
        readings += [
            Reading(time, "room", Quantity.TEMPERATURE, 20.0),
            Reading(time, "room", Quantity.HUMIDITY, 64.0 if hours > 24 else 41.0),
        ]
    with bench.sql.write() as book:
        book.readings.add(readings)
    round_at(bench, 1)
    assert told(bench) == []


def test_without_a_sensor_in_the_room_it_is_told_all_the_same(tmp_path: Path) -> None:
    bench = Bench(tmp_path, removed={"room"})
    before(bench)
    keep(bench, (20.0, 12.0), (10.0, 11.0), (2.0, 13.0))
    round_at(bench, 1)
    assert len(told(bench)) == 1
    bench.close()


def test_only_where_something_open_grows(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    assert bench.house.chambers["shelf"].stage is Stage.COLONISATION
    keep(bench, *((24.0 * day, 40.0) for day in range(7, 1, -1)), chamber="shelf")
    keep(bench, (20.0, 12.0), (10.0, 11.0), (2.0, 13.0), chamber="shelf")
    round_at(bench, 1)
    assert told(bench) == []
    bench.close()


@pytest.mark.parametrize(
    "set_to", [pytest.param(at(-600), id="back"), pytest.param(at(600), id="ahead")]
)
def test_a_clock_that_is_set_stops_nothing(bench: Bench, set_to: datetime) -> None:
    round_at(bench, 1)
    bench.clock.wall = set_to
    bench.rounds.look()
    before(bench)
    keep(bench, (20.0, 12.0), (19.0, 11.0), (18.0, 13.0))
    bench.clock.turn(minutes=1)
    bench.rounds.look()
    assert len(told(bench)) == 1


def test_a_message_carries_the_link_to_answer_it(bench: Bench) -> None:
    before(bench)
    keep(bench, (20.0, 12.0), (10.0, 11.0), (2.0, 13.0))
    round_at(bench, 1)
    bench.phone.links = PlainLinks()
    bench.delivery().deliver_due(threading.Event())
    number = bench.reminder(Call.REFILL).id
    ((_, sent),) = [one for one in bench.phone.sent if "refill" in one[0]]
    assert f"I have refilled: http://tent/do/{number}.1.refilled" in sent
