"""One message to one address, as it is kept."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from chamberwatch.core.watch.reminder import Priority


class OutState(StrEnum):
    """Where a message to one address stands."""

    WAITING = "waiting"
    SENDING = "sending"
    SENT = "sent"
    FAILED = "failed"
    DROPPED = "dropped"
    UNCERTAIN = "uncertain"
    FOLDED = "folded"
    """Said within another message."""


class OutKind(StrEnum):
    """What a message is about."""

    REMINDER = "reminder"
    RETURNED = "returned"
    SUMMARY = "summary"
    FORECAST = "forecast"
    EARLY = "early"
    TRIAL = "trial"


@dataclass(frozen=True, slots=True)
class OutRow:
    """One message to one address.

    Attributes:
        id: given by the book; 0 before it is stored.
        reminder: id of the reminder it tells of; 0 where it tells of none, or of several.
        episode: the episode it tells of.
        address: name of the address; the address itself may hold a secret and is not kept.
        title: first line.
        body: the rest, without links.
        priority: of the reminder when it was told.
        state: see `OutState`.
        created: when it was put here.
        next_try: not before.
        tries: how often it was tried.
        expires: not after.
        again: it may have been delivered before a crash.
        error: why the last try failed.
        kind: what it is about; only a reminder's is dropped once the reminder has returned.
        chamber: whose air it is about; empty where it is of none or of several.
        sent: when it went out.
    """

    id: int
    reminder: int
    episode: int
    address: str
    title: str
    body: str
    priority: Priority
    state: OutState
    created: datetime
    next_try: datetime
    tries: int = 0
    expires: datetime | None = None
    again: bool = False
    error: str = ""
    kind: OutKind = OutKind.REMINDER
    chamber: str = ""
    sent: datetime | None = None
