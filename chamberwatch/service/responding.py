"""How each chamber answers to what is done: the effects of deeds, and the grace they are given.

Deeds are judged from the readings in the book and from the mistings and ventings found there. All
of it can be lost and is drawn again from the last week.
"""

import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta, tzinfo
from typing import Final

from chamberwatch.core import effect_words
from chamberwatch.core.watch.action import ANSWERS, Action, Deed
from chamberwatch.core.watch.advice import ASKED, GRACE
from chamberwatch.core.watch.chamber import Chamber, House, Sensor
from chamberwatch.core.watch.effect import (
    FEWEST,
    KINDS,
    SHOWS,
    Effect,
    Outcome,
    Window,
    answer_time,
    clearest,
    effect_found,
    grace_from,
    judge_effect,
)
from chamberwatch.core.watch.found import Found
from chamberwatch.core.watch.lasting import TOLD_LATE
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import (
    Call,
    Event,
    Evidence,
    Reminder,
    State,
    advance,
)
from chamberwatch.core.wording import Message
from chamberwatch.service.board import Board
from chamberwatch.service.books import Book, Books, Span
from chamberwatch.service.gathering import seconds, thinned
from chamberwatch.service.speaking import air_sensors, in_doubt

LEARN_FROM: Final = timedelta(days=7)
"""What is older says little of the chamber as it is now."""

SHOWN_FROM: Final = timedelta(days=2)
"""Effects of older deeds are not looked up any more."""

SPEAKS_FOR: Final = timedelta(hours=2)
"""So long after its grace a deed without effect is still worth a word."""

BESIDE: Final = timedelta(minutes=10)
"""Something else that was done so shortly before a deed may hide its effect."""

LAG_SHARE: Final = 2.3
"""A sensor has shown nine tenths of a step after so many of its time constants: ln 10."""

DEEDS_LOOKED_AT: Final = 100

STIRS: Final = frozenset(
    {Deed.MISTED, Deed.VENTED, Deed.OPENED, Deed.HARVESTED, Deed.MOVED, Deed.CLEANED}
)
"""What opens the chamber or wets it, and so moves its air."""

NO_EFFECT: Final = "what was done had no effect"


NoEffect = Callable[[Book, Chamber, Call, Evidence, datetime], Message | None]
"""Says that what was done about a call had no effect; None where nothing speaks for that."""


def nothing_judged(
    book: Book, chamber: Chamber, call: Call, evidence: Evidence, now: datetime
) -> None:
    """Say nothing: nobody judges what came of deeds."""
    del book, chamber, call, evidence, now


@dataclass(frozen=True, slots=True)
class _Judged:
    """A deed, what came of it by one call, and when its grace was over."""

    action: Action
    effect: Effect
    over: datetime


@dataclass(slots=True)
class _Memory:
    """What is remembered: graces by chamber and call, effects by deed, and deeds judged."""

    graces: Mapping[tuple[str, Call], timedelta] = field(default_factory=dict)
    effects: dict[int, Effect] = field(default_factory=dict)
    judged: dict[tuple[str, Call], _Judged] = field(default_factory=dict)


