"""Telling lamps, buzzers and displays how things stand: each change at once, the rest by minutes.

A thread of its own looks at the board and the book and hands what has changed to the outlet. It
writes nothing and holds up nobody: publishing never waits, and where looking takes long, as in a
house of a thousand chambers, it rests ten times as long before it looks again.
"""

import logging
import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import timedelta
from typing import Final

from chamberwatch.core.errors import StorageError
from chamberwatch.core.watch.advice import judged
from chamberwatch.core.watch.doubt import Doubt
from chamberwatch.core.watch.reading import Reading
from chamberwatch.core.watch.reminder import TASK_CALLS, Call, Reminder, State
from chamberwatch.service import announced
from chamberwatch.service.announced import Told
from chamberwatch.service.board import Series
from chamberwatch.service.history import History
from chamberwatch.service.ports import Outlet
from chamberwatch.service.views import ReminderNow

log = logging.getLogger(__name__)

LOOK_EVERY_S: Final = 2.0
FIRST_EVERY_S: Final = 0.25
FIRST_LOOKS: Final = 20
"""Right after a start, while connections come about, it looks more often."""
REST: Final = 10.0
"""It rests so many times as long as a look took: no more than a tenth of a processor is used."""
REST_MOST_S: Final = 60.0
REFRESH_S: Final = 60.0
"""What changes with every reading is said this often at the most."""
TASK_KEPT: Final = timedelta(days=1)
"""A task that is done is taken away after this; each one has a topic of its own."""

_PASSING: Final = TASK_CALLS - {Call.TODAY}


@dataclass(frozen=True, slots=True)
class _Last:
    """What was said last on a topic, and when. [s, monotonic]."""

    urgent: object
    body: str
    at_s: float


@dataclass(frozen=True, slots=True)
class _Looked:
    """What a chamber was like when it was last looked at."""

    signs: object
    at_s: float


