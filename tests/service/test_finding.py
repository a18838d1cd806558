"""The search on a real database: an invented tent's day, with deeds told, told late or untold."""

import logging
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest

from chamberwatch.core.air.figure import Origin
from chamberwatch.core.errors import StorageError, UnknownNameError
from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.core.watch.chamber import House, Sensor
from chamberwatch.core.watch.found import Exchange, Found, Kind
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.service.board import Board
from chamberwatch.service.books import Span
from chamberwatch.service.exchanging import (
    BROKEN,
    UNSTEADY,
    Calm,
    Exchanging,
    calm_stretches,
    steady_stretch,
)
from chamberwatch.service.finding import Finding
from chamberwatch.service.lookback import Lookback, Shown
from chamberwatch.service.rounds import Rounds, RoundsParts
from chamberwatch.storage.book import SqlBooks, open_books
from tests.core.watch.days import Day, Done, chance_of, live
from tests.fakes import HandClock
from tests.make import NOON, at, house
from tests.service.machine import Bench

HOUR_S = 3600.0
EVER = Span(NOON - timedelta(days=30), NOON + timedelta(days=30))
HOURS = 9.0
START = NOON - timedelta(hours=HOURS)
DEEDS = [
    Done(1.5 * HOUR_S, 3.0, 12.0),
    Done(4.0 * HOUR_S, 0.0, 9.0),
    Done(5.0 * HOUR_S, 4.0, 0.0),
]


def when(seconds: float) -> datetime:
    return START + timedelta(seconds=seconds)


def readings_of(day: Day) -> list[Reading]:
    series = [
        ("middle", Quantity.TEMPERATURE, day.temperature),
        ("middle", Quantity.HUMIDITY, day.humidity),
        ("middle", Quantity.CO2, day.co2),
        ("room", Quantity.TEMPERATURE, day.room_temperature),
        ("room", Quantity.HUMIDITY, day.room_humidity),
        ("room", Quantity.CO2, day.room_co2),
    ]
    return [
        Reading(when(time_s), sensor, quantity, float(value))
        for sensor, quantity, points in series
        for time_s, value in points
    ]


@pytest.fixture(scope="module")
def lived() -> list[Reading]:
    return readings_of(live(DEEDS, chance_of(3), hours=HOURS, every_s=30.0))


@dataclass
class Seeker:
    """A book, a clock and what looks into them."""

    books: SqlBooks
    clock: HandClock
    board: Board
    house: House

    def __post_init__(self) -> None:
        self.finding = Finding(self.books, self.house, self.clock, self.board)
        self.lookback = Lookback(self.books, self.clock, self.house, self.board, UTC)

    def hear(self, readings: list[Reading]) -> None:
        with self.books.write() as book:
            book.readings.add(readings)
            newest = book.readings.newest()
        self.board.remember(newest, [])

    def look(self) -> None:
        for _ in range(100):
            if not self.finding.look():
                return
        raise AssertionError("It never comes to an end.")

    def told(self, deed: Deed, at: datetime, amount: float | None = None) -> Action:
        with self.books.write() as book:
            return book.actions.add(Action(0, "tent", deed, at, "", at, "page", amount))

    def found(self) -> list[Found]:
        with self.books.read() as book:
            return list(book.found.within("tent", EVER))

    def exchanges(self) -> list[Exchange]:
        with self.books.read() as book:
            return list(book.exchanges.within("tent", EVER))


@pytest.fixture
def seeker(tmp_path: Path) -> Iterator[Seeker]:
    clock = HandClock(wall=NOON + timedelta(minutes=2))
    books = open_books(f"sqlite:///{tmp_path / 'cw.db'}", clock.now())
    yield Seeker(books, clock, Board(0.0), house())
    books.close()


