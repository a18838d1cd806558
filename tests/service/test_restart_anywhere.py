"""A restart at any moment of a scripted day ends in the same log as no restart.

What had not been acknowledged the broker sends again, as after a crash. Times are the same but
for silence: a sensor that is not heard is given its whole time again after a restart, since what
was not running could not hear it either.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

import pytest

from chamberwatch.core.watch.action import Deed
from chamberwatch.core.watch.reminder import Call
from tests.service.machine import Bench

STEP_MIN: Final = 2
LATE: Final = timedelta(minutes=5 + STEP_MIN)
"""How long a sensor may be silent, and a step of the script."""

# Minute at which it begins: what both sensors of the tent say from then on; None: nothing.
SCRIPT: Final[Sequence[tuple[int, tuple[float, float, float] | None]]] = (
    (0, (19.0, 88.0, 800.0)),
    (20, (19.0, 77.0, 800.0)),  # dry
    (50, (19.0, 66.0, 800.0)),  # harmfully so, told again after half an hour
    (100, (19.0, 89.0, 850.0)),  # misted
    (140, (19.0, 78.0, 1300.0)),  # dry and stale
    (180, (19.0, 90.0, 700.0)),
    (200, None),  # nothing is heard
    (230, (19.0, 90.0, 700.0)),
    (250, (25.5, 76.0, 700.0)),  # warm and dry
    (300, (19.0, 86.0, 700.0)),
)
END_MIN: Final = 330
DEEDS: Final = {98: Deed.MISTED, 176: Deed.VENTED}
SEEN: Final = {30: Call.MIST, 262: Call.COOL}

Told = list[tuple[str, str, datetime]]


def told(bench: Bench) -> Told:
    """Return the whole log: every move and every message, with whose it is and when."""
    with bench.sql.read() as book:
        names = {r.id: f"{r.chamber} {r.call} {r.subject}" for r in book.reminders.all()}
        moves = [
            (names[m.reminder], f"{m.event} {m.before} {m.after} {m.cause}", m.time)
            for _, m in book.reminders.moves(limit=10_000)
        ]
    sent = [(names[row.reminder], row.title, row.created) for row in bench.outbox()]
    return sorted([*moves, *sent])


@dataclass
class Day:
    """The script as it is lived through."""

    bench: Bench
    sent: list[str] = field(default_factory=list)

    def restart(self) -> None:
        """Drop everything in memory; the broker sends again what it holds for not delivered."""
        kept = {arrival.payload.decode() for arrival in self.bench.broker.acknowledged}
        self.bench.crash()
        for payload in self.sent:
            if payload not in kept:
                self.bench.take(payload)

    def step(self, minute: int) -> None:
        bench = self.bench
        bench.clock.turn(minutes=STEP_MIN)
        said = next(values for begin, values in reversed(SCRIPT) if begin <= minute)
        for sensor in ("middle", "top") if said is not None else ():
            self._say(sensor, said or ())
        bench.intake.idle()
        bench.rounds.look()
        if deed := DEEDS.get(minute):
            bench.logbook.act("tent", deed, None, "", "page")
        if call := SEEN.get(minute):
            bench.logbook.seen(bench.reminder(call).id, None, "page")

    def _say(self, sensor: str, values: Sequence[float]) -> None:
        now = self.bench.clock.now().isoformat()
        named = zip(("temperature", "humidity", "co2"), values, strict=True)
        self.sent.append(";".join(f"{sensor} {name} {value} {now}" for name, value in named))
        self.bench.take(self.sent[-1])


def live(folder: Path, restart_min: int | None) -> Told:
    """Live the day, with a restart in it or none."""
    day = Day(Bench(folder, removed={"block", "wall", "room"}, counselled=True))
    for minute in range(0, END_MIN, STEP_MIN):
        if minute == restart_min:
            day.restart()
        day.step(minute)
    found = told(day.bench)
    day.bench.sql.close()
    return found


@pytest.fixture(scope="module")
def whole_day(tmp_path_factory: pytest.TempPathFactory) -> Told:
    return live(tmp_path_factory.mktemp("day"), None)


def test_the_day_has_what_is_to_be_lived_through(whole_day: Told) -> None:
    titles = {what for _, what, _ in whole_day}
    assert {
        "Tent: mist now",
        "Tent: vent, then mist",
        "Tent: cool it, then mist",
        "Nothing is heard from any sensor",
    } <= titles
    assert any("told again" in title for title in titles)


@pytest.mark.parametrize("minute", [4, 22, 24, 26, 54, 64, 94, 102, 148, 178, 204, 214, 232, 266])
def test_a_restart_changes_nothing(minute: int, whole_day: Told, tmp_path: Path) -> None:
    found = live(tmp_path, minute)
    assert [each[:2] for each in found] == [each[:2] for each in whole_day]
    for (whose, what, time), (_, _, expected) in zip(found, whole_day, strict=True):
        allowed = LATE if "check the" in whose else timedelta(0)
        assert timedelta(0) <= time - expected <= allowed, (whose, what, time, expected)