@dataclass(slots=True)
class Announcing:
    """Says what has changed.

    Attributes:
        history: answers what there is to say.
        outlet: where it is said.
        troubles: what isn't well with the watcher itself.
        looked_s: when it last looked, for whoever watches. [s, monotonic]
    """

    history: History
    outlet: Outlet
    troubles: Callable[[], tuple[str, ...]]
    looked_s: float = field(init=False)
    _air: History = field(init=False)
    _connection: int | None = None
    _said: dict[str, _Last] = field(default_factory=dict)
    _chambers: dict[str, _Looked] = field(default_factory=dict)
    _worded: dict[str, tuple[ReminderNow, ...]] = field(default_factory=dict)
    _worded_s: float = 0.0
    _failing: str = ""

    def __post_init__(self) -> None:
        """Begin with nothing said."""
        self.looked_s = self.history.clock.monotonic()
        # Without amounts: reckoning them is most of the work. The reminders below have theirs.
        self._air = replace(self.history, counsel=None)

    # ------------------------------------------------------------ the loop

    def run(self, stopping: threading.Event) -> None:
        """Look until told to stop."""
        clock, rest_s, looks = self.history.clock, FIRST_EVERY_S, 0
        while not clock.wait(stopping, rest_s):
            began_s = self.looked_s = clock.monotonic()
            self._guarded()
            self.looked_s = clock.monotonic()
            looks += 1
            every_s = FIRST_EVERY_S if looks < FIRST_LOOKS else LOOK_EVERY_S
            rest_s = max(every_s, min(REST * (self.looked_s - began_s), REST_MOST_S))

    def _guarded(self) -> None:
        """Look; nothing that goes wrong here must end the daemon, and each fault is said once."""
        try:
            self.look()
        except StorageError as error:
            self._failed(f"What is said on MQTT waits for the database: {error}")
        except Exception as error:
            if self._failed(f"What is said on MQTT could not be made: {error!r}"):
                log.exception("It is tried again.")
        else:
            self._failing = ""

    def _failed(self, why: str) -> bool:
        news = why != self._failing
        if news:
            log.warning("%s", why)
        self._failing = why
        return news

    # ------------------------------------------------------------ one look

    def look(self) -> None:
        """Say what has changed since the last look, everything on a new connection."""
        connection = self.outlet.connection()
        if connection is None:
            return
        if connection != self._connection:
            # The broker may have forgotten all of it, or it may be another one.
            self._said.clear()
            self._chambers.clear()
            self._connection = connection
        history, now_s = self.history, self.history.clock.monotonic()
        self._say(announced.at_work(history.version, history.started, self.troubles()), now_s)
        by_chamber = self._reminders(now_s)
        newest, doubts = history.board.newest(), history.board.doubts()
        for chamber in history.chambers():
            self.looked_s = history.clock.monotonic()
            name = chamber.name
            signs = (self._signs(name, newest, doubts), by_chamber.get(name))
            looked = self._chambers.get(name)
            if looked is None or looked.signs != signs or now_s - looked.at_s >= REFRESH_S:
                self._chamber(name, signs, now_s)

    def _signs(
        self, name: str, newest: Mapping[Series, Reading], doubts: Mapping[str, Doubt]
    ) -> object:
        """Return what tells, at little cost, that a chamber is worth a look before its minute."""
        house = self.history.house
        judgements = (
            judged(house, sensor, newest[sensor.name, quantity])
            for sensor in house.sensors_in(name)
            for quantity in sensor.quantities
            if (sensor.name, quantity) in newest
        )
        return (
            tuple((j.standing, j.harm, j.band) for j in judgements if j is not None),
            tuple(doubts.get(sensor.name) for sensor in house.sensors_in(name)),
        )

    def _chamber(self, name: str, signs: object, now_s: float) -> None:
        """Say how a chamber is."""
        now = replace(self._air.now(name), reminders=self._worded.get(name, ()))
        if self._say(announced.chamber(now), now_s):
            self._chambers[name] = _Looked(signs, now_s)

    def _reminders(self, now_s: float) -> Mapping[str, Sequence[object]]:
        """Say how the reminders stand; return what is known of those of each chamber."""
        with self.history.books.read() as book:
            found = [r for r in book.reminders.all() if r.episode]
        due = [r for r in found if self._due(r, now_s)]
        if due:
            self._say_reminders(due, now_s)
        known: dict[str, list[object]] = {}
        for each in found:
            known.setdefault(each.chamber, []).append(announced.urgent_of(each))
        return known

    def _say_reminders(self, due: Sequence[Reminder], now_s: float) -> None:
        self._worded_s = now_s
        shown = self.history.reminders(None)
        words = {each.reminder.id: each for each in shown}
        self._worded = {}
        for each in shown:  # gravest first, in each chamber
            before = self._worded.get(each.reminder.chamber, ())
            self._worded[each.reminder.chamber] = (*before, each)
        for reminder in due:
            if self._passed(reminder):
                self._say(announced.taken_away(reminder), now_s)
            elif reminder.id in words:
                self._say(announced.reminder(words[reminder.id]), now_s)

    def _due(self, reminder: Reminder, now_s: float) -> bool:
        """Tell whether there may be something new to say of a reminder."""
        last = self._said.get(announced.topic_of(reminder))
        if last is None:
            return True
        if self._passed(reminder):
            return last.body != ""
        if last.urgent != announced.urgent_of(reminder):
            return True
        # The words of one that is over stay as they were when it ended. New words of a live one
        # may be the same as before; that is no reason to make them at every look.
        newest_s = max(last.at_s, self._worded_s)
        return reminder.state is not State.NORMAL and now_s - newest_s >= REFRESH_S

    def _passed(self, reminder: Reminder) -> bool:
        """Tell whether nobody needs to know of a reminder any more."""
        if reminder.chamber and reminder.chamber not in self.history.house.chambers:
            return True
        done = reminder.call in _PASSING and reminder.state is State.NORMAL
        moved = reminder.moved
        return done and moved is not None and self.history.clock.now() - moved > TASK_KEPT

    def _say(self, told: Told, now_s: float) -> bool:
        """Say it where it is news; return whether nothing of it is left to say.

        What is not urgent waits for its minute, which is no reason to look again before.
        """
        last, body = self._said.get(told.topic), told.body()
        if last is not None and last.urgent == told.urgent:
            waits = last.body == body or now_s - last.at_s < REFRESH_S
            if waits:
                return True
        if not self.outlet.publish(told.topic, body):
            return False
        self._said[told.topic] = _Last(told.urgent, body, now_s)
        return True
