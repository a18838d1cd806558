"""An event of the calendar, and what was last sent of it."""

from dataclasses import dataclass
from datetime import date


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
