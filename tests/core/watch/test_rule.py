"""Delays and deadbands, on the time of the readings.

On-delay, off-delay and deadband behave as IEC 62682 / ANSI/ISA-18.2 describe them (as summarised
in OPC 10000-9, annex B); the numbers are common practice.
"""

from collections.abc import Sequence
from dataclasses import replace

import pytest

from chamberwatch.core.growing.band import HOME_BANDS, Band, Stage
from chamberwatch.core.growing.patience import PATIENCE
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.core.watch.rule import Level, Rule, Side, Watched, rules, step
from tests.make import NOON, at

HUMIDITY_BAND = HOME_BANDS[Stage.FRUITING]["humidity"]


def rule_of(side: Side, level: Level, quantity: Quantity = Quantity.HUMIDITY) -> Rule:
    band = HOME_BANDS[Stage.FRUITING][quantity.value]
    made = rules(band, PATIENCE[quantity])
    return next(r for r in made if (r.side, r.level) == (side, level))


def walk(rule: Rule, points: Sequence[tuple[float, float]]) -> list[bool]:
    """Take (minute, value) points one by one; return `active` after each."""
    watched = Watched("middle", Quantity.HUMIDITY, rule.side, rule.level)
    previous, seen = None, []
    for minute, value in points:
        reading = Reading(at(minute), "middle", Quantity.HUMIDITY, value)
        watched = step(watched, rule, reading, previous)
        previous = reading.time
        seen.append(watched.active)
    return seen


@pytest.mark.parametrize(
    ("points", "active"),
    [
        pytest.param([(0, 79), (1, 79), (2, 79)], [False] * 3, id="not yet"),
        pytest.param([(0, 79), (1, 79), (2, 79), (3, 79)], [False] * 3 + [True], id="on-delay"),
        pytest.param([(0, 79), (2, 80), (3, 79), (5, 79)], [False] * 4, id="inside starts anew"),
        pytest.param(
            [(0, 79), (3, 79), (4, 81), (9, 81)],
            [False, True, True, True],
            id="inside the deadband is not back",
        ),
        pytest.param(
            [(0, 79), (3, 79), (4, 82), (5, 82), (6, 82)],
            [False, True, True, True, False],
            id="off-delay",
        ),
        pytest.param(
            [(0, 79), (3, 79), (4, 82), (5, 81), (6, 82), (7, 82)],
            [False, True, True, True, True, True],
            id="off-delay starts anew",
        ),
        pytest.param(
            [(0, 79), (11, 79), (12, 79), (14, 79)],
            [False, False, False, True],
            id="a gap does not fulfil a delay",
        ),
        pytest.param(
            [(0, 79), (2, 79), (32, 79), (33, 79)],
            [False, False, False, True],
            id="nor does it undo one: its time is not counted",
        ),
        pytest.param(
            [(0, 79), (3, 79), (4, 83), (5, 83), (65, 83), (66, 83)],
            [False, True, True, True, True, False],
            id="the same of the off-delay",
        ),
        pytest.param(
            [(0, 79), (3, 79), (60, 79)],
            [False, True, True],
            id="a gap does not end what is active",
        ),
        pytest.param([(0, 79), (10, 79)], [False, True], id="ten minutes are no gap"),
    ],
)
def test_low_humidity(points: list[tuple[float, float]], active: list[bool]) -> None:
    assert walk(rule_of(Side.LOW, Level.BAND), points) == active


def test_high_humidity_waits_an_hour() -> None:
    rule = rule_of(Side.HIGH, Level.BAND)
    points = [(minute, 97.0) for minute in range(0, 61, 5)]
    assert walk(rule, points) == [False] * 12 + [True]


def test_harm_waits_longer_than_the_band() -> None:
    rule = rule_of(Side.LOW, Level.HARM)
    assert rule.limit == 70.0
    assert walk(rule, [(0, 60), (5, 60), (9.9, 60), (10, 60)]) == [False, False, False, True]


def test_high_side_returns_below_the_deadband() -> None:
    rule = rule_of(Side.HIGH, Level.BAND, Quantity.CO2)
    assert rule.outside(1001.0)
    assert not rule.outside(1000.0)
    assert not rule.back(926.0)
    assert rule.back(925.0)


@pytest.mark.parametrize(
    ("quantity", "band", "expected"),
    [
        pytest.param(
            Quantity.HUMIDITY,
            HUMIDITY_BAND,
            [("low", "band", 80.0), ("high", "band", 95.0), ("low", "harm", 70.0)],
            id="fruiting humidity",
        ),
        pytest.param(
            Quantity.CO2,
            Band(None, 1000.0, None, 2000.0),
            [("high", "band", 1000.0), ("high", "harm", 2000.0)],
            id="co2",
        ),
    ],
)
def test_rules_of_a_band(
    quantity: Quantity, band: Band, expected: list[tuple[str, str, float]]
) -> None:
    assert [(r.side, r.level, r.limit) for r in rules(band, PATIENCE[quantity])] == expected


def test_nothing_new_leaves_the_rule_as_it_was() -> None:
    rule = rule_of(Side.LOW, Level.BAND)
    watched = Watched("middle", Quantity.HUMIDITY, Side.LOW, Level.BAND)
    reading = Reading(at(0), "middle", Quantity.HUMIDITY, 90.0)
    assert step(watched, rule, reading, None) is watched


def test_what_tells_a_rule_on_a_sensor_from_the_others() -> None:
    one = Watched("middle", Quantity.HUMIDITY, Side.LOW, Level.BAND)
    assert one.key == replace(one, active=True, turning_since=NOON).key
    assert one.key != replace(one, level=Level.HARM).key