def test_a_day_is_worked_through(seeker: Seeker, lived: list[Reading]) -> None:
    told = seeker.told(Deed.MISTED, when(4.2 * HOUR_S), 9.0)
    seeker.hear(lived)
    seeker.look()
    found = seeker.found()
    assert [f.kind for f in found] == [Kind.VENTING, Kind.MISTING, Kind.MISTING, Kind.VENTING]
    true = [DEEDS[0].at_s, DEEDS[0].mist_s, DEEDS[1].mist_s, DEEDS[2].at_s]
    for event, time_s in zip(found, true, strict=True):
        assert abs(event.start - when(time_s)) <= timedelta(minutes=1)
    # One deed was told, 12 min late; it belongs to the misting then and to no other.
    assert [f.action for f in found] == [None, None, told.id, None]
    assert found[2].amount == 9.0
    # The first misting was followed by another; the second held until the venting at the latest.
    assert found[2].held is None or found[2].held <= timedelta(hours=1.2)


def test_a_second_start_doubles_nothing(seeker: Seeker, lived: list[Reading]) -> None:
    seeker.hear(lived)
    seeker.look()
    found, exchanges = seeker.found(), seeker.exchanges()
    again = Seeker(seeker.books, seeker.clock, seeker.board, seeker.house)
    again.look()
    assert (again.found(), again.exchanges()) == (found, exchanges)
    # Even if it forgot how far it had come.
    with seeker.books.write() as book:
        name = "looked for mistings and ventings: tent"
        assert book.kept.text(name) == max(r.time for r in lived).isoformat()
        book.kept.keep_text(name, START.isoformat())
    forgetful = Seeker(seeker.books, seeker.clock, seeker.board, seeker.house)
    forgetful.look()
    assert [(f.kind, f.start) for f in again.found()] == [(f.kind, f.start) for f in found]


def test_minute_by_minute_finds_what_the_backlog_does(
    seeker: Seeker, lived: list[Reading]
) -> None:
    part = [r for r in lived if r.time < when(4.6 * HOUR_S)]
    seeker.clock.wall = when(1.0 * HOUR_S)
    told = 0
    while seeker.clock.wall < when(4.6 * HOUR_S):
        seeker.clock.turn(minutes=2)
        soon = [r for r in part if told <= (r.time - START).total_seconds()]
        now_s = (seeker.clock.wall - START).total_seconds()
        seeker.hear([r for r in soon if (r.time - START).total_seconds() < now_s])
        told = int(now_s)
        seeker.look()
    assert [f.kind for f in seeker.found()] == [Kind.VENTING, Kind.MISTING, Kind.MISTING]


def test_a_deed_told_after_the_event_was_found(seeker: Seeker, lived: list[Reading]) -> None:
    before = when(4.0 * HOUR_S + 15 * 60)
    seeker.clock.wall = before + timedelta(minutes=2)
    seeker.hear([r for r in lived if r.time < before])
    seeker.look()
    assert seeker.found()[-1].action is None
    told = seeker.told(Deed.MISTED, when(4.0 * HOUR_S + 14 * 60))
    seeker.clock.turn(minutes=5)
    seeker.hear([r for r in lived if r.time < before + timedelta(minutes=5)])
    seeker.look()
    assert seeker.found()[-1].action == told.id


def test_a_deed_without_a_step_is_no_event(seeker: Seeker, lived: list[Reading]) -> None:
    seeker.told(Deed.VENTED, when(6.5 * HOUR_S))
    seeker.hear(lived)
    seeker.look()
    assert len(seeker.found()) == 4
    assert all(f.action is None for f in seeker.found())


def test_a_venting_told_to_be_long_is_long(seeker: Seeker, lived: list[Reading]) -> None:
    seeker.told(Deed.VENTED, when(5.0 * HOUR_S), 20.0)
    seeker.hear(lived)
    seeker.look()
    last = seeker.found()[-1]
    assert last.end - last.start == timedelta(minutes=20)
    vented = [e for e in seeker.exchanges() if e.vented]
    assert [e.start - last.start < timedelta(minutes=1) for e in vented] == [True]


