"""One cause, one message: what is joined, what stands open, what is silent, what is told again."""

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from chamberwatch.core.watch.joint import Joint, joined, related
from chamberwatch.core.watch.opened import Opening, opening
from chamberwatch.core.watch.realarm import LONGEST, realarm_after, realarm_due
from chamberwatch.core.watch.reminder import Call, Priority, Reminder, State
from chamberwatch.core.watch.silence import EXTRA_S, Silence, silence
from tests.make import at

MIN = timedelta(minutes=1)


@pytest.mark.parametrize(
    ("pressing", "barred", "expected"),
    [
        ([], [], ()),
        ([Call.MIST], [], (Joint(Call.MIST),)),
        ([Call.MIST, Call.VENT], [], (Joint(Call.VENT, (Call.MIST,)),)),
        ([Call.MIST, Call.VENT], [Call.VENT], (Joint(Call.MIST), Joint(Call.VENT))),
        ([Call.VENT, Call.DRY_OFF], [], (Joint(Call.VENT, (Call.DRY_OFF,)),)),
        ([Call.WARM, Call.DRY_OFF], [], (Joint(Call.WARM, (Call.DRY_OFF,)),)),
        ([Call.COOL, Call.MIST], [], (Joint(Call.COOL, (Call.MIST,)),)),
        (
            [Call.COOL, Call.VENT, Call.MIST],
            [],
            (Joint(Call.COOL, (Call.VENT, Call.MIST)),),
        ),
        (
            [Call.WARM, Call.VENT, Call.MIST],
            [],
            (Joint(Call.VENT, (Call.MIST,)), Joint(Call.WARM)),
        ),
        ([Call.AIR_ROOM], [], (Joint(Call.AIR_ROOM),)),
    ],
)
def test_joined(pressing: list[Call], barred: list[Call], expected: tuple[Joint, ...]) -> None:
    found = joined(pressing, barred)
    assert found == expected
    # Nothing is lost and nothing is said twice.
    assert sorted(call for each in found for call in each.calls) == sorted(pressing)


def test_related() -> None:
    assert related(Call.MIST) == {Call.COOL, Call.VENT, Call.DRY_OFF}
    assert related(Call.WARM) == {Call.DRY_OFF}
    assert related(Call.AIR_ROOM) == frozenset()


def points(*values: float, start: float = 0.0) -> list[tuple[datetime, float]]:
    return [(at(start + minute), value) for minute, value in enumerate(values)]


@pytest.mark.parametrize(
    ("humidity", "co2", "expected"),
    [
        pytest.param(
            points(90, 89, 82, 76, 72), points(900, 890, 700, 560, 500),
            Opening(18.0, 400.0, at(0)), id="both fall together",
        ),
        pytest.param(
            points(88, 90, 84, 78, 74), points(800, 800, 800, 640, 520),
            Opening(16.0, 280.0, at(1)), id="the CO2 sensor follows behind",
        ),
        pytest.param(points(90, 89, 88, 87, 86), points(900, 700, 600, 550, 500), None, id="damp"),
        pytest.param(points(90, 84, 80, 76, 72), points(900, 905, 899, 900, 899), None, id="dry"),
        pytest.param(points(90, 84, 80, 76, 72), points(480, 470, 460, 450, 440), None,
                     id="the CO2 was the room's already"),
        pytest.param(points(90, 82, 72, 76, 80), points(900, 700, 500, 505, 510), None,
                     id="closed by now"),
        pytest.param(points(90, 82, 78, 74, 72), points(900, 700, 500, 600, 700), None,
                     id="the CO2 rises again"),
        pytest.param(
            points(90, 89, 88, 80, 76, 72, 70, 69), points(900, 800, 700, 600, 500, 500, 500, 499,
            start=-6.0), None, id="at other times",
        ),
        pytest.param(points(90, 72), points(900, 800, 500), None, id="too few of one"),
        pytest.param(points(90, 80, 72), points(900, 500), None, id="too few of the other"),
    ],
)  # fmt: skip
def test_opening(
    humidity: list[tuple[datetime, float]],
    co2: list[tuple[datetime, float]],
    expected: Opening | None,
) -> None:
    assert opening(humidity, co2, 430.0) == expected


