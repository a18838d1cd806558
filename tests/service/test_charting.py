"""Charts out of a real database: summed up in the rounds, whatever is told of the past later."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Container, Entry, EntryKind, Start
from chamberwatch.core.growing.species import Species, SpeciesTable, Stated, View, Wants
from chamberwatch.core.review.summary import Level, Rules
from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.core.watch.chamber import House, Sensor
from chamberwatch.core.watch.found import Found, Kind
from chamberwatch.core.watch.reading import Place, Quantity, Reading
from chamberwatch.core.watch.reminder import Call, Event, Move, State
from chamberwatch.service.books import Span
from chamberwatch.service.chart import Chart, MarkKind
from chamberwatch.service.chart_marks import Marking
from chamberwatch.service.charting import Charting, step_for
from chamberwatch.service.growing.bands_then import BandsThen
from chamberwatch.service.summing_up import SummingUp
from chamberwatch.storage.book import SqlBooks, open_books
from tests.fakes import HandClock
from tests.make import NOON, at, house

T, RH = Quantity.TEMPERATURE, Quantity.HUMIDITY
BERLIN = ZoneInfo("Europe/Berlin")


def wants(stage: Stage, low: float) -> Wants:
    return Wants(stage, humidity_pct=Stated((View(low, 95.0),)))


OYSTER = Species(
    "grey-oyster",
    "Grey oyster",
    "",
    {
        Stage.COLONISATION: Wants(Stage.COLONISATION),
        Stage.PINNING: wants(Stage.PINNING, 88.0),
        Stage.FRUITING: wants(Stage.FRUITING, 84.0),
    },
)
TABLE = SpeciesTable({OYSTER.name: OYSTER}, {})


@dataclass
class Set:
    """A house, its book, what sums it up and what draws it."""

    books: SqlBooks
    clock: HandClock
    house: House

    def __post_init__(self) -> None:
        self.start()

    def start(self) -> None:
        self.bands = BandsThen(self.house, TABLE)
        self.summing = SummingUp(self.books, self.clock, self.bands)
        marking = Marking(self.bands, TABLE, self.house.titles(), BERLIN)
        self.charting = Charting(self.books, self.house, self.bands, marking)

    def sum_up(self) -> None:
        while self.summing.look():
            pass

    def hear(self, span: Span, every: timedelta, *sensors: str) -> None:
        """Keep readings of a humidity that goes from 80 to 89 % and over again."""
        time, rows = span.start, []
        while time < span.end:
            value = 80.0 + (time - NOON) // timedelta(minutes=1) % 10
            rows += [
                Reading(time, sensor, quantity, value if quantity is RH else 18.0)
                for sensor in sensors
                for quantity in (T, RH)
            ]
            time += every
        with self.books.write() as book:
            book.readings.add(rows)

    def tell(self, *entries: Entry) -> None:
        with self.books.write() as book:
            for entry in entries:
                if entry.start is not None:
                    book.growing.start(entry)
                else:
                    book.growing.add(entry)

    def chart(self, span: Span, *names: str, points: int = 1000) -> Chart:
        return self.charting.chart("tent", names or ("humidity_pct",), span, points)

    def judged(self, span: Span) -> tuple[int, int, int]:
        """Return how many humidities lay within, below and above the band then."""
        with self.books.read() as book:
            found = book.summaries.within(["middle"], "humidity_pct", Level.HOUR, span)
        return (
            sum(s.within for s in found),
            sum(s.below for s in found),
            sum(s.above for s in found),
        )


@pytest.fixture
def one(tmp_path: Path) -> Iterator[Set]:
    books = open_books(f"sqlite:///{tmp_path / 'cw.db'}", NOON)
    yield Set(books, HandClock(), house())
    books.close()


def entry(minutes: float, kind: EntryKind, **more: object) -> Entry:
    when = at(minutes)
    return Entry(0, 1, kind, when, when, "page", **more)  # type: ignore[arg-type]


BAG = entry(-2000, EntryKind.STARTED, start=Start("grey-oyster", Container.BAG), chamber="tent")
DAY = Span(at(-1440), at(0))
MINUTE = timedelta(minutes=1)

# ---------------------------------------------------------------- the past, told later


def test_what_is_told_of_the_past_is_counted_anew(one: Set) -> None:
    one.hear(DAY, MINUTE, "middle")
    one.sum_up()
    # The stated stage alone, common practice: 80 to 95 %.
    assert one.judged(DAY) == (1440, 0, 0)
    one.tell(BAG, entry(-720, EntryKind.OPENED))
    one.sum_up()
    # Sealed until it was opened half a day ago; its pins want 88 % since.
    assert one.judged(DAY) == (144, 576, 0)
    assert one.judged(Span(at(-1440), at(-720))) == (0, 0, 0)
    one.tell(entry(-360, EntryKind.PINNED))
    one.sum_up()
    assert one.judged(DAY) == (72 + 216, 288 + 144, 0)
    # Said again with another time: what was wrong counts no more.
    with_other_time = replace(entry(-1080, EntryKind.OPENED), corrects=2)
    one.tell(with_other_time)
    one.sum_up()
    assert sum(one.judged(DAY)) == 1080


def test_a_house_set_up_otherwise_is_reckoned_anew(one: Set) -> None:
    one.hear(DAY, MINUTE, "middle")
    one.sum_up()

    def dew_points() -> list[float]:
        with one.books.read() as book:
            of = book.summaries.within(["middle"], "wet_bulb_c", Level.DAY, DAY)
        return [each.mean for each in of]

    before = dew_points()
    core = replace(one.house.sensors["middle"], place=Place.CORE)
    lost = Sensor("lost", "nowhere")
    sensors = {**one.house.sensors, "middle": core, "lost": lost}
    one.house = replace(one.house, sensors=sensors, pressure_pa=80_000.0)
    one.start()
    one.sum_up()
    assert one.judged(DAY) == (0, 0, 0)
    assert dew_points() != before


def test_readings_of_before_are_summed_up_bit_by_bit(one: Set) -> None:
    """A database of before: a year ago, and the last days; nothing was summed up of it."""
    one.hear(Span(at(-400_000), at(-399_900)), MINUTE, "middle")
    one.hear(Span(at(-5760), at(0)), timedelta(minutes=5), "middle")
    looks = 1
    while one.summing.look():
        looks += 1
        assert one.judged(Span(at(-500_000), at(60))) == (100 + 1152, 0, 0)
    assert looks > 4


def test_a_clock_that_runs_ahead_does_no_harm(one: Set) -> None:
    one.hear(DAY, MINUTE, "middle")
    one.clock.turn(minutes=100_000)
    one.sum_up()
    one.hear(Span(at(0), at(60)), MINUTE, "middle")
    one.sum_up()
    assert sum(one.judged(Span(at(-1440), at(60)))) == 1500


# ---------------------------------------------------------------- lines


@pytest.mark.parametrize(
    ("span", "points", "expected_s"),
    [
        pytest.param(timedelta(hours=1), 1000, 60, id="an hour"),
        pytest.param(timedelta(hours=12), 1000, 60, id="half a day"),
        pytest.param(timedelta(days=1), 1000, 300, id="a day"),
        pytest.param(timedelta(days=7), 1000, 900, id="a week"),
        pytest.param(timedelta(days=7), 100, 7200, id="a week for a small screen"),
        pytest.param(timedelta(days=14), 1000, 3600, id="a fortnight"),
        pytest.param(timedelta(days=30), 1000, 3600, id="a month"),
        pytest.param(timedelta(days=45), 1000, 7200, id="six weeks"),
        pytest.param(timedelta(days=60), 1000, 14_400, id="two months"),
        pytest.param(timedelta(days=90), 1000, 86_400, id="three months"),
        pytest.param(timedelta(days=365), 1000, 86_400, id="a year"),
        pytest.param(timedelta(days=3650), 1000, 604_800, id="ten years"),
        pytest.param(timedelta(days=365 * 50), 100, 27 * 604_800, id="a life"),
    ],
)
def test_a_line_is_as_fine_as_the_screen_shows(
    span: timedelta, points: int, expected_s: int
) -> None:
    assert step_for(Span(NOON - span, NOON), points) == expected_s
    assert span / timedelta(seconds=expected_s) <= points


def test_the_lines_of_a_day(one: Set) -> None:
    one.hear(DAY, MINUTE, "middle", "top")
    found = one.chart(DAY, "humidity_pct", "dew_point_c", "co2_ppm")
    assert found.step == timedelta(minutes=5)
    humidity, dew_point, co2 = found.lines
    assert (humidity.unit, dew_point.unit, co2.unit) == ("%", "°C", "ppm")
    assert len(humidity.at) == 288
    assert humidity.at[0] == (DAY.start + timedelta(seconds=150)).timestamp()
    assert {(humidity.least[n], humidity.mean[n], humidity.most[n]) for n in range(288)} == {
        (80.0, 82.0, 84.0),
        (85.0, 87.0, 89.0),
    }
    # 18 °C and 80 to 89 % have dew points of 14.5 to 16.2 °C (CoolProp: 14.51, 16.17).
    assert min(v for v in dew_point.least if v is not None) == pytest.approx(14.51, abs=0.02)
    assert max(v for v in dew_point.most if v is not None) == pytest.approx(16.17, abs=0.02)
    assert co2.at == ()
    one.sum_up()
    assert one.chart(DAY, "humidity_pct").lines == (humidity,)


def test_of_what_is_not_summed_up_a_line_shows_the_newest_days(one: Set) -> None:
    week = Span(at(-7 * 1440), at(0))
    one.hear(week, timedelta(minutes=15), "middle")
    found = one.chart(week)
    # It is noon: half a day of today, and three before it at most.
    assert found.lines[0].at[0] == pytest.approx(at(-3.5 * 1440).timestamp(), abs=900)
    # What is missing, to the last reading that is.
    last = at(-3.5 * 1440 - 15) + timedelta(seconds=1)
    assert found.left_out == Span(week.start, last)
    assert one.chart(Span(at(-180), at(0))).left_out is None
    one.sum_up()
    found = one.chart(week)
    (line,) = found.lines
    assert found.left_out is None
    assert line.at[0] == pytest.approx(week.start.timestamp(), abs=900)


def test_rules_and_bands_are_made_once_for_each_new_entry(one: Set) -> None:
    def rules() -> Rules:
        with one.books.read() as book:
            return one.bands.rules(book)

    before = rules()
    assert rules() is before
    one.tell(BAG)
    assert rules() != before
    assert rules() is rules()


def test_a_gap_stays_a_gap(one: Set) -> None:
    one.hear(Span(at(-1440), at(-720)), MINUTE, "middle")
    one.hear(Span(at(-700), at(-200)), MINUTE, "middle")
    one.hear(Span(at(-193), at(0)), MINUTE, "middle")
    (line,) = one.chart(DAY).lines
    gaps = [n for n, value in enumerate(line.mean) if value is None]
    assert [at((line.at[n] - NOON.timestamp()) / 60) for n in gaps] == [at(-717.5)]
    assert all(one < other for one, other in pairwise(line.at))


def test_a_short_chart_of_one_sensor_shows_its_readings(one: Set) -> None:
    hour = Span(at(-60), at(0))
    one.hear(Span(at(-50), at(-40)), timedelta(seconds=30), "middle")
    one.hear(Span(at(-30), at(-29)), timedelta(seconds=30), "middle")
    found = one.chart(hour, "humidity_pct", "vpd_kpa", "co2_ppm")
    assert found.step == timedelta(0)
    humidity, deficit, co2 = found.lines
    assert humidity.mean[:3] == humidity.least[:3] == humidity.most[:3] == (80.0, 80.0, 81.0)
    assert humidity.mean[20] is None
    assert len(humidity.at) == len(deficit.at) == 23
    assert co2.at == ()
    # Two sensors, or more readings than there may be points, and it is summed up.
    assert one.chart(hour, points=10).step == timedelta(minutes=15)
    one.hear(hour, MINUTE, "top")
    assert one.chart(hour).step == timedelta(minutes=1)


def test_one_sensor_that_falls_silent_and_another_that_follows(one: Set) -> None:
    one.hear(Span(at(-60), at(-30)), timedelta(seconds=30), "middle")
    one.hear(Span(at(-30), at(0)), timedelta(seconds=30), "top")
    assert one.chart(Span(at(-60), at(0))).step == timedelta(minutes=1)


@pytest.mark.parametrize(
    ("chamber", "names", "span", "points", "error"),
    [
        pytest.param("attic", ("humidity_pct",), DAY, 9, UnknownNameError, id="no chamber"),
        pytest.param("tent", ("smell",), DAY, 9, RefusedError, id="no quantity"),
        pytest.param("tent", ("battery",), DAY, 9, RefusedError, id="not summed up"),
        pytest.param("tent", (), DAY, 9, RefusedError, id="nothing"),
        pytest.param("tent", ("co2_ppm",), Span(NOON, NOON), 9, RefusedError, id="no span"),
        pytest.param("tent", ("co2_ppm",), DAY, 1, RefusedError, id="no line"),
    ],
)
def test_what_cannot_be_drawn(
    one: Set,
    chamber: str,
    names: tuple[str, ...],
    span: Span,
    points: int,
    error: type[Exception],
) -> None:
    with pytest.raises(error):
        one.charting.chart(chamber, names, span, points)


# ---------------------------------------------------------------- beneath and beside them


def test_bands_change_with_the_stage(one: Set) -> None:
    one.tell(BAG, entry(-720, EntryKind.OPENED), entry(-360, EntryKind.PINNED))
    found = one.chart(Span(at(-3000), at(0)), "humidity_pct", "temperature_c", "vpd_kpa").bands
    said = [(b.quantity, b.start, b.end, b.low, b.high, b.why) for b in found]
    assert ("humidity_pct", at(-3000), at(-2000), 80.0, 95.0, "stated stage fruiting") in said
    pinning = "batch 1 (grey oyster, pinning)"
    # 95 % is no higher than the home limit allows: a band is at least ten per cent wide.
    assert ("humidity_pct", at(-720), at(-360), 88.0, 98.0, pinning) in said
    assert [each for each in said if each[0] == "humidity_pct"][-1][:4] == (
        "humidity_pct", at(-360), at(0), 84.0
    )  # fmt: skip
    assert [b.quantity for b in found].count("temperature_c") == 4
    assert not [b for b in found if b.quantity == "vpd_kpa"]


def test_the_room_has_its_own_limits(one: Set) -> None:
    found = one.charting.chart("room", ("humidity_pct", "temperature_c"), DAY)
    (damp,) = found.bands
    assert (damp.low, damp.high, damp.start, damp.end) == (None, 60.0, DAY.start, DAY.end)
    assert damp.why.startswith("US EPA")


def test_a_batch_that_changes_nothing_of_a_band_does_not_cut_it(one: Set) -> None:
    second = replace(BAG, at=at(-1000), batch=2)
    one.tell(BAG, second)
    (found,) = one.chart(DAY, "temperature_c").bands
    assert (found.start, found.end) == (DAY.start, DAY.end)


def marks(chart: Chart) -> list[tuple[MarkKind, datetime, datetime | None, str]]:
    return [(m.kind, m.at, m.until, m.word) for m in chart.marks]


def test_what_happened_stands_beside_the_lines(one: Set) -> None:
    misted = Action(0, "tent", Deed.MISTED, at(-300), "the walls too", at(-300), "page", 12.0)
    vented = Found(
        0, "tent", Kind.VENTING, at(-200), at(-190),
        co2_before_ppm=1480.0, co2_after_ppm=610.0,
    )  # fmt: skip
    with one.books.write() as book:
        book.actions.add(misted)
        book.actions.add(replace(misted, chamber="room"))
        kept = book.found.add(vented)
        book.found.add(replace(kept, start=at(-100), confirmed=False))
        book.found.add(replace(kept, start=at(-90), action=1))
        for call, chamber in ((Call.MIST, "tent"), (Call.HARVEST, "tent"), (Call.VENT, "room")):
            asked = book.reminders.of(chamber, call, "")
            raised = Move(
                asked.id, 1, Event.RAISED, State.NORMAL, State.UNACKNOWLEDGED, at(-400), ""
            )
            over = Move(
                asked.id, 1, Event.RETURNED, State.UNACKNOWLEDGED, State.RETURNED, at(-310), ""
            )
            book.reminders.save(replace(asked, episode=1), [raised, over])
    one.tell(
        BAG,
        entry(-720, EntryKind.MOVED, chamber="shelf", shelf="top"),
        entry(-700, EntryKind.NOTED, note="?"),
    )
    found = one.chart(DAY)
    assert marks(found) == [
        (MarkKind.GROWING, at(-720), None, "moved"),
        (MarkKind.REMINDER, at(-400), at(-310), "mist"),
        (MarkKind.DEED, at(-300), None, "misted"),
        (MarkKind.FOUND, at(-200), at(-190), "vented"),
    ]
    assert [mark.text for mark in found.marks] == [
        "batch 1 (grey oyster): moved to Dark shelf, top",
        "mist; over after 90 min",
        "misted, 12\N{NO-BREAK SPACE}g into the air: the walls too",
        "venting, seen in the readings: CO2 1480 to 610 ppm",
    ]
    # What held when the chart begins is told from where it began.
    later = one.chart(Span(at(-350), at(0)))
    assert marks(later)[0] == (MarkKind.REMINDER, at(-400), at(-310), "mist")
    # On a long chart only what was told of the crop.
    year = one.chart(Span(at(-500_000), at(0)))
    assert [m.kind for m in year.marks] == [MarkKind.GROWING, MarkKind.GROWING]
    assert year.nights == ()


def test_a_batch_that_cannot_be_read_is_passed_over(one: Set) -> None:
    one.tell(BAG, entry(-720, EntryKind.RESTED))
    assert marks(one.chart(DAY)) == []
    assert [b.why for b in one.chart(DAY).bands] == ["stated stage fruiting"]


def test_nights_by_the_clock_of_the_site_over_the_change_to_summer_time(one: Set) -> None:
    # 29 March 2026, 2:00 in Berlin: an hour is left out.
    start = datetime(2026, 3, 28, 12, 0, tzinfo=NOON.tzinfo)
    nights = one.chart(Span(start, start + timedelta(days=1, hours=9))).nights
    assert [(n.start.isoformat(), n.end.isoformat()) for n in nights] == [
        ("2026-03-28T21:00:00+00:00", "2026-03-29T04:00:00+00:00"),
        ("2026-03-29T20:00:00+00:00", "2026-03-29T21:00:00+00:00"),
    ]
