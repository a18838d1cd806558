"""What is said of messages themselves: the test message, and those that did not arrive."""

from collections.abc import Iterable
from datetime import datetime, tzinfo
from typing import Final

from chamberwatch.core.wording import Message, clock_words

TRIAL: Final = "chamberwatch: a test message"

NAMED: Final = 3
"""So many messages are named in a line; of the others only their number is told."""


def trial(now: datetime, zone: tzinfo, *, links: bool, picture: bool) -> Message:
    """Write a test message."""
    lines = [f"Sent at {now.astimezone(zone):%H:%M} to see whether this address can be reached."]
    lines.append("Nothing is to be done.")
    if picture:
        lines.append("The picture shows the last six hours, as it goes with a reminder.")
    if not links:
        lines.append("Reminders to this address come without links, since web.address is not set.")
    return Message(TRIAL, " ".join(lines))


def on_its_way(address: str, count: int, failing: str, again: str) -> str:
    """Say that messages have not gone out yet.

    Args:
        address: name of the address.
        count: how many wait.
        failing: what `failing` makes of it.
        again: when it is tried next; empty: at once.
    """
    things = "A message" if count == 1 else f"{count} messages"
    has = "has" if count == 1 else "have"
    next_try = f" It is tried again at {again}." if again else " It is tried again now."
    return f"{things} to {address} {has} not gone out yet: {failing}.{next_try}"


def failing(since: datetime, now: datetime, zone: tzinfo, reason: str) -> str:
    """Say since when an address fails, and why."""
    return f"tried since {clock_words(since, now, zone)}; {reason}"


def given_up(address: str, titles: Iterable[str], reason: str) -> str:
    """Say that messages were given up."""
    return (
        f"Given up, since they say nothing new any more, were to {address}: {_quoted(titles)}. "
        f"The last reason: {reason}."
    )


def perhaps(address: str, titles: Iterable[str]) -> str:
    """Say that messages may have arrived or not."""
    return (
        f"May have arrived at {address} or not, since chamberwatch was stopped while sending: "
        f"{_quoted(titles)}."
    )


def _quoted(titles: Iterable[str]) -> str:
    known = list(titles)
    more = len(known) - NAMED
    named = ", ".join(f"“{title}”" for title in known[:NAMED])
    return f"{named} and {more} more" if more > 0 else named
