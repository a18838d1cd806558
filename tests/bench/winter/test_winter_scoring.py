"""What a winter is judged by, on made-up minutes."""

from collections.abc import Sequence

import pytest

from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import Call
from chamberwatch.service.books import OutKind
from tests.bench.winter.baselines import deadband, raw
from tests.bench.winter.episodes import (
    DAY_MIN,
    Message,
    Truth,
    episodes,
    harms,
    merged,
    runs,
)
from tests.bench.winter.scoring import (
    Score,
    chatter,
    counted,
    crossings,
    early,
    is_false,
    lateness,
    score,
    told_harm,
)

MINUTES = 600


def truth(
    humidity: Sequence[tuple[int, int, float]] = (),
    co2: Sequence[tuple[int, int, float]] = (),
    fault: Sequence[tuple[int, int, int]] = (),
    minutes: int = MINUTES,
) -> Truth:
    """Return good air but for these stretches: from, to, value."""
    lines = [[88.0] * minutes, [700.0] * minutes, [19.0] * minutes]
    for line, stretches in zip(lines, (humidity, co2), strict=False):
        for start, end, value in stretches:
            line[start:end] = [value] * (end - start)
    faults = [0] * minutes
    for start, end, kind in fault:
        faults[start:end] = [kind] * (end - start)
    judged = (Quantity.HUMIDITY, Quantity.CO2, Quantity.TEMPERATURE)
    return Truth(dict(zip(judged, lines, strict=True)), faults)


def test_runs_and_their_merging() -> None:
    assert runs([True, True, False, True]) == [(0, 2), (3, 4)]
    assert runs([]) == []
    assert merged([(20, 30), (0, 5), (9, 12)], 5) == [(0, 12), (20, 30)]


@pytest.mark.parametrize(
    ("air", "expected"),
    [
        pytest.param(truth(), [], id="good air"),
        pytest.param(truth(humidity=[(100, 103, 79.0)]), [], id="ends within the delay"),
        pytest.param(
            truth(humidity=[(100, 104, 79.0)]), [(100, 104, Call.MIST, 103)], id="dry for longer"
        ),
        pytest.param(
            truth(humidity=[(100, 110, 79.0), (115, 125, 79.0)]),
            [(100, 125, Call.MIST, 103)],
            id="twice within ten minutes is once",
        ),
        pytest.param(truth(humidity=[(100, 155, 97.0)]), [], id="damp for less than an hour"),
        pytest.param(
            truth(humidity=[(100, 165, 97.0), (200, 300, 97.0)]),
            [(100, 300, Call.DRY_OFF, 160)],
            id="damp again within the hour is once",
        ),
        pytest.param(
            truth(humidity=[(100, 130, 79.0)], co2=[(110, 150, 1200.0)]),
            [(100, 130, Call.MIST, 103)],
            id="dry and stale together is once",
        ),
        pytest.param(
            truth(humidity=[(100, 130, 79.0)], co2=[(120, 150, 1200.0)]),
            [(100, 130, Call.MIST, 103), (120, 150, Call.VENT, 125)],
            id="stale later is another",
        ),
        pytest.param(
            truth(fault=[(50, 65, 1), (100, 130, 1), (200, 225, 2), (300, 340, 2)]),
            [(100, 130, Call.CHECK_SENSOR, 115), (300, 340, Call.CHECK_SENSOR, 330)],
            id="sensors at fault for long enough",
        ),
    ],
)
def test_what_needed_a_hand(air: Truth, expected: list[tuple[int, int, Call, int]]) -> None:
    assert [(e.start, e.end, e.call, e.due) for e in episodes(air)] == expected


@pytest.mark.parametrize(
    ("air", "expected"),
    [
        pytest.param(truth(humidity=[(100, 200, 69.0)]), [], id="within the accuracy"),
        pytest.param(truth(humidity=[(100, 110, 60.0)]), [], id="ten minutes are none"),
        pytest.param(
            truth(humidity=[(80, 100, 75.0), (100, 111, 60.0)]),
            [(100, 111, 80, 110, True)],
            id="eleven are",
        ),
        pytest.param(truth(co2=[(100, 115, 3000.0)]), [], id="CO2 has a longer delay"),
        pytest.param(
            truth(humidity=[(100, 150, 60.0)], fault=[(90, 140, 2)]),
            [(100, 150, 100, 110, False)],
            id="hidden by a wet sensor",
        ),
    ],
)
def test_harm(air: Truth, expected: list[tuple[int, int, int, int, bool]]) -> None:
    assert [(h.start, h.end, h.since, h.due, h.observable) for h in harms(air)] == expected


