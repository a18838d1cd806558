"""When what was learnt is forgotten: air that was to hold for hours, and twice did not."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Final

import pytest

from chamberwatch.core.air.figure import Figure, Origin
from chamberwatch.core.air.knowledge import assumed
from chamberwatch.core.air.tent import vapour_g_per_m3
from chamberwatch.core.watch.astray import LOOKED_AHEAD, Promise, Trust, should_hold
from chamberwatch.core.watch.ledger import Ledger, Minute
from tests.make import at

HOURS: Final = timedelta(hours=6)


def lived(trust: Trust, minutes: range, dry_from: float, deeds: Sequence[datetime] = ()) -> Trust:
    for number in minutes:
        trust = trust.passed(at(number), too_dry=number >= dry_from, deeds=deeds)
    return trust


def promised(failed: int = 0) -> Trust:
    return Trust(failed=failed).noted(at(0), HOURS)


@pytest.mark.parametrize(
    ("dry_from", "deeds", "failed"),
    [
        pytest.param(60, [], 2, id="a sixth of the time: broken"),
        pytest.param(115, [], 2, id="just within a third: broken"),
        pytest.param(125, [], 0, id="a third of the time: it held well enough"),
        pytest.param(60, [at(30)], 1, id="a venting explains it"),
        pytest.param(60, [at(0)], 1, id="done as it was noted"),
        pytest.param(60, [at(90)], 2, id="misted after it fell"),
        pytest.param(60, [at(-30)], 2, id="done before"),
    ],
)
def test_what_came_of_a_promise(dry_from: float, deeds: list[datetime], failed: int) -> None:
    trust = lived(promised(failed=1), range(1, 180), dry_from, deeds)
    assert (trust.promise, trust.failed) == (None, failed)
    assert trust.astray is (failed == 2)


def test_a_venting_that_is_found_late_explains_a_fall() -> None:
    fell = lived(promised(), range(1, 80), 60)
    assert fell.promise == Promise(at(0), HOURS, at(62))
    assert lived(fell, range(80, 120), 60, [at(55)]) == Trust(failed=0, below=60)


def test_noise_at_the_limit_is_no_fall() -> None:
    trust = promised()
    for number in range(1, 60):
        trust = trust.passed(at(number), too_dry=number % 3 != 0, deeds=[])
    assert trust.promise == Promise(at(0), HOURS)


def test_a_promise_that_was_kept_between_two_broken_ones_clears_it() -> None:
    trust = lived(promised(failed=1), range(1, 130), 1000)
    assert (trust.promise, trust.failed) == (None, 0)


def test_without_a_promise_only_the_dry_minutes_count() -> None:
    assert lived(Trust(failed=1), range(1, 60), 50) == Trust(failed=1, below=10)


@pytest.mark.parametrize(
    ("trust", "deeds", "free"),
    [
        pytest.param(Trust(), [], True, id="at rest"),
        pytest.param(Trust(), [at(-30), at(5)], True, id="done long ago"),
        pytest.param(Trust(), [at(-10)], False, id="done just now"),
        pytest.param(Trust(below=1), [], False, id="too dry"),
        pytest.param(promised(), [], False, id="one is open"),
    ],
)
def test_when_a_promise_can_be_noted(trust: Trust, deeds: list[datetime], *, free: bool) -> None:
    assert trust.free_at(at(0), deeds) is free


def test_what_is_to_hold_for_less_than_hours_is_no_promise() -> None:
    assert Trust().noted(at(0), timedelta(minutes=110)) == Trust()


# ------------------------------------------------------------ how long it should hold

ROOM_VAPOUR: Final = vapour_g_per_m3(20.0, 45.0)
KNOWN: Final = replace(assumed(0.5, 0.8), wet_area_m2=Figure(0.5, 0.4, 0.6, Origin.MEASURED, 3))


def minute(number: float, humidity_pct: float) -> Minute:
    return Minute(at(number), humidity_pct, 20.0, vapour_g_per_m3(20.0, humidity_pct), ROOM_VAPOUR)


def test_water_that_stands_holds_the_air() -> None:
    dry = should_hold(Ledger(), minute(0, 88.0), KNOWN, 80.0)
    wet = should_hold(Ledger(55.0), minute(0, 88.0), KNOWN, 80.0)
    assert timedelta(minutes=5) < dry < timedelta(minutes=30)
    assert wet == LOOKED_AHEAD


def test_air_that_falls_shows_that_no_water_stands() -> None:
    falling = tuple(minute(n, 88.0 - 0.35 * n) for n in range(6))
    holds = should_hold(Ledger(55.0, falling), falling[-1], KNOWN, 80.0)
    assert holds < timedelta(hours=1)
