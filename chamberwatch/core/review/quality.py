"""How well the reminders do their work, in the figures of alarm management.

The names are those of ANSI/ISA-18.2 and IEC 62682. Marked *[memory]*: recalled and not read in the
standard; *[read]*: in a source that quotes it; *[ours]*: made for a home, where one person looks
after a few chambers and the standards' tables of an operator at a desk say little.
"""

from bisect import bisect_right
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core.review.episode import Episode
from chamberwatch.core.review.record import (
    LOOK_ON,
    Fate,
    Kind,
    Record,
    Telling,
    heard_from,
    middle,
)
from chamberwatch.core.watch.reminder import Call, Priority

CHATTERS: Final = 3
CHATTERS_WITHIN: Final = timedelta(minutes=1)
"""Chattering flips in and out repeatedly; the common test is 3 or more in 1 min [memory]."""

CHATTERS_AT_HOME_WITHIN: Final = timedelta(hours=1)
"""The same 3 in an hour [ours]: with an on-delay and an off-delay of minutes nothing can be raised
three times in one minute, but three times in an hour wears a person out as surely."""

FLEETS_WITHIN: Final = timedelta(minutes=15)
"""Fleeting clears before anyone could act and does not at once repeat [memory]. Within a quarter
of an hour of the raise [ours]: about as long as somebody at home takes to get to the chamber."""

REPEATS_WITHIN: Final = timedelta(minutes=15)
"""What is raised again so soon after it cleared did at once repeat [ours]."""

STALE_AFTER: Final = timedelta(hours=24)
"""Stale stays on for a long time, typically more than 24 h [memory]."""

STALE_AT_MOST: Final = 5
"""Fewer than this on any day [memory]."""

A_DAY: Final = (2.0, 5.0)
"""Messages a day that one person bears at home: at most 2 to 5 (common practice). The standard's
150 a day is for somebody who does nothing else [read]; its 2016 edition dropped the figure."""

SPLIT: Final[Mapping[Priority, float]] = {
    Priority.LOW: 0.80,
    Priority.MEDIUM: 0.15,
    Priority.HIGH: 0.05,
}
"""How the priorities should be spread: about 80, 15 and 5 % [read]."""

MOST_FREQUENT: Final = 10
MOST_FREQUENT_SHARE: Final = (0.01, 0.05)
"""The ten most frequent make less than 1 % to 5 % of all [memory]. It says something only where
many more than ten speak, as in a plant; at home hardly ever."""

FLOOD_WITHIN: Final = timedelta(minutes=10)
FLOOD_ABOVE: Final = 10
FLOOD_BELOW: Final = 5
"""A flood starts with more than 10 in 10 min and ends with fewer than 5 in 10 min [memory]."""


@dataclass(frozen=True, slots=True)
class Cause:
    """What messages were about, and how many there were.

    Attributes:
        chamber: whose air; empty for none or several.
        call: what was asked; None where nothing was.
        subject: the sensor that was to be looked at; empty elsewhere.
        kind: of the messages.
        messages: how many.
    """

    chamber: str
    call: Call | None
    subject: str
    kind: Kind
    messages: int


@dataclass(frozen=True, slots=True)
class Stale:
    """A reminder that was on for longer than a day.

    Attributes:
        reminder: its id.
        since: when it was raised.
        lasted: so long, up to the end of the week.
    """

    reminder: int
    since: datetime
    lasted: timedelta


@dataclass(frozen=True, slots=True)
class Flood:
    """More messages at once than a person can take in."""

    start: datetime
    end: datetime
    messages: int


@dataclass(frozen=True, slots=True)
class Quality:
    """The figures of one week. A message counts once, however many phones it went to.

    Attributes:
        days: that the week has lasted so far, at least 1.
        messages: that went out.
        per_day: of them.
        by_priority: of them.
        by_cause: of them, the most frequent first.
        not_sent: what else became of messages: folded into another, no longer true, failed.
        episodes: how often a cause of the air or of a sensor began to hold, shelved ones left out.
        told: of these, how many a message told of.
        acknowledged: of these, to how many a person said that they know.
        answered: to how many of those told came a deed or a “seen”.
        median_to_action: from the message to it; None where none came.
        chattering: raises that stand in a row of 3 or more within an hour.
        chattering_strictly: within a minute, as the standard has it.
        fleeting: episodes that were over before anybody could act, and did not come back.
        stale: those on for longer than 24 h.
        most_frequent_share: of the ten most frequent reminders in the messages about reminders;
            None where no more than ten spoke, since the share is then all of them.
        floods: more messages at once than a person can take in.
    """

    days: float
    messages: int
    per_day: float
    by_priority: Mapping[Priority, int]
    by_cause: Sequence[Cause]
    not_sent: Mapping[Fate, int]
    episodes: int
    told: int
    acknowledged: int
    answered: int
    median_to_action: timedelta | None
    chattering: int
    chattering_strictly: int
    fleeting: int
    stale: Sequence[Stale]
    most_frequent_share: float | None
    floods: Sequence[Flood]

    @property
    def acknowledged_share(self) -> float | None:
        """Return which part of what was told a person said they know of; None: nothing was."""
        return self.acknowledged / self.told if self.told else None


