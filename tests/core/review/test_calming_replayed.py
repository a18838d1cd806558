"""Each suggestion held against the rules themselves: the same air, judged with what it names."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import event, given, settings
from hypothesis import strategies as st

from chamberwatch.core.growing.band import Band
from chamberwatch.core.growing.patience import PATIENCE, Patience
from chamberwatch.core.review.calming import (
    Patiences,
    Setting,
    Suggestion,
    delays,
    worst,
)
from chamberwatch.core.review.episode import Episode
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.core.watch.reminder import Call, Event
from chamberwatch.core.watch.rule import Level, Rule, Side, Watched, step
from tests.core.review.weeks import MIST, MONDAY, Told, mon

USUAL = PATIENCE[Quantity.HUMIDITY]
LOW, HIGH = 80.0, 95.0
MINUTE = timedelta(minutes=1)

AIR = st.lists(
    st.tuples(
        st.sampled_from([76.0, 78.0, 79.5, 80.5, 81.5, 82.0, 82.5, 83.5, 85.5, 90.0]),
        st.integers(1, 14),
    ),
    min_size=4,
    max_size=60,
)


def readings(air: Sequence[tuple[float, int]]) -> list[Reading]:
    """Return one reading a minute."""
    values = [value for value, minutes in air for _ in range(minutes)]
    return [Reading(mon(n), "middle", Quantity.HUMIDITY, v) for n, v in enumerate(values)]


def turns(heard: Sequence[Reading], patience: Patience) -> list[tuple[Event, float]]:
    """Return when the rule of the low limit turned, at which minute."""
    rule = Rule(
        Side.LOW, Level.BAND, LOW, patience.deadband, patience.on_delay, patience.off_delay
    )
    watched = Watched("middle", Quantity.HUMIDITY, Side.LOW, Level.BAND)
    found, previous = [], None
    for reading in heard:
        after = step(watched, rule, reading, previous)
        if after.active != watched.active:
            turned = Event.RAISED if after.active else Event.RETURNED
            found.append((turned, (reading.time - MONDAY) / MINUTE))
        watched, previous = after, reading.time
    return found


def suggestion_for(heard: Sequence[Reading]) -> Suggestion | None:
    told = Told()
    for turned, minutes in turns(heard, USUAL):
        told.move(MIST, turned, minutes)
        if turned is Event.RAISED:
            told.tell(MIST, minutes, minutes)

    def inside(first: Episode, second: Episode) -> float | None:
        assert first.ended is not None
        between = [r.value for r in heard if first.ended <= r.time < second.raised]
        return max(between, default=LOW) - LOW

    patient = {("tent", Call.MIST): delays(USUAL, Band(LOW, HIGH), Call.MIST)}
    found = worst(told.record(), Patiences(patient, {}), inside)
    return found[0].suggestion if found else None


def changed(option: Suggestion) -> Patience:
    match option.setting:
        case Setting.DEADBAND:
            return replace(USUAL, deadband=option.value)
        case Setting.OFF_DELAY:
            return replace(USUAL, off_delay=option.value * MINUTE)
        case _:
            return replace(USUAL, on_delay=option.value * MINUTE)


def raises(heard: Sequence[Reading], patience: Patience) -> int:
    return sum(turned is Event.RAISED for turned, _ in turns(heard, patience))


@settings(max_examples=300, deadline=None)
@given(AIR)
def test_as_many_raises_are_spared_as_it_says(air: list[tuple[float, int]]) -> None:
    heard = readings(air)
    option = suggestion_for(heard)
    event("none" if option is None else option.setting.value)
    if option is not None:
        before = raises(heard, USUAL)
        assert before == option.raises
        assert before - raises(heard, changed(option)) >= option.spared >= 2


@pytest.mark.parametrize(
    ("air", "setting", "spared"),
    [
        pytest.param([(78.0, 5), (90.0, 60)] * 6, Setting.ON_DELAY, 6, id="short and far apart"),
        pytest.param([(78.0, 40), (90.0, 7)] * 6, Setting.OFF_DELAY, 5, id="back for a moment"),
        pytest.param([(78.0, 40), (82.5, 50)] * 6, Setting.DEADBAND, 5, id="hardly back"),
    ],
)
def test_what_it_says_is_what_comes(
    air: list[tuple[float, int]], setting: Setting, spared: int
) -> None:
    heard = readings(air)
    option = suggestion_for(heard)
    assert option is not None
    assert (option.setting, option.spared) == (setting, spared)
    assert raises(heard, USUAL) - raises(heard, changed(option)) == spared
