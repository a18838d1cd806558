"""Whatever happens in whatever order, the life of each reminder holds together.

Readings, deeds, answers, restarts, clock steps and waiting in any order, against a real database:
no move is lost or impossible, nothing is told of what is normal, nothing is live twice.
"""

import tempfile
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.watch.action import Deed
from chamberwatch.core.watch.reminder import (
    LEAVES,
    MOVES,
    Move,
    Priority,
    Reminder,
    State,
)
from chamberwatch.service.books import OutKind, OutState
from chamberwatch.service.ports import Outcome
from tests.fakes import Phone
from tests.service.machine import Bench

AIR: Mapping[str, tuple[float, ...]] = {
    "humidity": (60.0, 77.0, 81.0, 88.0, 97.0),
    "co2": (700.0, 1200.0, 2600.0),
    "temperature": (10.0, 19.0, 26.0, 32.0),
}
LIVE = frozenset(State) - {State.NORMAL}


@dataclass
class Witness(Phone):
    """A phone that looks, as it is called, whether what is said is so."""

    bench: Bench | None = None
    untrue: list[str] = field(default_factory=list)

    def send(self, title: str, body: str, picture: bytes | None = None) -> Outcome:
        if self.bench is not None:
            with self.bench.sql.read() as book:
                for row in book.outbox.in_state(OutState.SENDING):
                    reminder = book.reminders.get(row.reminder)
                    if row.kind is not OutKind.REMINDER or reminder is None:
                        continue
                    if not reminder.active or reminder.state is not State.UNACKNOWLEDGED:
                        self.untrue.append(f"{title}: {reminder.state}")
        return super().send(title, body, picture)


class Life(RuleBasedStateMachine):
    """Draws what happens."""

    @initialize()
    def begin(self) -> None:
        self.folder = tempfile.TemporaryDirectory()
        self.phone = Witness()
        self.bench = Bench(Path(self.folder.name), phone=self.phone, removed={"block", "wall"})
        self.phone.bench = self.bench
        self.delivery = self.bench.delivery()

    def teardown(self) -> None:
        if hasattr(self, "bench"):
            self.bench.sql.close()
            self.folder.cleanup()

    def live(self) -> list[Reminder]:
        with self.bench.sql.read() as book:
            return list(book.reminders.all(LIVE))

    # -------------------------------------------------------------- what happens

    @rule(
        quantity=st.sampled_from(sorted(AIR)),
        which=st.integers(0, 4),
        minutes=st.integers(1, 40),
        sensor=st.sampled_from(["middle", "top"]),
    )
    def hear(self, quantity: str, which: int, minutes: int, sensor: str) -> None:
        values = AIR[quantity]
        self.bench.minutes_of(quantity, values[which % len(values)], minutes, sensor)

    @rule(minutes=st.integers(1, 90))
    def nothing_is_heard(self, minutes: int) -> None:
        self.bench.clock.turn(minutes=minutes)

    @rule()
    def rounds(self) -> None:
        self.bench.rounds.look()

    @rule()
    def deliver(self) -> None:
        self.delivery.deliver_due(self.bench.wake)
        self.bench.wake.clear()

    @rule(deed=st.sampled_from([Deed.MISTED, Deed.VENTED, Deed.NOTED]))
    def act(self, deed: Deed) -> None:
        self.bench.logbook.act("tent", deed, None, "", "page")

    @precondition(lambda self: hasattr(self, "bench") and self.live())
    @rule(which=st.integers(0, 20))
    def see(self, which: int) -> None:
        live = self.live()
        reminder = live[which % len(live)]
        try:
            self.bench.logbook.seen(reminder.id, reminder.episode, "page")
        except RefusedError:
            assert reminder.state not in (State.UNACKNOWLEDGED, State.RETURNED)

    @precondition(lambda self: hasattr(self, "bench") and self.live())
    @rule(which=st.integers(0, 20), minutes=st.integers(1, 120))
    def shelve(self, which: int, minutes: int) -> None:
        live = self.live()
        reminder = live[which % len(live)]
        try:
            self.bench.logbook.shelve(reminder.id, timedelta(minutes=minutes), "page")
        except RefusedError:
            assert reminder.state is State.OUT_OF_SERVICE

    @rule()
    def crash(self) -> None:
        self.bench.crash()
        self.delivery = self.bench.delivery()

    @rule(minutes=st.sampled_from([-90, -5, 5, 90]))
    def the_clock_steps(self, minutes: int) -> None:
        self.bench.clock.wall += timedelta(minutes=minutes)

    # -------------------------------------------------------------- what must hold

    @invariant()
    def nothing_untrue_was_said(self) -> None:
        if hasattr(self, "phone"):
            assert self.phone.untrue == []

    @invariant()
    def every_life_is_whole(self) -> None:
        if not hasattr(self, "bench"):
            return
        with self.bench.sql.read() as book:
            reminders = book.reminders.all()
            moves = [move for _, move in book.reminders.moves(limit=100_000)]
        causes = Counter((r.chamber, r.call, r.subject) for r in reminders)
        assert max(causes.values(), default=0) <= 1
        for reminder in reminders:
            _is_whole(reminder, [m for m in moves if m.reminder == reminder.id])


def _is_whole(reminder: Reminder, moves: list[Move]) -> None:
    before = State.NORMAL
    for move in moves:
        assert move.before is before
        assert (move.before, move.event) in MOVES or (move.before, move.event) in LEAVES
        before = move.after
    assert reminder.state is before
    # What nobody has told of can't be waiting for somebody to acknowledge its end.
    if reminder.state is State.RETURNED:
        assert not reminder.active
    if reminder.state in (State.UNACKNOWLEDGED, State.ACKNOWLEDGED):
        assert reminder.active
    if reminder.state is State.SHELVED:
        assert reminder.shelved_until is not None
    else:
        assert reminder.shelved_until is None
    assert reminder.priority in Priority


Life.TestCase.settings = settings(
    max_examples=25,
    stateful_step_count=30,
    deadline=None,
    suppress_health_check=list(HealthCheck),
)
TestLife = Life.TestCase
