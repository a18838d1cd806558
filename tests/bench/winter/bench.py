"""The proof: simulated winters through the real engine, held against plain thresholds.

    python -m tests.bench winter                            20 seeds, 90 days, two processes
    python -m tests.bench winter --seeds 1:4 --days 20      fewer
    python -m tests.bench winter --seeds 1:4 --each         with a line for each seed
    python -m tests.bench winter --seeds 3 --days 12 --day 11   what happened on one day

What counts as what is said in `scoring`; what is drawn, in `air` and `grower`. The same seeds
lead to the same figures. Tuning is done on seeds 1 to 20; those above 1000 are for judging.
"""

import argparse
import logging
import multiprocessing
import statistics
import time
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from typing import Final

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn
from rich.table import Table

from tests.bench.winter.engine import SEARCH_EVERY_MIN
from tests.bench.winter.scoring import (
    Score,
)
from tests.bench.winter.season import live
from tests.bench.winter.story import told_day

PROCESSES: Final = 2
SEEDS: Final = "1:20"
DAYS: Final = 90


@dataclass
class Three:
    """Scores of the engine, of the raw threshold, and of the deadband alone."""

    engine: Score = field(default_factory=Score)
    raw: Score = field(default_factory=Score)
    deadband: Score = field(default_factory=Score)

    def add(self, other: "Three") -> None:
        """Take another's counts in."""
        self.engine.add(other.engine)
        self.raw.add(other.raw)
        self.deadband.add(other.deadband)

    def all(self) -> tuple[Score, Score, Score]:
        """Return them in the order of the columns."""
        return self.engine, self.raw, self.deadband


def winter(given: Sequence[str]) -> None:
    """Live the winters that were asked for, and print what is reached."""
    asked = _asked(given)
    if asked.day is not None:
        season = live(asked.seeds[0], asked.days)
        Console(soft_wrap=True).print("\n".join(told_day(season, asked.day)), highlight=False)
        return
    console, total = Console(), Three()
    began, cpu_s = time.monotonic(), 0.0
    for seed, three, took_s in _lived(asked.seeds, asked.days, console):
        total.add(three)
        cpu_s += took_s
        if asked.each:
            console.print(_line(seed, three), highlight=False, soft_wrap=True)
    took_s = time.monotonic() - began
    console.print(_table(total))
    console.print(_by_call(total.engine))
    console.print(_how(len(asked.seeds), asked.days, took_s, cpu_s), highlight=False)


@dataclass(frozen=True)
class Asked:
    """What the command line asks for."""

    seeds: Sequence[int]
    days: int
    each: bool
    day: int | None


def _asked(given: Sequence[str]) -> Asked:
    parser = argparse.ArgumentParser("python -m tests.bench winter", description=__doc__)
    parser.add_argument("--seeds", default=SEEDS, help="one seed, or first:last")
    parser.add_argument("--days", type=int, default=DAYS, help="how long each winter lasts")
    parser.add_argument("--each", action="store_true", help="a line for each seed")
    parser.add_argument("--day", type=int, help="tell this day of the first seed, from 0 on")
    found = parser.parse_args(given)
    first, _, last = found.seeds.partition(":")
    seeds = range(int(first), int(last or first) + 1)
    return Asked(seeds, found.days, found.each, found.day)


# ---------------------------------------------------------------- living


def lived(seed: int, days: int) -> tuple[int, Three, float]:
    """Live one winter; run in a process of its own. Returns its processor time as well. [s]."""
    logging.disable(logging.WARNING)
    began_s = time.process_time()
    engine, raw, deadband = live(seed, days).scores()
    return seed, Three(engine, raw, deadband), time.process_time() - began_s


