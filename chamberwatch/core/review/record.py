"""What a week left behind: episodes, messages, deeds; and what can be told of each."""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from functools import cached_property
from statistics import median
from typing import Final

from chamberwatch.core.review.episode import Episode
from chamberwatch.core.watch.action import ANSWERS, Deed
from chamberwatch.core.watch.reminder import TASK_CALLS, Call, Priority, Reminder

LOOK_ON: Final = timedelta(hours=24)
"""What was told in the last hours of a week is answered, over or back again in the next; an answer
later than this hardly came of the message."""


ANSWERED: Final = frozenset[Call]().union(*ANSWERS.values())
"""Calls that a deed answers; what was done about the others is not told."""


class Kind(StrEnum):
    """What a message is about."""

    REMINDER = "reminder"
    RETURNED = "returned"
    SUMMARY = "summary"
    FORECAST = "forecast"
    EARLY = "early"


class Fate(StrEnum):
    """What became of a message."""

    OUT = "went out"
    WAITING = "on its way"
    FOLDED = "said within another"
    DROPPED = "no longer true"
    FAILED = "could not be delivered"


@dataclass(frozen=True, slots=True)
class Telling:
    """One message, however many phones it went to.

    Attributes:
        reminder: id of the reminder it tells of; 0 where it tells of none, or of several.
        episode: of that reminder.
        kind: what it is about.
        chamber: whose air it is about; empty where it is of none or of several.
        priority: as it was told.
        created: when it was written.
        told: when it first reached somebody; None until then.
        fate: the best that became of it at any phone.
    """

    reminder: int
    episode: int
    kind: Kind
    chamber: str
    priority: Priority
    created: datetime
    told: datetime | None
    fate: Fate


@dataclass(frozen=True, slots=True)
class Done:
    """One deed: recorded by a person, or found in the readings alone."""

    chamber: str
    deed: Deed
    at: datetime
    recorded: bool = True


@dataclass(frozen=True)  # no slots: it remembers what it has sorted
class Record:
    """A week and what is known of it.

    Attributes:
        start: of the week.
        end: of the week, not included.
        now: the time; before `end` where the week is not over.
        reminders: by their ids.
        episodes: that touch the week, and those of a day before and after it.
        tellings: of the same time.
        deeds: of the same time.
    """

    start: datetime
    end: datetime
    now: datetime
    reminders: Mapping[int, Reminder]
    episodes: Sequence[Episode]
    tellings: Sequence[Telling]
    deeds: Sequence[Done]

    @property
    def until(self) -> datetime:
        """Return up to when the week is known."""
        return max(self.start, min(self.end, self.now))

    @property
    def days(self) -> float:
        """Return how long it lasted so far, at least a day: two by breakfast are not six a day."""
        return max((self.until - self.start) / timedelta(days=1), 1.0)

    def holds(self, moment: datetime) -> bool:
        """Tell whether a moment lies in the week."""
        return self.start <= moment < self.end

    def asks(self, number: int) -> bool:
        """Tell whether a reminder is about the air or a sensor.

        What grows is not measured by the clock: a harvest may wait for days, and is answered in
        the growing record.
        """
        reminder = self.reminders.get(number)
        return reminder is not None and reminder.call not in TASK_CALLS

    @cached_property
    def announced(self) -> tuple[Episode, ...]:
        """Return the episodes about air and sensors that people could first hear of this week."""
        return tuple(
            episode
            for episode in self.episodes
            if episode.announced is not None
            and self.holds(episode.announced)
            and self.asks(episode.reminder)
        )

    def of(self, reminder: int) -> tuple[Episode, ...]:
        """Return all episodes of a reminder that people could hear of, this week or near it.

        They come in the order in which people could.
        """
        return self._by_reminder.get(reminder, ())

    @cached_property
    def _by_reminder(self) -> Mapping[int, tuple[Episode, ...]]:
        found: dict[int, list[Episode]] = {}
        for episode in self.episodes:
            if episode.announced is not None:
                found.setdefault(episode.reminder, []).append(episode)
        return {n: tuple(sorted(each, key=heard_from)) for n, each in found.items()}

    def heard_next(self, episode: Episode) -> datetime | None:
        """Return when people could hear of the next one of its reminder; None: there is none."""
        row = self.of(episode.reminder)
        place = bisect_right(row, heard_from(episode), key=heard_from)
        return heard_from(row[place]) if place < len(row) else None

    def told(self, episode: Episode) -> Telling | None:
        """Return the first message about an episode that went out; None: there was none."""
        return self._first_told.get((episode.reminder, episode.number))

    @cached_property
    def _first_told(self) -> Mapping[tuple[int, int], Telling]:
        out = (t for t in self.tellings if t.kind is Kind.REMINDER and t.fate is Fate.OUT)
        # The oldest is put last, so that it stays.
        latest_first = sorted(out, key=lambda telling: telling.created, reverse=True)
        return {(t.reminder, t.episode): t for t in latest_first}

    def answering(self, reminder: int) -> tuple[Done, ...]:
        """Return the deeds that can answer a reminder, of whatever time, oldest first."""
        asked = self.reminders[reminder]
        return self._by_call.get((asked.chamber, asked.call), ())

    @cached_property
    def _by_call(self) -> Mapping[tuple[str, Call], tuple[Done, ...]]:
        found: dict[tuple[str, Call], list[Done]] = {}
        for done in sorted(self.deeds, key=lambda each: each.at):
            for call in ANSWERS.get(done.deed, ()):
                found.setdefault((done.chamber, call), []).append(done)
        return {key: tuple(each) for key, each in found.items()}

    def deeds_from(self, reminder: int, start: datetime) -> tuple[Done, ...]:
        """Return the deeds that can answer a reminder, from a moment on, oldest first."""
        deeds = self.answering(reminder)
        return deeds[bisect_left(deeds, start, key=lambda done: done.at) :]

    def seen_to(self, reminder: int, start: datetime, end: datetime) -> bool:
        """Tell whether a deed that answers a reminder was done from one moment to another."""
        later = self.deeds_from(reminder, start)
        return bool(later) and later[0].at <= end

    def by_itself(self, episode: Episode, since: datetime) -> bool:
        """Tell whether an episode was over, and nobody had done anything about it from then on.

        No deed answers a sensor that is to be looked at, or air that is to be warmed: who said
        that they know while it held has perhaps seen to it.
        """
        ended, seen = episode.ended, episode.acknowledged
        if ended is None or self.seen_to(episode.reminder, since, ended):
            return False
        return self.reminders[episode.reminder].call in ANSWERED or seen is None or seen > ended


def middle(lengths: Iterable[timedelta]) -> timedelta | None:
    """Return the median; None where there are none."""
    seconds = [length.total_seconds() for length in lengths]
    return timedelta(seconds=median(seconds)) if seconds else None


def heard_from(episode: Episode) -> datetime:
    """Return when people could first hear of an episode; of one they never could, its raise."""
    return episode.announced or episode.raised
