"""The calendar as it is sent, by RFC 5545 and RFC 7986: each window is an event of whole days.

There is no METHOD: the feed is a snapshot that asks nobody to come (RFC 5545 section 3.7.2), so
DTSTAMP is the time of the last change (3.8.7.2).
"""

from collections.abc import Iterable, Mapping
from datetime import UTC, datetime, timedelta
from typing import Final

from icalendar import Calendar, Event, Timezone, TimezoneStandard, vDuration

from chamberwatch.core.sentence import plain
from chamberwatch.web.calendar_entry import Dated, Sent

PRODUCT: Final = "-//chamberwatch//growing record//EN"
NAME: Final = "Growing"
FETCH_EVERY: Final = timedelta(hours=3)
A_DAY: Final = timedelta(days=1)


def written(dated: Iterable[Dated], sent: Mapping[str, Sent], house: str) -> bytes:
    """Return the calendar of these events.

    Args:
        dated: the events, the first ones first.
        sent: what is sent of each, by its key.
        house: tells this installation from others.
    """
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("uid", f"{house}@chamberwatch")
    # NAME and REFRESH-INTERVAL are of RFC 7986; the other two are what many read in their place.
    calendar.add("name", NAME)
    calendar.add("x-wr-calname", NAME)
    calendar.add("refresh-interval", FETCH_EVERY, parameters={"VALUE": "DURATION"})
    calendar.add("x-published-ttl", vDuration(FETCH_EVERY))  # of no type that the library knows
    for event in dated:
        calendar.add_component(_event(event, sent[event.key], house))
    if not calendar.subcomponents:
        calendar.add_component(_nothing())
    return bytes(calendar.to_ical())


def _event(dated: Dated, sent: Sent, house: str) -> Event:
    changed = datetime.fromtimestamp(sent.changed, UTC)
    event = Event()
    event.add("uid", f"{dated.key}.{house}@chamberwatch")
    event.add("dtstamp", changed)
    event.add("last-modified", changed)
    event.add("sequence", sent.sequence)
    event.add("dtstart", dated.first)
    event.add("dtend", dated.last + A_DAY)  # the first day that is no longer in it
    # RFC 5545 section 3.1 takes control characters in no text.
    event.add("summary", plain(dated.title))
    event.add("description", plain(dated.body))
    event.add("transp", "TRANSPARENT")  # a window blocks nobody's time
    return event


def _nothing() -> Timezone:
    """Return what an empty calendar holds: section 3.6 asks for at least one component."""
    standard = TimezoneStandard()
    standard.add("dtstart", datetime(1970, 1, 1))  # noqa: DTZ001 - local time, by section 3.6.5
    standard.add("tzoffsetfrom", timedelta(0))
    standard.add("tzoffsetto", timedelta(0))
    zone = Timezone()
    zone.add("tzid", "UTC")
    zone.add_component(standard)
    return zone
