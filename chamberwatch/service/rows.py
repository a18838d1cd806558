"""The one way in which a message becomes a row of the outbox."""

from datetime import datetime

from chamberwatch.core.watch.reminder import Priority, Reminder
from chamberwatch.core.wording import Message
from chamberwatch.service.books import OutKind, OutRow, OutState


def to_send(  # noqa: PLR0913 - what a message is made of
    address: str,
    words: Message,
    kind: OutKind,
    now: datetime,
    *,
    expires: datetime,
    priority: Priority = Priority.MEDIUM,
    chamber: str = "",
    reminder: Reminder | None = None,
) -> OutRow:
    """Return a message that is to be sent.

    Args:
        address: name of who is told.
        words: what is said.
        kind: what it is about.
        now: the time.
        expires: after that it says nothing new any more.
        priority: of the message.
        chamber: which it is about, where it is of no reminder; empty: of none, or of several.
        reminder: the one it tells of; None: none, or several.
    """
    return OutRow(
        id=0,
        reminder=reminder.id if reminder is not None else 0,
        episode=reminder.episode if reminder is not None else 0,
        address=address,
        title=words.title,
        body=words.body,
        priority=priority,
        state=OutState.WAITING,
        created=now,
        next_try=now,
        expires=expires,
        kind=kind,
        chamber=reminder.chamber if reminder is not None else chamber,
    )