class Responding:
    """Effects and graces of all chambers. Safe to ask from any thread."""

    def __init__(self, house: House, board: Board, zone: tzinfo) -> None:
        """Begin knowing nothing."""
        self._house = house
        self._board = board
        self._zone = zone
        self._lock = threading.Lock()
        self._memory = _Memory()

    # -------------------------------------------------------------- what is asked

    def grace(self, chamber: str, call: Call) -> timedelta:
        """Return how long after a deed this chamber isn't asked for the same again."""
        with self._lock:
            return self._memory.graces.get((chamber, call), GRACE)

    def effects_of(self, actions: Sequence[Action]) -> Mapping[int, Effect]:
        """Return the effects of deeds by their ids, of those that are known."""
        with self._lock:
            known = self._memory.effects
            return {a.id: known[a.id] for a in actions if a.id in known}

    def no_effect(
        self, book: Book, chamber: Chamber, call: Call, evidence: Evidence, now: datetime
    ) -> Message | None:
        """Say that what was done had no effect, judged at once where it wasn't yet."""
        self.judge(book, now)
        return self.no_effect_words(chamber, call, evidence, now)

    def no_effect_words(
        self, chamber: Chamber, call: Call, evidence: Evidence, now: datetime
    ) -> Message | None:
        """Say that what was done about a call had no effect; None where nothing speaks for that.

        Args:
            chamber: which.
            call: that is about to be asked, or shown.
            evidence: the newest reading that asks for it.
            now: the time.
        """
        with self._lock:
            judged = self._memory.judged.get((chamber.name, call))
        if judged is None or judged.effect.outcome is not Outcome.NONE:
            return None
        at, value = judged.action.at, evidence.value
        answered = self._board.deeds(chamber.name).get(call, at)
        if answered > at or not judged.over <= now <= judged.over + SPEAKS_FOR:
            return None
        if value is not None and judged.effect.undone(value):
            return None
        return effect_words.no_effect(chamber, judged.effect, at, evidence, (now, self._zone))

    # -------------------------------------------------------------- deeds without effect

    def judge(self, book: Book, now: datetime) -> None:
        """Judge the deeds whose grace has ended, each once, before anybody is told anything."""
        for action in self._latest(book, now).values():
            for call in ANSWERS[action.deed]:
                self._judge_call(book, action, call, now)

    def _latest(self, book: Book, now: datetime) -> Mapping[tuple[str, Deed], Action]:
        """Return the last deed of each kind that asks to be judged, by chamber."""
        found: dict[tuple[str, Deed], Action] = {}
        for action in book.actions.recent(None, DEEDS_LOOKED_AT):
            if action.at < now - SPEAKS_FOR - timedelta(hours=1):
                break
            if action.deed in SHOWS and action.chamber in self._house.chambers:
                found.setdefault((action.chamber, action.deed), action)
        return found

    def _judge_call(self, book: Book, action: Action, call: Call, now: datetime) -> None:
        key = (action.chamber, call)
        with self._lock:
            known = self._memory.judged.get(key)
        over = action.at + self.grace(*key)
        if now < over or (known is not None and known.action.id == action.id):
            return
        spoke = _asking(book, action.chamber, call)
        effect = self._effect(book, action, call, over, spoke)
        with self._lock:
            self._memory.judged[key] = _Judged(action, effect, over)

    def write(self, book: Book, now: datetime) -> bool:
        """Let reminders come back whose answer had no effect; return whether any did.

        Only where nobody has said since the end of the grace that they have seen it.
        """
        self.judge(book, now)
        with self._lock:
            judged = dict(self._memory.judged)
        moved = False
        reminders = {(r.chamber, r.call): r for r in book.reminders.all() if not r.subject}
        for key, one in judged.items():
            reminder = reminders.get(key)
            if one.effect.outcome is not Outcome.NONE or now > one.over + SPEAKS_FOR:
                continue
            if reminder is not None and _answered_by(reminder, one):
                self._again(book, reminder, now)
                moved = True
        return moved

    def _again(self, book: Book, reminder: Reminder, now: datetime) -> None:
        again, move = advance(reminder, Event.REALARMED, now, NO_EFFECT)
        book.reminders.save(again, [move])
        self._board.owe(reminder.chamber)

    # -------------------------------------------------------------- effects and graces

    def look(self, books: Books, now: datetime) -> None:
        """Draw graces from the last week, and effects of the last days' deeds.

        Raises:
            StorageError: the database can't be read just now.
        """
        graces: dict[tuple[str, Call], timedelta] = {}
        effects: dict[int, Effect] = {}
        with books.read() as book:
            for chamber in self._house.chambers.values():
                if chamber.stage is None:
                    continue
                found = book.found.within(chamber.name, Span(now - LEARN_FROM, now))
                actions = book.actions.recent(chamber.name, DEEDS_LOOKED_AT)
                graces |= self._graces(chamber.name, found, actions)
                effects |= self._effects(book, found, actions, now)
        with self._lock:
            changed = effects != self._memory.effects
            self._memory.graces, self._memory.effects = graces, effects
        if changed:
            self._board.stir()

    def forget(self, chamber: str) -> None:
        """Judge the deeds of a chamber anew, since what was told of them was wrong."""
        with self._lock:
            judged = self._memory.judged
            self._memory.judged = {key: one for key, one in judged.items() if key[0] != chamber}

    def _graces(
        self, chamber: str, found: Sequence[Found], actions: Sequence[Action]
    ) -> Mapping[tuple[str, Call], timedelta]:
        by_id = {a.id: a for a in actions}
        graces: dict[tuple[str, Call], timedelta] = {}
        for call, kind in KINDS.items():
            pairs = [
                (f, by_id.get(f.action) if f.action is not None else None)
                for f in found
                if f.kind is kind and not f.denied
            ]
            # What was told has in it what the person needs between the tap and the deed.
            told = [pair for pair in pairs if pair[1] is not None]
            counted = told if len(told) >= FEWEST else pairs
            times = [answer_time(each, action) for each, action in counted]
            graces[chamber, call] = grace_from(times, call, self._lag(chamber, call))
        return graces

    def _lag(self, chamber: str, call: Call) -> timedelta:
        """Return how far the slowest sensor of a chamber is behind what the record was cut by."""
        if call is not Call.VENT:
            return timedelta()
        lags = [s.co2_lag_s for s in air_sensors(self._house, chamber, Quantity.CO2)]
        return timedelta(seconds=LAG_SHARE * max(lags, default=0.0))

    def _effects(
        self, book: Book, found: Sequence[Found], actions: Sequence[Action], now: datetime
    ) -> Mapping[int, Effect]:
        seen = {f.action: effect_found(f) for f in found if f.action is not None}
        effects: dict[int, Effect] = {}
        for action in actions:
            if action.deed not in SHOWS or action.at < now - SHOWN_FROM:
                continue
            effect = seen.get(action.id) or self._shown(book, action, now)
            if effect is not None:
                effects[action.id] = effect
        return effects

    def _shown(self, book: Book, action: Action, now: datetime) -> Effect | None:
        """Return the effect of a deed that was not found in the record, or not yet."""
        with self._lock:
            before = self._memory.effects.get(action.id)
        if before is not None and before.outcome is not Outcome.PENDING:
            return before
        measured = (c for c in SHOWS[action.deed] if self._sensors(action.chamber, c))
        call = next(measured, None)
        if call is None:
            return None
        over = action.at + self.grace(action.chamber, call)
        effect = self._effect(book, action, call, min(over, now), None)
        pending = now < over and not effect.clear
        return Effect(call, Outcome.PENDING) if pending else effect

    def _effect(
        self, book: Book, action: Action, call: Call, until: datetime, spoke: str | None
    ) -> Effect:
        """Return what came of a deed up to some time; `spoke`: the sensor that asked for it."""
        sensors = [
            s
            for s in self._sensors(action.chamber, call)
            if not self._doubted(book, s, call, action.at)
        ]
        asked = [s for s in sensors if s.name == spoke] or sensors
        seen = [self._by_one(book, sensor, action, call, until) for sensor in asked]
        effect = clearest(seen) or Effect(call, Outcome.UNKNOWN)
        if effect.outcome is Outcome.NONE and _hidden(book, action, until):
            return Effect(call, Outcome.UNKNOWN)
        return effect

    def _sensors(self, chamber: str, call: Call) -> Sequence[Sensor]:
        return air_sensors(self._house, chamber, ASKED[call][0])

    def _by_one(
        self, book: Book, sensor: Sensor, action: Action, call: Call, until: datetime
    ) -> Effect:
        gap = max(sensor.unheard_after, timedelta(minutes=2))
        span = Span(action.at - TOLD_LATE - gap, until + timedelta(seconds=1))
        points = thinned(book, sensor, ASKED[call][0], span)
        window = Window(seconds(action.at), seconds(until), gap.total_seconds())
        return judge_effect(call, points, window, sensor.accuracy)

    def _doubted(self, book: Book, sensor: Sensor, call: Call, since: datetime) -> bool:
        """Tell whether a sensor is, or was since a deed, in doubt or silent."""
        if in_doubt(self._board.doubts().get(sensor.name), ASKED[call][0]):
            return True
        return any(
            r.moved is not None and r.moved >= since
            for r in book.reminders.all()
            if r.call is Call.CHECK_SENSOR and r.subject == sensor.name
        )


def _asking(book: Book, chamber: str, call: Call) -> str | None:
    """Return the sensor that speaks for a reminder; None where it doesn't ask for anything."""
    asking = (
        r.evidence.sensor
        for r in book.reminders.all()
        if (r.chamber, r.call, r.subject) == (chamber, call, "") and r.active and r.evidence
    )
    return next(asking, None)


def _answered_by(reminder: Reminder, judged: _Judged) -> bool:
    """Tell whether a reminder rests because of a deed, and nobody has seen it since."""
    if reminder.state is not State.ACKNOWLEDGED or not reminder.active:
        return False
    return reminder.moved is not None and reminder.moved <= max(
        judged.over, judged.action.recorded
    )


def _hidden(book: Book, action: Action, until: datetime) -> bool:
    """Tell whether something else was done about the same time that may hide an effect."""
    return any(
        a.deed in STIRS and a.deed is not action.deed and action.at - BESIDE <= a.at <= until
        for a in book.actions.recent(action.chamber, DEEDS_LOOKED_AT)
    )
