"""Mistings that hold ever shorter, and what else may explain it."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Final

import pytest

from chamberwatch.core.watch.refilling import Dwindled, Held, dwindled
from tests.make import NOON

NOW: Final = NOON
LIKE: Final = Held(NOON, timedelta(), 12.0, 90.0, 7.5)


def held(*minutes: float, each_h: float = 6.0, like: Held = LIKE) -> list[Held]:
    """Return mistings that held so long, the last an hour ago."""
    count = len(minutes)
    return [
        replace(
            like,
            at=NOW - timedelta(hours=1.0 + each_h * (count - 1 - k)),
            held=timedelta(minutes=m),
        )
        for k, m in enumerate(minutes)
    ]


def changed(mistings: Sequence[Held], last: Held) -> list[Held]:
    """Return the mistings, the last three in another way."""
    late = [replace(last, at=m.at, held=m.held) for m in mistings[-3:]]
    return [*mistings[:-3], *late]


FALLEN: Final = held(40, 38, 44, 36, 41, 40, 12, 11, 13)


@pytest.mark.parametrize(
    ("mistings", "expected"),
    [
        pytest.param([], None, id="none yet"),
        pytest.param(FALLEN, (12, 40), id="40 min before, 12 now"),
        pytest.param(held(40, 38, 44, 36, 41, 40, 38, 11, 13), None, id="one of three held"),
        pytest.param(held(40, 38, 44, 36, 12, 11, 13), None, id="too few before"),
        pytest.param(held(300, 240, 280, 310, 260, 60, 50, 70), None, id="an hour needs no word"),
        pytest.param(held(30, 25, 28, 31, 26, 19, 18, 17), None, id="not by half"),
        pytest.param(held(9, 200, 9, 210, 190, 220, 12, 11, 13), (12, 195), id="scattered before"),
        pytest.param(held(*[90] * 5, *[40] * 10, 12, 11, 13), (12, 40), id="the last ten count"),
        pytest.param(held(12, 11, 13, 12, 11, 40, 41, 42), None, id="longer now"),
        pytest.param(held(40, 38, 44, 36, 41, 40, 12, 11, 13, each_h=30), None, id="days apart"),
        pytest.param(changed(FALLEN, replace(LIKE, into_air_g=3.0)), None, id="a smaller spray"),
        pytest.param(changed(FALLEN, replace(LIKE, into_air_g=50.0)), None, id="a larger one"),
        pytest.param(changed(FALLEN, replace(LIKE, into_air_g=8.0)), (12, 40), id="much the same"),
        pytest.param(changed(FALLEN, replace(LIKE, into_air_g=None)), (12, 40), id="not said"),
        pytest.param(changed(FALLEN, replace(LIKE, reached_pct=83.0)), None, id="not as humid"),
        pytest.param(
            changed(FALLEN, replace(LIKE, reached_pct=None)), (12, 40), id="not measured"
        ),
        pytest.param(changed(FALLEN, replace(LIKE, room_g_per_m3=4.0)), None, id="a drier room"),
        pytest.param(
            changed(FALLEN, replace(LIKE, room_g_per_m3=11.0)), (12, 40), id="a damper room"
        ),
        pytest.param(changed(FALLEN, replace(LIKE, room_g_per_m3=None)), (12, 40), id="no room"),
    ],
)
def test_dwindled(mistings: Sequence[Held], expected: tuple[float, float] | None) -> None:
    found = dwindled(mistings, None, NOW)
    assert found == (
        None if expected is None else Dwindled(*(timedelta(minutes=m) for m in expected))
    )


@pytest.mark.parametrize(
    ("refilled", "still"),
    [
        pytest.param(NOW - timedelta(hours=30), True, id="long before"),
        pytest.param(NOW - timedelta(hours=10), False, id="between the last three"),
        pytest.param(NOW - timedelta(minutes=5), False, id="just now"),
    ],
)
def test_refilled(refilled: datetime, still: bool) -> None:
    assert (dwindled(FALLEN, refilled, NOW) is not None) is still


def test_what_was_three_weeks_ago_says_nothing() -> None:
    old = [replace(m, at=m.at - timedelta(days=20)) for m in FALLEN[:6]]
    assert dwindled([*old, *FALLEN[6:]], None, NOW) is None