def test_calm_stretches_give_air_changes(seeker: Seeker, lived: list[Reading]) -> None:
    seeker.hear(lived)
    seeker.look()
    closed = [e for e in seeker.exchanges() if not e.vented]
    assert closed
    for one in closed:
        assert timedelta(minutes=14) <= one.end - one.start <= timedelta(hours=3)
        assert (one.per_h is None) == bool(one.refusal)
    for one, other in pairwise(closed):
        assert other.start >= one.end
    assert len(closed) <= HOURS
    known = [e for e in closed if e.per_h is not None]
    assert known
    for one in known:
        assert one.inlet_measured
        assert one.per_h == pytest.approx(0.8, rel=0.25)
        # 0.3 kg of fruit and 2 kg of block give off 0.19 g/h at 20 °C.
        assert one.source_g_per_h == pytest.approx(0.19, rel=0.3)


def test_without_a_sensor_in_the_room_the_inlet_is_assumed(
    seeker: Seeker, lived: list[Reading]
) -> None:
    seeker.hear([r for r in lived if r.sensor == "middle"])
    seeker.look()
    known = [e for e in seeker.exchanges() if e.inlet_ppm is not None]
    assert {(e.inlet_ppm, e.inlet_measured) for e in known} == {(430.0, False)}


def test_a_chamber_that_breaks_off_keeps_no_hold(seeker: Seeker, lived: list[Reading]) -> None:
    gap = [
        r
        for r in lived
        if not when(4.3 * HOUR_S) < r.time < when(4.6 * HOUR_S) and r.time < when(4.9 * HOUR_S)
    ]
    seeker.clock.wall = when(4.9 * HOUR_S)
    seeker.hear(gap)
    seeker.look()
    last = seeker.found()[-1]
    assert (last.kind, last.held) == (Kind.MISTING, None)
    shown = seeker.lookback.mistings("tent", EVER, 10).shown[0]
    assert (shown.found.id, shown.still_holding) == (last.id, False)


def flat(minutes: int, value: float, quantity: Quantity, first: float = 0.0) -> list[Reading]:
    return [
        Reading(START + timedelta(minutes=first + n / 2), "middle", quantity, value)
        for n in range(minutes * 2)
    ]


def test_a_hold_is_followed_until_it_ends(seeker: Seeker) -> None:
    """Misted after 60 min, below the band 50 min later; looked at as it comes."""
    warm = flat(140, 19.0, Quantity.TEMPERATURE)
    wet = [
        *flat(60, 82.0, Quantity.HUMIDITY),
        *flat(50, 92.0, Quantity.HUMIDITY, 60),
        *flat(30, 78.0, Quantity.HUMIDITY, 110),
    ]
    seeker.clock.wall = START + timedelta(minutes=40)
    shown: Sequence[Shown] = ()
    while seeker.clock.wall < START + timedelta(minutes=138):
        seeker.clock.turn(minutes=4)
        seeker.hear([r for r in [*warm, *wet] if r.time <= seeker.clock.wall])
        seeker.look()
        shown = seeker.lookback.mistings("tent", EVER, 10).shown
        minutes = (seeker.clock.wall - START).total_seconds() / 60
        if 80 < minutes < 110:
            assert (shown[0].still_holding, shown[0].found.held) == (True, None)
    assert [s.found.kind for s in shown] == [Kind.MISTING]
    assert shown[0].found.held is not None
    assert shown[0].found.held / timedelta(minutes=1) == pytest.approx(50.0, abs=1.0)
    assert not shown[0].still_holding


def test_only_what_is_safely_there_is_looked_at(seeker: Seeker, lived: list[Reading]) -> None:
    assert seeker.finding.look() is False
    early = [r for r in lived if r.time < when(600.0)]
    seeker.hear(early)
    seeker.look()
    with seeker.books.read() as book:
        text = book.kept.text("looked for mistings and ventings: tent")
    assert text is not None
    # Not on to the clock's now: what is missing may still come.
    assert datetime.fromisoformat(text) == max(r.time for r in early)


@dataclass
class SlowClock(HandClock):
    """A clock that moves on by itself whenever it is looked at."""

    def monotonic(self) -> float:
        self.elapsed_s += 0.06
        return self.elapsed_s


