"""The calendar that phones subscribe to: what is due, what can be done, and planned starts.

Each window is one event, and keeps its name while it moves. What was last sent of each is kept, so
that a revision has a higher number and the time of its change, and nothing looks changed that
isn't.
"""

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict
from datetime import date, datetime, timedelta, tzinfo
from typing import Final

from chamberwatch.core.growing.due import DueKind, Window
from chamberwatch.core.growing.due_words import start_title, task_words
from chamberwatch.core.growing.task import start_task
from chamberwatch.core.sentence import within
from chamberwatch.service.books import Book
from chamberwatch.service.growing.duties import DueNow, TaskNow
from chamberwatch.service.growing.growing import Growing
from chamberwatch.service.whose import HOUSE, house_of
from chamberwatch.web.calendar_entry import Dated, Sent
from chamberwatch.web.desk import Desk
from chamberwatch.web.language import _, marked

MEDIA: Final = "text/calendar; charset=utf-8"

SENT_NAME: Final = "calendar.sent"
KEPT_FOR: Final = timedelta(days=400)
"""What is no longer in the feed is remembered so long: a correction may bring it back."""


def feed(desk: Desk, growing: Growing) -> bytes:
    """Return the whole calendar."""
    now = desk.clock.now()
    dated = events(growing, now, desk.zone)
    with desk.books.read() as book:
        house, before = book.kept.text(HOUSE), _read_back(book)
    sent = revised(before, dated, now)
    if house is None or sent != before:
        with desk.books.write() as book:
            # Two phones may ask at the same moment; what the other was sent holds.
            house = house_of(book.kept)
            sent = revised(_read_back(book), dated, now)
            book.kept.keep_text(SENT_NAME, json.dumps({k: asdict(s) for k, s in sent.items()}))
    # The library takes 4 MB, and many a house subscribes to no calendar.
    from chamberwatch.web.calendar_file import written

    return written(dated, sent, house)


# ------------------------------------------------------------------ what stands in it


def events(growing: Growing, now: datetime, zone: tzinfo) -> tuple[Dated, ...]:
    """Return all events, the first ones first; a task takes the place of what is due."""
    tasks = {each.task.key: each for each in growing.duties.tasks()}
    found = [
        _due(each, growing, zone) for each in growing.duties.dues() if each.due.key not in tasks
    ]
    today = now.astimezone(zone).date()
    found += [_task(each, today, zone) for each in tasks.values() if each.task.batch is not None]
    found += _starts(growing, now, zone)
    return tuple(sorted(found, key=lambda event: (event.first, event.key)))


def _due(now_due: DueNow, growing: Growing, zone: tzinfo) -> Dated:
    due = now_due.due
    species = growing.record.batches()[due.batch].start.species
    name = within(growing.table.known(species).title)
    what = "harvest" if due.kind is DueKind.FLUSH else due.kind.value
    flush = f", flush {due.flush}" if due.kind in _OF_FLUSH else ""
    title = f"Batch {due.batch} ({name}): {what}{flush}"
    return Dated(due.key, *_days(due.window, zone), title, now_due.words)


_OF_FLUSH: Final = frozenset({DueKind.PINS, DueKind.HARVEST, DueKind.FLUSH})


def _task(task: TaskNow, today: date, zone: tzinfo) -> Dated:
    """Write a task; one that is overdue stays on today's page."""
    first, last = _days(task.task.window, zone)
    return Dated(task.task.key, first, max(last, today), task.title, task.body)


def _days(window: Window, zone: tzinfo) -> tuple[date, date]:
    return window.low.astimezone(zone).date(), window.high.astimezone(zone).date()


def _starts(growing: Growing, now: datetime, zone: tzinfo) -> Iterator[Dated]:
    """Yield planned starts, each named by its turn: its day moves, and its name stays.

    One that waits stays on today's page.
    """
    today = now.astimezone(zone).date()
    for start in growing.rotating.starts():
        species = growing.table.known(start.species)
        body = _(_SOON)
        if start.on <= today:
            task = start_task([start], now.astimezone(zone))
            body = task_words(task, None, species, now, zone).body
        key = f"start-{start.species}-{start.turn}"
        yield Dated(key, start.on, max(start.on, today), start_title(species), body)


_SOON: Final = marked(
    "The rotation plans it for this day. Order or make the spawn and have substrate ready; the "
    "day moves with what you start and pick."
)


# ------------------------------------------------------------------ what was sent before


def revised(before: Mapping[str, Sent], dated: Iterable[Dated], now: datetime) -> dict[str, Sent]:
    """Return what is sent of each event now, and what is remembered of those gone.

    Args:
        before: what was sent last.
        dated: the events there are.
        now: the time of the changes.
    """
    seconds = int(now.timestamp())
    oldest = seconds - int(KEPT_FOR.total_seconds())
    sent = {key: old for key, old in before.items() if old.changed >= oldest}
    for event in dated:
        days = f"{event.first}/{event.last}"
        text = hashlib.sha256(f"{event.title}\n{event.body}".encode()).hexdigest()[:16]
        old = before.get(event.key)
        if old is None:
            sent[event.key] = Sent(days, text, 0, seconds)
        elif (old.days, old.text) == (days, text):
            sent[event.key] = old
        else:
            moved = old.sequence + (old.days != days)
            sent[event.key] = Sent(days, text, moved, max(seconds, old.changed))
    return sent


def _read_back(book: Book) -> dict[str, Sent]:
    kept = json.loads(book.kept.text(SENT_NAME) or "{}")
    return {key: Sent(**sent) for key, sent in kept.items()}
