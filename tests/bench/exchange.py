"""How long a decay fit takes: an hour of CO2 every five seconds."""

import math
import random
import timeit

from chamberwatch.core.air.accuracy import DIGITAL
from chamberwatch.core.air.exchange import Inlet, fit
from tests.bench.told import Told


def hour() -> list[tuple[float, float]]:
    """Return a decay from 2500 to 500 ppm at 4 /h as a sensor with lag and noise shows it."""
    rng = random.Random(1)  # noqa: S311 - noise, no secret
    per_s, lag_s, points = 4.0 / 3600.0, 90.0, []
    for i in range(721):
        t = 5.0 * i
        left = math.exp(-per_s * t) - per_s * lag_s * math.exp(-t / lag_s)
        points.append((t, 500.0 + 2000.0 * left / (1.0 - per_s * lag_s) + rng.gauss(0.0, 5.0)))
    return points


def exchange(told: Told) -> None:
    """A decay fit, against the exponentials of its readings alone: those any fit must take."""
    points = hour()
    ours = min(
        timeit.repeat(
            lambda: fit(points, lag_s=90.0, accuracy=DIGITAL, inlet=Inlet(450.0, 30.0)),
            number=20,
            repeat=5,
        )
    )
    limit = min(
        timeit.repeat(lambda: [math.exp(-t / 900.0) for t, _ in points], number=20, repeat=5)
    )
    ms = ours / 20 * 1e3
    told.add(
        "decay fit",
        f"{ms:.1f} ms",
        limit=f"{limit / 20 * 1e3:.2f} ms",
        ratio=ours / limit,
        aim="< 5 ms",
        met=ms < 5,
        how="721 readings, one hour; limit: one exponential a reading",
    )