def test_no_look_takes_long(seeker: Seeker, lived: list[Reading]) -> None:
    seeker.hear(lived)
    seeker.look()
    whole = seeker.found()
    with seeker.books.write() as book:
        book.kept.keep_text("looked for mistings and ventings: tent", START.isoformat())
    slow = Seeker(seeker.books, SlowClock(wall=seeker.clock.wall), seeker.board, seeker.house)
    looks = 1
    while slow.finding.look():
        looks += 1
    # A piece is 2 h long, and two of them take this clock longer than a turn may.
    assert looks == 3
    assert slow.found() == whole


def test_a_dark_shelf_with_one_hygrometer(seeker: Seeker) -> None:
    """Nothing is judged there, so a misting has no hold; and there is no CO2 to fit."""
    sensor = Sensor("dark", "shelf", quantities=(Quantity.HUMIDITY, Quantity.TEMPERATURE))
    own = Seeker(seeker.books, seeker.clock, seeker.board, house(sensor))
    wet = [*flat(60, 70.0, Quantity.HUMIDITY), *flat(60, 85.0, Quantity.HUMIDITY, 60)]
    own.hear([replace(r, sensor="dark") for r in [*wet, *flat(120, 19.0, Quantity.TEMPERATURE)]])
    own.look()
    shown = own.lookback.mistings("shelf", EVER, 10).shown
    assert [(s.found.kind, s.found.held, s.still_holding) for s in shown] == [
        (Kind.MISTING, None, False)
    ]
    with own.books.read() as book:
        assert book.exchanges.within("shelf", EVER) == []


def test_without_a_volume_there_is_no_source(seeker: Seeker) -> None:
    home = seeker.house
    tent = replace(home.chambers["tent"], volume_l=None)
    nowhere = replace(home, chambers={**home.chambers, "tent": tent})
    falling = [(m / 2, 600.0 + 900.0 * math.exp(-m / 60.0)) for m in range(240)]
    seeker.hear([*co2_of(falling, "middle"), *co2_of([(m, 600.0) for m in range(120)], "room")])
    span = Span(START, START + timedelta(hours=2))
    with seeker.books.read() as book:
        with_volume = Exchanging(home, "tent", ()).of(book, span, vented=False)
        without = Exchanging(nowhere, "tent", ()).of(book, span, vented=False)
    assert with_volume is not None
    assert without is not None
    # e-fold in 30 min is 2 changes an hour, with no source.
    assert with_volume.per_h == pytest.approx(2.0, rel=0.05)
    assert with_volume.source_g_per_h == pytest.approx(0.0, abs=0.05)
    assert without == replace(with_volume, source_g_per_h=None)


def test_what_was_answered_meanwhile_stays(seeker: Seeker, lived: list[Reading]) -> None:
    seeker.hear(lived)
    seeker.look()
    one = seeker.found()[1]
    yes = seeker.lookback.answer("tent", Kind.MISTING, one.id, was_it=True)
    assert seeker.lookback.confirmed("tent", EVER, 5) == [yes.found]
    assert seeker.lookback.confirmed("tent", EVER, 0) == []
    shown = seeker.lookback.answer("tent", Kind.MISTING, one.id, was_it=False)
    assert seeker.lookback.confirmed("tent", EVER, 5) == []
    assert (shown.question, shown.found.confirmed) == ("", False)
    seeker.told(Deed.MISTED, one.start)
    seeker.clock.turn(minutes=3)
    seeker.look()
    assert seeker.found()[1] == replace(one, confirmed=False)


def test_looking_back(seeker: Seeker, lived: list[Reading]) -> None:
    seeker.hear(lived)
    seeker.told(Deed.MISTED, when(4.0 * HOUR_S))
    seeker.look()
    mistings = seeker.lookback.mistings("tent", EVER, 10)
    assert [s.recorded for s in mistings.shown] == [True, False]
    start = f"{mistings.shown[1].found.start:%H:%M}"
    assert mistings.shown[0].question == ""
    assert mistings.shown[1].question == f"Looks like a misting at {start} \N{EN DASH} was it?"
    assert len(seeker.lookback.mistings("tent", EVER, 1).shown) == 1
    changes = seeker.lookback.air_changes("tent", EVER, 10)
    assert [s.found.start for s in changes.ventings] == [
        f.start for f in seeker.found()[::-1] if f.kind is Kind.VENTING
    ]
    assert changes.exchanges == seeker.exchanges()[::-1][:10]
    assert changes.best.origin is Origin.MEASURED
    assert changes.best.low < 0.8 < changes.best.high
    nothing = seeker.lookback.mistings("shelf", EVER, 10)
    assert (list(nothing.shown), nothing.typical_hold_min) == ([], None)
    assert seeker.lookback.air_changes("shelf", EVER, 10).best.origin is Origin.ASSUMED


