"""Forecasts of limits in simulated tents: the whole service, somebody who mists when asked.

Leakage, spray, wet surface, crop and room are hidden. What was foretold is held against what came,
and who was told had forecasts behind them that came true.
"""

import multiprocessing
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from datetime import UTC, timedelta
from pathlib import Path

from chamberwatch.core.watch.foretold import (
    COUNTED,
    Foretold,
    Outcome,
    inside,
    right,
    track_record,
)
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


def test_limits_come_as_they_were_foretold(tmp_path: Path) -> None:
    spawning = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(2, mp_context=spawning) as pool:
        tents = list(pool.map(live_a_day, [tmp_path] * TENTS, range(200, 200 + TENTS)))
    print("\ntent | forecasts | counted | right within 10 min | between the times named | told")
    for seed, kept in enumerate(tents, 200):
        counted = [f for f in kept if f.outcome in COUNTED]
        print(
            f"{seed} | {len(kept):2d} | {len(counted):2d} | {sum(map(right, counted)):2d} | "
            f"{sum(map(inside, counted)):2d} | {sum(f.told for f in kept):2d}"
        )
    every = [f for kept in tents for f in kept]
    counted = [f for f in every if f.outcome in COUNTED]
    assert len(counted) >= 10
    assert sum(map(right, counted)) >= 0.6 * len(counted)
    assert not any(f.outcome is Outcome.UNKNOWN for f in every)
    for kept in tents:
        for told in (f for f in kept if f.told):
            before = [f for f in kept if f.quantity is told.quantity and f.at < told.at]
            assert track_record(before, told.at).good
