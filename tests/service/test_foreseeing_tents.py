"""Notices in simulated tents: the whole service, somebody who mists when asked, a day each.

Leakage, spray, wet surface, crop and room are hidden. What is told before a limit must come about.
"""

import multiprocessing
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from datetime import UTC, timedelta
from pathlib import Path

from chamberwatch.core.watch.foretold import COUNTED, Foretold, Outcome, inside, right
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.service.foreseeing import Foreseeing, ForeseeingParts
from tests.service.tents import START, Tent

TENTS = 4
HOURS = 20.0


@dataclass
class Foreseen(Tent):
    """A tent in which somebody wants to know half an hour before."""

    def _build(self) -> None:
        super()._build()
        chambers = dict(self.house.chambers)
        chambers["tent"] = replace(chambers["tent"], early=timedelta(minutes=30))
        self.foreseeing = Foreseeing(
            ForeseeingParts(
                self.books, self.clock, replace(self.house, chambers=chambers), self.board,
                ("phone",), UTC, self.rounds._p.wake_delivery,
            )
        )  # fmt: skip

    def _look_back(self) -> None:
        super()._look_back()
        self.foreseeing.look()


def live_a_day(folder: Path, seed: int) -> list[Foretold]:
    """Live a day with one tent; run in a process of its own."""
    tent = Foreseen(folder, seed)
    tent.lived(HOURS)
    with tent.books.read() as book:
        kept = book.foretold.recent("tent", START)
    tent.books.close()
    return list(kept)


def share(found: list[bool]) -> float:
    return sum(found) / len(found)


def test_what_is_told_before_a_limit_comes_about(tmp_path: Path) -> None:
    spawning = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(2, mp_context=spawning) as pool:
        tents = list(pool.map(live_a_day, [tmp_path] * TENTS, range(200, 200 + TENTS)))
    print("\ntent | forecasts | counted | right within 10 min | told, of these right")
    for seed, kept in enumerate(tents, 200):
        counted = [f for f in kept if f.outcome in COUNTED]
        told = [f for f in counted if f.told]
        print(
            f"{seed} | {len(kept):3d} | {len(counted):3d} | {sum(map(right, counted)):3d} | "
            f"{len(told):3d}, {sum(map(right, told)):3d}"
        )
    every = [f for kept in tents for f in kept]
    counted = [f for f in every if f.outcome in COUNTED]
    dry = [f for f in counted if f.quantity is Quantity.HUMIDITY]
    told = [f for f in counted if f.told]
    print(
        f"humidity: right {share([right(f) for f in dry]):.0%}, inside "
        f"{share([inside(f) for f in dry]):.0%} of {len(dry)}; all: right "
        f"{share([right(f) for f in counted]):.0%} of {len(counted)}; told: right "
        f"{share([right(f) for f in told]):.0%} of {len(told)}"
    )
    assert len(dry) >= 20
    assert len(told) >= 10
    assert share([right(f) for f in counted]) >= 0.7
    assert share([right(f) for f in told]) >= 0.75
    assert share([inside(f) for f in counted]) >= 0.7
    assert not any(f.outcome is Outcome.UNKNOWN for f in every)