def test_what_is_still_to_be_asked(seeker: Seeker, lived: list[Reading]) -> None:
    seeker.hear(lived)
    seeker.told(Deed.MISTED, when(4.0 * HOUR_S))
    seeker.look()
    first, denied, told, last = seeker.found()
    assert told.action is not None
    seeker.lookback.answer("tent", Kind.MISTING, denied.id, was_it=False)
    asked = seeker.lookback.questions("tent", EVER, 10)
    assert [s.found for s in asked] == [last, first]
    assert [s.question for s in asked] == [
        f"Looks like a venting at {s.found.start:%H:%M} \N{EN DASH} was it?" for s in asked
    ]
    assert [s.found for s in seeker.lookback.questions("tent", EVER, 1)] == [last]
    late = Span(last.start + timedelta(seconds=1), NOON)
    assert list(seeker.lookback.questions("tent", late, 10)) == []
    assert list(seeker.lookback.questions("shelf", EVER, 10)) == []
    with pytest.raises(UnknownNameError):
        seeker.lookback.questions("cellar", EVER, 1)


def test_what_is_not_there_cannot_be_answered(seeker: Seeker, lived: list[Reading]) -> None:
    seeker.hear(lived)
    seeker.look()
    venting = seeker.found()[0]
    for chamber, kind, number in (
        ("cellar", Kind.VENTING, venting.id),
        ("shelf", Kind.VENTING, venting.id),
        ("tent", Kind.MISTING, venting.id),
        ("tent", Kind.VENTING, 999),
    ):
        with pytest.raises(UnknownNameError, match="There is no"):
            seeker.lookback.answer(chamber, kind, number, was_it=True)
    with pytest.raises(UnknownNameError):
        seeker.lookback.mistings("cellar", EVER, 1)
    with pytest.raises(UnknownNameError):
        seeker.lookback.air_changes("cellar", EVER, 1)


# ------------------------------------------------------------------ stretches


def event(start_min: float, end_min: float) -> Found:
    return Found(1, "tent", Kind.VENTING, at(start_min), at(end_min))


def spans(found: list[Found], end_min: float, *done: Exchange) -> list[tuple[float, float]]:
    calm = Calm(Span(at(0), at(end_min)), done)
    return [
        ((s.start - NOON) / timedelta(minutes=1), (s.end - NOON) / timedelta(minutes=1))
        for s in calm_stretches(found, calm)
    ]


def test_which_stretches_are_ready() -> None:
    assert spans([], 170.0) == []
    assert spans([], 200.0) == [(0.0, 180.0)]
    assert spans([event(40.0, 43.0)], 100.0) == [(0.0, 40.0)]
    assert spans([event(10.0, 13.0)], 100.0) == []
    # After 13 min, three lags of 90 s until the sensor has settled.
    assert spans([event(10.0, 13.0)], 400.0) == [(17.5, 197.5), (197.5, 377.5)]
    # At most one an hour.
    assert spans([event(40.0, 41.0), event(80.0, 81.0)], 90.0) == [(0.0, 40.0)]
    assert spans([event(-20.0, -10.0), event(500.0, 501.0)], 100.0) == []


def test_what_is_done_is_not_done_again() -> None:
    done = Exchange(1, "tent", at(0), at(180), vented=False)
    vented = Exchange(1, "tent", at(250), at(260), vented=True)
    assert spans([], 300.0, done, vented) == []
    assert spans([], 361.0, done) == [(180.0, 360.0)]


def test_the_room_must_stay_the_same() -> None:
    rising = [(t * 60.0, 500.0 + (0.0 if t < 60 else (t - 60) * 2.0)) for t in range(120)]
    start, end = steady_stretch(rising)
    assert start == 0.0
    assert 3600.0 <= end <= 5400.0
    assert steady_stretch([])[1] <= 0.0