@pytest.mark.parametrize(
    ("message", "told"),
    [
        pytest.param(Message(113, Call.MIST, grave=True), True, id="3 min after the delay"),
        pytest.param(Message(114, Call.MIST, grave=True), False, id="later"),
        pytest.param(Message(105, Call.MIST), False, id="not said to be grave"),
        pytest.param(Message(105, Call.VENT, grave=True), True, id="vent, then mist"),
        pytest.param(Message(105, Call.COOL, grave=True), False, id="about something else"),
        pytest.param(Message(79, Call.MIST, grave=True), False, id="before the air was out"),
        pytest.param(Message(1, None, kind=OutKind.FORECAST), True, id="foretold at bedtime"),
        pytest.param(Message(101, None, kind=OutKind.FORECAST), False, id="foretold too late"),
        pytest.param(
            Message(1, None, kind=OutKind.FORECAST, until=60), False, id="foretold of other hours"
        ),
    ],
)
def test_harm_is_told_in_time(message: Message, told: bool) -> None:
    (harm,) = harms(truth(humidity=[(80, 100, 75.0), (100, 200, 60.0)]))
    assert told_harm(harm, [message]) is told


@pytest.mark.parametrize(
    ("message", "false"),
    [
        pytest.param(Message(100, Call.MIST), False, id="within the accuracy"),
        pytest.param(Message(300, Call.MIST), True, id="well inside"),
        pytest.param(Message(300, Call.DRY_OFF, surface=True), None, id="of surfaces"),
        pytest.param(Message(300, None, kind=OutKind.FORECAST), None, id="of the night"),
        pytest.param(Message(300, Call.TODAY), None, id="of the crop"),
        pytest.param(Message(300, Call.CHECK_SENSOR), True, id="of a sensor that is well"),
        pytest.param(Message(430, Call.CHECK_SENSOR), False, id="of one that was not"),
    ],
)
def test_false_messages(message: Message, false: bool | None) -> None:
    air = truth(humidity=[(90, 120, 81.9)], fault=[(380, 410, 1)])
    assert is_false(message, air) is false


def test_chatter_is_the_same_again_too_soon() -> None:
    again, graver = Message(29, Call.MIST), Message(40, Call.MIST, grave=True)
    other, later = Message(41, Call.VENT), Message(90, Call.MIST)
    folded = Message(91, Call.MIST, folded=True)
    messages = [Message(0, Call.MIST), again, graver, other, later, folded]
    assert chatter(messages) == [again]


def test_what_was_folded_and_the_summary_ring_no_phone() -> None:
    rings = Message(3, Call.MIST)
    summary = Message(2, None, kind=OutKind.SUMMARY)
    assert counted([Message(1, Call.MIST, folded=True), summary, rings]) == [rings]


def test_lateness_counts_from_the_end_of_the_delay() -> None:
    air = truth(humidity=[(80, 100, 75.0), (100, 200, 60.0)])
    messages = [Message(84, Call.MIST), Message(111, Call.MIST, grave=True)]
    assert lateness(episodes(air), messages) == [1]
    assert lateness(harms(air), messages) == [1]
    assert lateness(harms(air), messages[:1]) == []


@pytest.mark.parametrize(
    ("foretold", "expected"),
    [
        pytest.param(110, (True, 60), id="ten minutes off"),
        pytest.param(111, (False, 71), id="eleven"),
        pytest.param(92, (True, 60), id="too soon by eight"),
    ],
)
def test_early_notices(foretold: int, expected: tuple[bool, int]) -> None:
    left = crossings(truth(humidity=[(100, 130, 79.0)]))
    assert left == [100]
    notice = Message(40, Call.MIST, kind=OutKind.EARLY, foretold=foretold)
    assert early([notice, Message(41, Call.MIST)], left) == [expected]


def test_a_day_adds_up() -> None:
    air = truth(
        humidity=[(80, 100, 75.0), (100, 200, 60.0)], fault=[(400, 450, 1)], minutes=DAY_MIN
    )
    messages = [
        Message(84, Call.MIST),
        Message(111, Call.MIST, grave=True),
        Message(405, Call.CHECK_SENSOR),
        Message(900, Call.VENT),
    ]
    day = score(air, messages)
    assert (day.days, day.episodes, day.messages) == (1, 2, 4)
    assert (day.harm, day.harm_told, day.hidden_harm) == (1, 1, 0)
    assert (day.silences, day.silences_told, day.wets) == (1, 1, 0)
    assert (day.false, day.checkable, day.chatter) == (1, 4, 0)
    assert (day.calm_days, day.calm_days_kept) == (1, 0)
    two = Score()
    two.add(day)
    two.add(day)
    assert (two.messages, two.late_min, two.by_call[Call.MIST]) == (8, [1, 1], 4)


def test_the_plain_thresholds_on_the_same_readings() -> None:
    """Crossings outwards: each one, or only after it was inside by the deadband of 2 %."""
    humidity = [81.0, 79.9, 80.1, 79.9, None, 82.0, 79.0, 69.0]
    readings: dict[Quantity, Sequence[float | None]] = {Quantity.HUMIDITY: humidity}
    every = raw(readings)
    assert [(m.minute, m.grave) for m in every] == [(1, False), (3, False), (6, False), (7, True)]
    assert [m.minute for m in deadband(readings)] == [1, 6, 7]
    assert {m.call for m in every} == {Call.MIST}
