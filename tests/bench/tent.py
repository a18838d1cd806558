"""How fast the tent lives: a simulated week, against as many bare exponentials."""

import math
import timeit

from chamberwatch.core.air.tent import RoomAir, TentSpec, live, state_of
from tests.bench.told import Told

STEP_S = 5.0
WEEK = 7 * 24 * 3600 // 5
ROOM = RoomAir(20.0, 50.0, 430.0)


def week_s(air_changes_per_h: float) -> float:
    """Return how long a week takes whose walls never dry. [s]."""
    spec = TentSpec(film_most_g=1e6)
    start = state_of(19.0, 90.0, 650.0, 1e6)
    return min(
        timeit.repeat(
            lambda: live(start, spec, ROOM, air_changes_per_h, STEP_S, WEEK), number=1, repeat=3
        )
    )


def bare_s() -> float:
    """Return how long as many calls of math.exp take in a plain loop. [s]."""

    def loop() -> None:
        exp = math.exp
        for _ in range(WEEK):
            exp(-0.3)

    return min(timeit.repeat(loop, number=1, repeat=5))


def tent(told: Told) -> None:
    """A week of water, heat and CO2 at 5 s, closed and with the front open."""
    bare = bare_s()
    for what, changes in (("closed", 0.7), ("open front", 5.0)):
        took = week_s(changes)
        told.add(
            f"a week of a tent at 5 s, {what}",
            f"{took:.2f} s",
            limit=f"{bare * 1e3:.1f} ms",
            ratio=took / bare,
            aim="< 1.5 s",
            met=took < 1.5,
            how=f"{took / WEEK * 1e6:.1f} us a step; limit: as many math.exp",
        )