def co2_of(values: list[tuple[float, float]], sensor: str) -> list[Reading]:
    return [Reading(START + timedelta(minutes=m), sensor, Quantity.CO2, v) for m, v in values]


@pytest.mark.parametrize(
    ("chamber", "room", "why"),
    [
        pytest.param([0, 5, 20, 25, 40], [], BROKEN, id="breaks off again and again"),
        pytest.param(list(range(60)), [*range(60)], UNSTEADY, id="people come home"),
    ],
)
def test_why_there_is_no_figure(
    seeker: Seeker, chamber: list[float], room: list[float], why: str
) -> None:
    seeker.hear(
        [
            *co2_of([(m, 900.0) for m in chamber], "middle"),
            *co2_of([(m, 500.0 + 20 * m) for m in room], "room"),
        ]
    )
    fitting = Exchanging(seeker.house, "tent", ())
    span = Span(START, START + timedelta(hours=1))
    with seeker.books.read() as book:
        refused = fitting.of(book, span, vented=False)
        nothing = Exchanging(seeker.house, "shelf", ()).of(book, span, vented=False)
    assert refused is not None
    assert (refused.per_h, refused.refusal) == (None, why)
    assert nothing is None


def test_a_doubted_sensor_is_asked_last(seeker: Seeker) -> None:
    falling = [(m / 2, 600.0 + 900.0 * 0.97 ** (m / 2)) for m in range(120)]
    seeker.hear([*co2_of(falling, "middle"), *co2_of([(m, 900.0) for m in range(60)], "top")])
    span = Span(START, START + timedelta(hours=1))
    with seeker.books.read() as book:
        trusted = Exchanging(seeker.house, "tent", ()).of(book, span, vented=False)
        doubted = Exchanging(seeker.house, "tent", ("middle",)).of(book, span, vented=False)
        no_other = Exchanging(seeker.house, "tent", ("middle", "top")).of(book, span, vented=False)
    assert trusted is not None
    assert doubted is not None
    assert trusted.refusal != doubted.refusal
    assert no_other == trusted


# ------------------------------------------------------------------ in the rounds


class Troubled(Finding):
    """A search that fails in the ways it was told to."""

    def __init__(self, *faults: Exception | bool) -> None:
        self.faults = list(faults)

    def look(self) -> bool:
        fault = self.faults.pop(0)
        if isinstance(fault, Exception):
            raise fault
        return fault


def test_no_fault_of_the_search_ends_the_rounds(
    bench: Bench, caplog: pytest.LogCaptureFixture
) -> None:
    troubled = Troubled(StorageError("The disk is full."), ZeroDivisionError("x"), True, False)
    parts: RoundsParts = replace(bench.rounds._p, finding=troubled)
    rounds = Rounds(parts)
    with caplog.at_level(logging.WARNING):
        rounds.search()
        rounds.search()  # not before a minute has passed
        assert len(troubled.faults) == 3
        bench.clock.turn(minutes=1)
        rounds.search()
        bench.clock.turn(minutes=1)
        rounds.search()
        rounds.search()  # at once, as there was more to do
    assert troubled.faults == []
    assert "The disk is full." in caplog.text
    assert "Looking for mistings and ventings failed" in caplog.text
    bench.rounds.search()


def test_where_one_part_cannot_learn_the_next_still_does(
    bench: Bench, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    looked: list[str] = []

    def breaks(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("chamberwatch.service.knowing.Knowing.look", breaks)
    monkeypatch.setattr(
        "chamberwatch.service.responding.Responding.look", lambda *_: looked.append("deeds")
    )
    parts = replace(bench.rounds._p, knowing=bench.knowing, responding=bench.responding)
    rounds = Rounds(replace(parts, finding=Troubled(False, False)))
    for _ in range(2):
        bench.clock.turn(minutes=1)
        rounds.search()
    assert looked == ["deeds", "deeds"]
    assert caplog.text.count("Learning the ways of the chambers failed") == 1