LIMITS = {"a": 300.0, "b": 300.0, "c": 1200.0}


@pytest.mark.parametrize(
    ("quiet", "told", "expected"),
    [
        pytest.param({"a": 10, "b": 20, "c": 30}, [], Silence(frozenset()), id="all are heard"),
        pytest.param({"a": 400, "b": 20, "c": 30}, [], Silence(frozenset("a")), id="one"),
        pytest.param({"a": 400, "b": 410, "c": 30}, [], Silence(frozenset("ab")), id="two"),
        pytest.param(
            {"a": 301, "b": 310, "c": 330}, [], Silence(frozenset()), id="nothing at all: wait"
        ),
        pytest.param(
            {"a": 301, "b": 310, "c": 330},
            ["a"],
            Silence(frozenset("a")),
            id="what is known stays",
        ),
        pytest.param(
            {"a": 301, "b": 200, "c": 250},
            [],
            Silence(frozenset()),
            id="last heard a little apart",
        ),
        pytest.param(
            {"a": 301, "b": 200, "c": 170}, [], Silence(frozenset("a")), id="heard well after it"
        ),
        pytest.param(
            {"a": 301 + EXTRA_S, "b": 610, "c": 640},
            [],
            Silence(frozenset("ab"), everything=True),
            id="nothing at all for long enough",
        ),
        pytest.param(
            {"a": 1300, "b": 1300, "c": 1300},
            [],
            Silence(frozenset("abc"), everything=True),
            id="all of them are due",
        ),
        pytest.param({"a": 400}, [], Silence(frozenset("a")), id="a house of one sensor"),
        pytest.param({}, [], Silence(frozenset()), id="a house of none"),
    ],
)
def test_silence(quiet: dict[str, float], told: list[str], expected: Silence) -> None:
    assert silence(quiet, LIMITS, told) == expected


@pytest.mark.parametrize(
    ("repeats", "after"),
    [(0, 30 * MIN), (1, 120 * MIN), (2, 480 * MIN), (3, LONGEST), (10_000, LONGEST)],
)
def test_it_is_told_again_ever_more_slowly(repeats: int, after: timedelta) -> None:
    assert realarm_after(30 * MIN, repeats) == after


def test_a_longer_first_time_is_kept_to() -> None:
    assert realarm_after(LONGEST * 2, 0) == LONGEST * 2


HARM = Reminder(
    1, "tent", Call.MIST, state=State.UNACKNOWLEDGED, active=True, priority=Priority.HIGH,
    moved=at(0), told=at(0),
)  # fmt: skip


@pytest.mark.parametrize(
    ("reminder", "minutes", "due"),
    [
        pytest.param(HARM, 29, False, id="not yet"),
        pytest.param(HARM, 30, True, id="now"),
        pytest.param(replace(HARM, repeats=1), 119, False, id="the second time not yet"),
        pytest.param(replace(HARM, repeats=1), 120, True, id="the second time"),
        pytest.param(
            replace(HARM, state=State.ACKNOWLEDGED, moved=at(20)),
            49,
            False,
            id="counted from seen",
        ),
        pytest.param(replace(HARM, state=State.ACKNOWLEDGED, moved=at(20)), 140, True, id="seen"),
        pytest.param(replace(HARM, priority=Priority.MEDIUM), 90, False, id="not grave"),
        pytest.param(replace(HARM, told=None), 90, False, id="not told yet"),
        pytest.param(replace(HARM, moved=None), 30, True, id="never moved"),
        pytest.param(replace(HARM, active=False, state=State.RETURNED), 90, False, id="over"),
        pytest.param(replace(HARM, state=State.SHELVED), 90, False, id="shelved"),
    ],
)
def test_told_again_as_opc_10000_9_has_it(reminder: Reminder, minutes: float, due: bool) -> None:
    # OPC 10000-9 annex B.1.5: after the re-alarm time the alarm is unacknowledged again.
    assert realarm_due(reminder, 30 * MIN, at(minutes)) is due
    assert not realarm_due(reminder, None, at(minutes))
