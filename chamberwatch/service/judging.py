"""Holding readings against their rules as they come, and what follows in the book.

How far each rule has come lives in memory and is kept with every commit, in the same transaction
as the readings that led there. Only the intake's thread uses this.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core.watch.advice import coming, needs
from chamberwatch.core.watch.chamber import House, Sensor
from chamberwatch.core.watch.doubt import stands_back
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.core.watch.reminder import Call
from chamberwatch.core.watch.rule import LONGEST_GAP, Level, Rule, Watched, rules, step
from chamberwatch.service import advised
from chamberwatch.service.advised import Advised
from chamberwatch.service.board import Board
from chamberwatch.service.books import Book
from chamberwatch.service.ports import Clock
from chamberwatch.service.telling import Teller

AHEAD_AT_MOST: Final = timedelta(minutes=2)
"""A reading further ahead of a good clock than this is refused."""

OLD_AFTER: Final = timedelta(minutes=10)
"""A reading older than this when it arrives is never spoken of."""


class Judging:
    """The rules of all sensors, and which chambers they have left unsettled."""

    def __init__(
        self,
        clock: Clock,
        house: House,
        board: Board,
        teller: Teller,
        book: Book,
        silent_until: datetime | None,
    ) -> None:
        """Take up where the last commit left off; `board` already shows the newest readings."""
        self._clock = clock
        self._house = house
        self._board = board
        self._teller = teller
        self._silent_until = silent_until
        self._watched = self._take_up(book)
        self._changed: dict[tuple[object, ...], Watched] = {}
        self._unsettled: dict[str, tuple[datetime, bool]] = {}
        # Put up only once the message is kept: after a failed commit it is told anew.
        self._advised: dict[tuple[str, Call], Advised] = {}
        for (chamber, call), told in advised.loads(book.kept.text(advised.KEPT_AS)).items():
            board.advise(chamber, call, told)

    def _take_up(self, book: Book) -> dict[tuple[object, ...], Watched]:
        """Return how far the rules had come, without those that the settings no longer make.

        A stage that was changed or a sensor taken out while its rule held would otherwise keep
        a reminder alive that nothing can ever return.
        """
        kept: dict[tuple[object, ...], Watched] = {}
        for watched in book.watched.load():
            if self._still_ruled(watched):
                kept[watched.key] = watched
            elif watched.active:
                book.watched.save([replace(watched, active=False, turning_since=None)])
        newest, now = self._board.newest(), self._clock.now()
        active = {r.chamber for r in book.reminders.all() if r.active}
        for chamber in sorted(active & self._house.chambers.keys()):
            found = needs(self._house, chamber, kept.values(), newest, {}, self._board.doubts())
            self._teller.settle(book, chamber, found, now)
        return kept

    def _still_ruled(self, watched: Watched) -> bool:
        sensor = self._house.sensors.get(watched.sensor)
        return sensor is not None and self._rule_of(watched, sensor) is not None

    # -------------------------------------------------------------- one reading

    def mistrust_future(self, reading: Reading, wall: datetime) -> None:
        """Forget a newest reading that a wrong clock once put into the future.

        Without this a clock set back by two hours would leave the sensor unjudged for two hours.
        """
        previous = self._board.newest_of((reading.sensor, reading.quantity))
        if previous is None or previous.time <= wall + AHEAD_AT_MOST:
            return
        if reading.time < previous.time and self._clock.synchronised():
            self._board.forget_newest((reading.sensor, reading.quantity))

    def judge(self, reading: Reading, *, live: bool) -> None:
        """Hold a reading against its rules unless it is older than what was judged."""
        series = (reading.sensor, reading.quantity)
        previous = self._board.newest_of(series)
        if previous is not None and reading.time <= previous.time:
            return
        self._board.show(reading)
        sensor = self._house.sensors.get(reading.sensor)
        if sensor is None:
            return
        self.follow_bands()
        turned, holds = self._step(sensor, reading, previous)
        # Only a reading that speaks for something can pay what is owed.
        if turned or (live and holds and self._board.owes(sensor.chamber, self._clock.now())):
            self._unsettled[sensor.chamber] = (reading.time, live)
        elif self._board.take_shaken(sensor.chamber):
            self._stand_back(sensor.chamber)
            self._unsettled[sensor.chamber] = (reading.time, live)

    def _step(
        self, sensor: Sensor, reading: Reading, previous: Reading | None
    ) -> tuple[bool, bool]:
        """Take a rule further for each limit; return whether one turned, and whether one holds."""
        settling = self._board.settling(sensor.chamber, reading.time) is not None
        gap = max(LONGEST_GAP, sensor.unheard_after)
        turned = holds = False
        last = previous.time if previous is not None else None
        for rule in self._rules(sensor, reading.quantity):
            key = (reading.sensor, reading.quantity, rule.side, rule.level)
            before = self._watched.get(key) or Watched(*key)
            # While a chamber settles into its new band no delay begins; what was outside before
            # it changed, and what is harmful, goes on.
            begins = not before.active and before.turning_since is None
            waits = settling and rule.level is Level.BAND and begins
            after = before if waits else step(before, rule, reading, last, gap)
            holds |= after.active
            if after is not before and after != before:
                self._watched[key] = self._changed[key] = after
                turned |= after.active != before.active
        return turned, holds

    def follow_bands(self) -> None:
        """Go on from the bands of today where they have changed; cheap where they have not."""
        for chamber in self._board.take_rebanded():
            if self._reband(chamber):
                self._unsettled[chamber] = (self._clock.now(), True)

    def _reband(self, chamber: str) -> bool:
        """Begin anew with the rules of a chamber whose band has changed; return whether one ended.

        What lies outside the new band as it did outside the old goes on, with the delay that is
        running. What lies inside it, or is not judged any more, is over at once: there is nothing
        left to be sure of.
        """
        newest, turned = self._board.newest(), False
        for watched in list(self._watched.values()):
            sensor = self._house.sensors[watched.sensor]
            if sensor.chamber != chamber:
                continue
            reading = newest.get((watched.sensor, watched.quantity))
            rule = self._rule_of(watched, sensor)
            goes_on = rule is not None and reading is not None and rule.outside(reading.value)
            since = watched.turning_since if goes_on and not watched.active else None
            after = replace(watched, active=watched.active and goes_on, turning_since=since)
            if after != watched:
                self._watched[after.key] = self._changed[after.key] = after
                turned |= watched.active and not goes_on
        return turned

    def _rule_of(self, watched: Watched, sensor: Sensor) -> Rule | None:
        """Return the rule that the band of today makes of it, None where there is none."""
        made = self._rules(sensor, watched.quantity)
        return next((r for r in made if (r.side, r.level) == (watched.side, watched.level)), None)

    def _rules(self, sensor: Sensor, quantity: Quantity) -> Sequence[Rule]:
        """Return the rules that hold for a quantity today; none where nothing is judged."""
        chamber = self._house.chambers[sensor.chamber]
        band, patience = chamber.limits(quantity, sensor.place), chamber.patience_for(quantity)
        return rules(band, patience) if band is not None and patience is not None else ()

    def _stand_back(self, chamber: str) -> None:
        """Let the rules of sensors that leave the word to another begin anew.

        A sensor that fell silent in dry air would otherwise, once it is heard again, go on where
        it left off: in air that may have been good for hours.
        """
        doubts, newest = self._board.doubts(), self._board.newest()
        for watched in list(self._watched.values()):
            sensor = self._house.sensors[watched.sensor]
            if not watched.active or sensor.chamber != chamber:
                continue
            if stands_back(self._house, sensor, watched.quantity, doubts, newest):
                idle = replace(watched, active=False, turning_since=None)
                self._watched[idle.key] = self._changed[idle.key] = idle

    # -------------------------------------------------------------- in the book

    def changed(self) -> bool:
        """Tell whether a rule has moved since the last commit."""
        return bool(self._changed)

    def urgent(self) -> bool:
        """Tell whether a reminder is about to move or be told, so that waiting would be late."""
        return bool(self._unsettled)

    def write(self, book: Book) -> int:
        """Keep the rules that moved, move the reminders, tell; return how many messages."""
        if self._changed:
            book.watched.save(self._changed.values())
        told = self._settle(book)
        if self._advised:
            every = {**self._board.all_advised(), **self._advised}
            book.kept.keep_text(advised.KEPT_AS, advised.dumps(every, self._clock.now()))
        return told

    def written(self) -> None:
        """Note that the commit held."""
        for (chamber, call), told in self._advised.items():
            self._board.advise(chamber, call, told)
        self._advised = {}
        self._changed = {}
        self._unsettled = {}

    def _settle(self, book: Book) -> int:
        if not self._unsettled:
            return 0
        told = 0
        self._advised = {}
        newest = self._board.newest()
        trends = self._board.trends(
            s.name for chamber in self._unsettled for s in self._house.sensors_in(chamber)
        )
        doubts, old_before = self._board.doubts(), self._old_before()
        for chamber, (time, live) in self._unsettled.items():
            found = needs(self._house, chamber, self._watched.values(), newest, trends, doubts)
            self._teller.settle(book, chamber, found, time)
            if live:
                fresh = {key: r for key, r in newest.items() if r.time > old_before}
                found = needs(self._house, chamber, self._watched.values(), fresh, trends, doubts)
                soon = coming(self._house, chamber, self._watched.values(), newest, time)
                spoken = self._teller.tell(book, chamber, found, self._clock.now(), soon)
                told += spoken.messages
                self._advised |= {(chamber, call): a for call, a in spoken.amounts.items()}
            else:
                self._board.owe(chamber)
        self._board.stir()
        return told

    def _old_before(self) -> datetime:
        """Return up to when readings are not spoken of, also beside a live one of another."""
        old = self._clock.now() - OLD_AFTER
        return max(old, self._silent_until or old)