def _lived(
    seeds: Sequence[int], days: int, console: Console
) -> Iterable[tuple[int, Three, float]]:
    spawning = multiprocessing.get_context("spawn")
    columns = TextColumn("winters"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn()
    with (
        ProcessPoolExecutor(PROCESSES, mp_context=spawning) as pool,
        Progress(*columns, console=console, transient=True) as progress,
    ):
        task = progress.add_task("", total=len(seeds))
        for result in pool.map(lived, seeds, [days] * len(seeds)):
            progress.advance(task)
            yield result


# ---------------------------------------------------------------- saying


def _line(seed: int, three: Three) -> str:
    engine = three.engine
    return (
        f"{seed:5d}  {engine.episodes:4d} episodes {engine.messages:4d} messages "
        f"({_ratio(engine.messages, engine.episodes)}), raw {three.raw.messages}, deadband "
        f"{three.deadband.messages}; harm {engine.harm_told}/{engine.harm}, under a fault "
        f"{engine.hidden_harm_told}/{engine.hidden_harm}; silent {engine.silences_told}/"
        f"{engine.silences}, wet {engine.wets_told}/{engine.wets}; false {engine.false}, chatter "
        f"{engine.chatter}; days {engine.calm_days_kept}/{engine.calm_days}"
    )


def _table(total: Three) -> Table:
    table = Table("what", "engine", "raw", "deadband", "aim", title="A winter")
    every = total.all()

    def row(what: str, values: Iterable[str], aim: str = "") -> None:
        table.add_row(what, *values, aim)

    row("messages", (str(s.messages) for s in every))
    row("messages a day", (f"{_per(s.messages, s.days):.2f}" for s in every))
    row("episodes that needed a hand", (str(s.episodes) for s in every))
    row("messages an episode", (_ratio(s.messages, s.episodes) for s in every), "<= 1.3")
    row(
        "days of <= 3 episodes with <= 3 messages",
        (_share(s.calm_days_kept, s.calm_days) for s in every),
        "100 %",
    )
    row("fewer than raw, by", _fewer(total.raw, every), ">= 10")
    row("fewer than the deadband, by", _fewer(total.deadband, every), ">= 2")
    row("observable harm told in time", (_of(s.harm_told, s.harm) for s in every), "all")
    row(
        "harm under a sensor at fault, told of either",
        (_of(s.hidden_harm_told, s.hidden_harm) for s in every),
    )
    row("silence told within 30 min", (_of(s.silences_told, s.silences) for s in every), "all")
    row("wet sensor told within 30 min", (_of(s.wets_told, s.wets) for s in every), "all")
    row("false messages", (_share(s.false, s.checkable) for s in every), "< 5 %")
    row("chatter", (str(s.chatter) for s in every), "0")
    row("late, air out of its band [min]", (_spread(s.late_min) for s in every))
    row("late, harm [min]", (_spread(s.harm_late_min) for s in every), "<= 3")
    row(
        "forecasts (night, day) that came true, had nobody acted",
        (_of(s.forecasts_right, s.forecasts) if s.forecasts else "none" for s in every),
    )
    row("early notices right within 10 min", (_early(s) for s in every))
    row("early by [min]", (_spread([ahead for _, ahead in s.early]) for s in every))
    return table


def _by_call(engine: Score) -> Table:
    table = Table("of the engine", "episodes", "messages", "of these false")
    for name in sorted(engine.by_call.keys() | engine.episodes_by_call.keys()):
        counts = (engine.episodes_by_call, engine.by_call, engine.false_by_call)
        table.add_row(name, *(str(count.get(name, 0)) for count in counts))
    return table


def _how(seeds: int, days: int, took_s: float, cpu_s: float) -> str:
    minutes = seeds * days * 1440
    return (
        f"{seeds} seeds, {days} days each, took {took_s:.0f} s in {PROCESSES} processes "
        f"({cpu_s / minutes * 1e3:.2f} ms of a core a simulated minute). Readings, rounds and "
        f"delivery once a minute; mistings and ventings looked for every {SEARCH_EVERY_MIN} min. "
        "Raw and deadband judge the same readings and limits, harm limits included, and nobody "
        "acts on them. Late: median / 95th of a hundred, from the end of the on-delay on."
    )


def _per(count: int, of: int) -> float:
    return count / of if of else 0.0


def _ratio(count: int, of: int) -> str:
    return f"{count / of:.2f}" if of else "-"


def _share(count: int, of: int) -> str:
    return f"{100 * count / of:.1f} %" if of else "-"


def _of(count: int, of: int) -> str:
    return f"{count} of {of}" + (f" ({_share(count, of)})" if of else "")


def _fewer(base: Score, every: Iterable[Score]) -> list[str]:
    return [_ratio(base.messages, s.messages) for s in every]


def _spread(values: Sequence[int]) -> str:
    if len(values) < 2:
        return str(values[0]) if values else "-"
    return f"{statistics.median(values):.0f} / {statistics.quantiles(values, n=20)[-1]:.0f}"


def _early(score: Score) -> str:
    return _of(sum(right for right, _ in score.early), len(score.early)) if score.early else "none"