def quality(record: Record) -> Quality:
    """Return the figures of a week."""
    ours = [t for t in record.tellings if record.holds(t.created)]
    out = [t for t in ours if t.fate is Fate.OUT]
    announced = record.announced
    told = [(e, t) for e in announced if (t := record.told(e)) is not None]
    waited = [w for e, t in told if (w := to_action(record, e, t)) is not None]
    return Quality(
        days=record.days,
        messages=len(out),
        per_day=len(out) / record.days,
        by_priority={p: sum(t.priority is p for t in out) for p in Priority},
        by_cause=_causes(record, out),
        not_sent=dict(Counter(t.fate for t in ours if t.fate is not Fate.OUT)),
        episodes=len(announced),
        told=len(told),
        acknowledged=sum(e.acknowledged is not None for e, _ in told),
        answered=len(waited),
        median_to_action=middle(waited),
        chattering=len(chattering(record)),
        chattering_strictly=len(chattering(record, CHATTERS_WITHIN)),
        fleeting=len(fleeting(record)),
        stale=stale(record),
        most_frequent_share=_most_frequent_share(out),
        floods=floods([t.told or t.created for t in out]),
    )


# ---------------------------------------------------------------------- messages


def _causes(record: Record, out: Sequence[Telling]) -> tuple[Cause, ...]:
    counted = Counter(_about(record, t) for t in out)
    found = (Cause(*about, messages) for about, messages in counted.items())
    return tuple(
        sorted(found, key=lambda c: (-c.messages, c.chamber, c.call or "", c.subject, c.kind))
    )


def _about(record: Record, telling: Telling) -> tuple[str, Call | None, str, Kind]:
    reminder = record.reminders.get(telling.reminder)
    if reminder is None:
        return telling.chamber, None, "", telling.kind
    return reminder.chamber, reminder.call, reminder.subject, telling.kind


def _most_frequent_share(out: Sequence[Telling]) -> float | None:
    spoke = Counter(t.reminder for t in out if t.kind is Kind.REMINDER)
    if len(spoke) <= MOST_FREQUENT:
        return None
    return sum(n for _, n in spoke.most_common(MOST_FREQUENT)) / spoke.total()


def to_action(record: Record, episode: Episode, telling: Telling) -> timedelta | None:
    """Return how long after a message somebody acted, or said that they had seen it.

    Counted up to the next raise of the same reminder, which has a message of its own, and no
    longer than a day. What was done before the message went out is no answer to it.
    """
    told = telling.told or telling.created
    last = min(record.heard_next(episode) or told + LOOK_ON, told + LOOK_ON)
    deeds = record.deeds_from(episode.reminder, told)
    done = next((deed.at for deed in deeds if deed.recorded), None)
    answers = [at for at in (done, episode.acknowledged) if at is not None]
    return min((at - told for at in answers if told <= at <= last), default=None)


def floods(times: Sequence[datetime]) -> tuple[Flood, ...]:
    """Return the floods among moments at which something was told, oldest first."""
    ordered, found = sorted(times), list[Flood]()
    start: datetime | None = None
    since = 0
    for place, moment in enumerate(ordered):
        lately = place + 1 - bisect_right(ordered, moment - FLOOD_WITHIN)
        if start is None and lately > FLOOD_ABOVE:
            since = place + 1 - lately
            start = ordered[since]
        elif start is not None and lately < FLOOD_BELOW:
            found.append(Flood(start, ordered[place - 1], place - since))
            start = None
    if start is not None:
        found.append(Flood(start, ordered[-1], len(ordered) - since))
    return tuple(found)


# ---------------------------------------------------------------------- episodes


def chattering(
    record: Record, within: timedelta = CHATTERS_AT_HOME_WITHIN
) -> frozenset[tuple[int, int]]:
    """Return the episodes of the week that stand in a row of 3 or more raises within so long.

    A row may have begun before the week, or go on after it.
    """
    caught: set[tuple[int, int]] = set()
    for number in {e.reminder for e in record.announced}:
        row = record.of(number)
        for place in range(len(row) - CHATTERS + 1):
            few = row[place : place + CHATTERS]
            if heard_from(few[-1]) - heard_from(few[0]) <= within:
                caught |= {(e.reminder, e.number) for e in few if record.holds(heard_from(e))}
    return frozenset(caught)


def fleeting(record: Record) -> tuple[Episode, ...]:
    """Return the episodes of the week that were over before anybody could act.

    Left out: those that a deed ended, recorded or found in the readings; those that came back at
    once; those that chatter, which are counted as that.
    """
    rows = chattering(record)
    return tuple(
        episode
        for episode in record.announced
        if (episode.reminder, episode.number) not in rows and _fleets(record, episode)
    )


def _fleets(record: Record, episode: Episode) -> bool:
    ended, heard = episode.ended, heard_from(episode)
    if ended is None or ended - heard > FLEETS_WITHIN or not record.by_itself(episode, heard):
        return False
    again = record.heard_next(episode)
    return again is None or again > ended + REPEATS_WITHIN


def stale(record: Record) -> tuple[Stale, ...]:
    """Return what was on for longer than a day at some time of the week, the longest first.

    A shelf hides it from people and not from the air, so shelved time counts; time out of
    service does not.
    """
    found = []
    for episode in record.episodes:
        over = min(end for end in (episode.ended, episode.out, record.until) if end is not None)
        due = episode.raised + STALE_AFTER
        if record.asks(episode.reminder) and max(due, record.start) < over:
            found.append(Stale(episode.reminder, episode.raised, over - episode.raised))
    return tuple(sorted(found, key=lambda s: (-s.lasted, s.reminder)))
