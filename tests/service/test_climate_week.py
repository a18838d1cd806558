"""The air of a week looked back on, held against the same figures reckoned by pandas."""

import math
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pandas as pd
import pytest

from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.watch.chamber import House
from chamberwatch.core.watch.found import Exchange, Found, Kind
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.service.climate import Climates, heading
from chamberwatch.service.growing.bands_then import BandsThen
from chamberwatch.service.summing_up import SummingUp
from chamberwatch.settings import shipped_species
from chamberwatch.storage.book import SqlBooks, open_books
from tests.fakes import HandClock
from tests.make import house

LISBON = ZoneInfo("Europe/Lisbon")
# The week in which the clocks go back: Sunday, 25 October 2026 has 25 hours.
MONDAY = datetime(2026, 10, 18, 23, tzinfo=UTC)
END = datetime(2026, 10, 26, tzinfo=UTC)
EVERY = timedelta(minutes=2)
Q = Quantity


def lived() -> Iterator[Reading]:
    """Yield eight days of a tent, dry by night and stale by day; on Thursday it is silent."""
    time = MONDAY - timedelta(days=1)
    while time < END:
        if time.date() != datetime(2026, 10, 22, tzinfo=UTC).date():
            day = 2 * math.pi * (time.hour + time.minute / 60) / 24
            yield Reading(time, "top", Q.HUMIDITY, round(84.0 - 7.0 * math.cos(day), 1))
            yield Reading(time, "top", Q.TEMPERATURE, round(18.0 + 2.0 * math.sin(day), 1))
            yield Reading(time, "top", Q.CO2, round(900.0 - 200.0 * math.cos(day)))
        time += EVERY


@pytest.fixture(scope="module")
def books(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SqlBooks]:
    path: Path = tmp_path_factory.mktemp("climate") / "cw.db"
    opened = open_books(f"sqlite:///{path}", MONDAY)
    with opened.write() as book:
        book.readings.add(lived())
        book.found.add(
            Found(
                0,
                "tent",
                Kind.MISTING,
                MONDAY + timedelta(hours=9),
                MONDAY + timedelta(hours=9, minutes=2),
                held=timedelta(minutes=42),
            )
        )
        book.exchanges.add(
            Exchange(0, "tent", MONDAY, MONDAY + timedelta(hours=2), vented=False, per_h=0.7)
        )
    declared = house()
    summing = SummingUp(opened, HandClock(END), BandsThen(declared, shipped_species()))
    while summing.look():
        pass
    yield opened
    opened.close()


def climates(books: SqlBooks, now: datetime = END) -> Climates:
    declared: House = house()
    return Climates(
        books, HandClock(now), declared, BandsThen(declared, shipped_species()), LISBON
    )


def frame(quantity: Quantity, start: datetime, end: datetime) -> "pd.Series[float]":
    rows = {r.time: r.value for r in lived() if r.quantity is quantity and start <= r.time < end}
    return pd.Series(rows, dtype=float)


BANDS = {Q.HUMIDITY: (80.0, 95.0), Q.TEMPERATURE: (13.0, 24.0), Q.CO2: (-math.inf, 1000.0)}


@pytest.mark.parametrize("quantity", list(BANDS))
def test_the_shares_are_those_of_pandas(books: SqlBooks, quantity: Quantity) -> None:
    found = climates(books).week("tent", "2026-W43").climate
    (share,) = (each for each in found.shares if each.quantity is quantity)
    rows, (low, high) = frame(quantity, MONDAY, END), BANDS[quantity]
    assert (found.start, found.end) == (MONDAY, END)
    assert share.judged == len(rows)
    assert share.within == int(rows.between(low, high).sum())
    assert (share.below, share.above) == (int((rows < low).sum()), int((rows > high).sum()))
    assert (share.least, share.most) == (rows.min(), rows.max())
    assert share.mean == pytest.approx(rows.mean(), rel=1e-9)
    assert share.heard == timedelta(minutes=15 * len(set(rows.index.floor("15min"))))


@pytest.mark.parametrize("quantity", list(BANDS))
def test_the_typical_day_is_that_of_pandas(books: SqlBooks, quantity: Quantity) -> None:
    found = climates(books).week("tent", "2026-W43").climate.day[quantity]
    rows, (low, high) = frame(quantity, MONDAY, END), BANDS[quantity]
    local = rows.tz_convert(LISBON)
    for hour, group in local.groupby(local.index.hour):
        assert found[hour].judged == len(group)
        assert found[hour].within == int(group.between(low, high).sum())
        assert found[hour].mean == pytest.approx(group.mean(), rel=1e-9)


def test_the_worst_spells_are_the_nights(books: SqlBooks) -> None:
    week = climates(books).week("tent", "2026-W43")
    dry = [s for s in week.climate.spells if s.quantity is Q.HUMIDITY]
    rows = frame(Q.HUMIDITY, MONDAY, END)
    assert dry
    for spell in dry:
        inside = rows[(rows.index >= spell.start) & (rows.index < spell.end)]
        assert (inside < 80.0).all()
        assert inside.min() == spell.extreme
        before = rows[rows.index < spell.start]
        assert before.empty or before.iloc[-1] >= 80.0 or spell.start == MONDAY


def test_what_is_said(books: SqlBooks) -> None:
    week = climates(books).week("tent", "2026-W43")
    assert heading(week) == "Tent in 2026-W43, 19 to 25 October 2026"
    assert [name for name, _, _ in week.shares] == ["humidity", "temperature", "CO2"]
    assert "too dry; " in week.shares[0][1]
    assert week.shares[1][1].startswith("100 % within the band")
    assert week.holding == "1 misting found, not recorded; the one whose end is known held 42 min."
    assert week.freshness.startswith("No venting found. Closed, its air changed 0.7 times")
    # Thursday is missing.
    assert week.changes[0].startswith("The humidity is missing for ")
    assert week.over


def test_the_present_week_and_a_week_of_before(books: SqlBooks) -> None:
    asked = climates(books, MONDAY + timedelta(hours=12))
    assert not asked.week("tent").over
    assert heading(asked.week("tent")).endswith(", so far")
    empty = asked.week("tent", "2026-W20")
    assert (empty.shares, empty.spells, empty.changes) == ((), (), ())
    assert empty.holding == "No misting shows in the readings."


@pytest.mark.parametrize(
    ("chamber", "week", "error", "says"),
    [
        pytest.param("barn", "", UnknownNameError, "barn", id="no such chamber"),
        pytest.param("tent", "43", RefusedError, "such as 2026-W47", id="no week"),
        pytest.param("tent", "2026-W50", RefusedError, "has not begun", id="ahead"),
    ],
)
def test_what_can_not_be_answered(
    books: SqlBooks, chamber: str, week: str, error: type[Exception], says: str
) -> None:
    with pytest.raises(error, match=says):
        climates(books).week(chamber, week)
