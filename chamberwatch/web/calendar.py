"""The calendar that phones subscribe to: what is due, what can be done, and planned starts.

RFC 5545 and RFC 7986. Each window is one event of whole days, and keeps its UID while it moves. What was last
sent of each is kept, so that a revision has a higher SEQUENCE and the time of its change, and
nothing looks changed that isn't. There is no METHOD: the feed is a snapshot that asks nobody to
come (RFC 5545 section 3.7.2), so DTSTAMP is the time of the last change (section 3.8.7.2).
"""

import hashlib
import json
import re
import secrets
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo
from typing import Final

from icalendar import Calendar, Event, Timezone, TimezoneStandard

from chamberwatch.core.growing.due_words import lower_first
from chamberwatch.core.growing.due import Due, DueKind, Window
from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.core.growing.task import TaskKind
from chamberwatch.service.books import Book
from chamberwatch.service.growing.duties import DueNow, TaskNow
from chamberwatch.service.growing.growing import Growing
from chamberwatch.web.desk import Desk

MEDIA: Final = "text/calendar; charset=utf-8"
PRODUCT: Final = "-//chamberwatch//growing record//EN"
NAME: Final = "Growing"
FETCH_EVERY: Final = timedelta(hours=3)

HOUSE_NAME: Final = "calendar.house"
SENT_NAME: Final = "calendar.sent"
KEPT_FOR: Final = timedelta(days=400)
"""What is no longer in the feed is remembered so long: a correction may bring it back."""

A_DAY: Final = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Dated:
    """One event.

    Attributes:
        key: stays the same while the days move.
        first: its first day.
        last: its last day.
        title: one line.
        body: the rest.
    """

    key: str
    first: date
    last: date
    title: str
    body: str


@dataclass(frozen=True, slots=True)
class Sent:
    """What was last sent of an event.

    Attributes:
        days: first and last.
        text: digest of its words.
        sequence: how often its days have moved.
        changed: when days or words last changed, in s since 1970.
    """

    days: str
    text: str
    sequence: int
    changed: int


def feed(desk: Desk, growing: Growing) -> bytes:
    """Return the whole calendar."""
    now = desk.clock.now()
    dated = events(growing, now, desk.zone)
    with desk.books.read() as book:
        house, before = book.kept.text(HOUSE_NAME), _read_back(book)
    sent = revised(before, dated, now)
    if house is None or sent != before:
        with desk.books.write() as book:
            # Two phones may ask at the same moment; what the other was sent holds.
            house = _house(book)
            sent = revised(_read_back(book), dated, now)
            book.kept.keep_text(SENT_NAME, json.dumps({k: asdict(s) for k, s in sent.items()}))
    return _written(dated, sent, house)


# ------------------------------------------------------------------ what stands in it


def events(growing: Growing, now: datetime, zone: tzinfo) -> tuple[Dated, ...]:
    """Return all events, the first ones first; a task takes the place of what is due."""
    tasks = {each.task.key: each for each in growing.duties.tasks()}
    dues = {each.due.key: each for each in growing.duties.dues()}
    found = [_due(each, growing.table, zone) for key, each in dues.items() if key not in tasks]
    found += [_task(t.task.key, t, now, zone) for t in tasks.values() if t.task.batch is not None]
    found += _starts(growing, tasks, now, zone)
    return tuple(sorted(found, key=lambda event: (event.first, event.key)))


def _due(due: DueNow, table: SpeciesTable, zone: tzinfo) -> Dated:
    first, last = _days(due.due.window, zone)
    return Dated(due.due.key, first, last, _title(due.due), due.words)


def _title(due: Due) -> str:
    what = "harvest" if due.kind is DueKind.FLUSH else due.kind.value
    flush = f", flush {due.flush}" if due.kind in _OF_FLUSH else ""
    return f"Batch {due.batch}: {what}{flush}"


_OF_FLUSH: Final = frozenset({DueKind.PINS, DueKind.HARVEST, DueKind.FLUSH})


def _task(key: str, task: TaskNow, now: datetime, zone: tzinfo) -> Dated:
    """Write a task; one that is overdue stays on today's page."""
    first, last = _days(task.task.window, zone)
    today = now.astimezone(zone).date()
    return Dated(key, first, max(last, today) if task.overdue else last, task.title, task.body)
