"""The pictures of messages: from the book's readings to what a phone shows."""

import logging
from collections.abc import Callable, Iterable
from datetime import tzinfo

from chamberwatch.core.shown_in import ShownIn
from chamberwatch.core.watch.chamber import House
from chamberwatch.core.watch.reminder import Reminder
from chamberwatch.notify.picture import Painter
from chamberwatch.service.books import Books, OutRow
from chamberwatch.service.picturing import Picturing
from chamberwatch.service.ports import Clock, Messenger

log = logging.getLogger(__name__)

Picture = Callable[[OutRow, Reminder | None], bytes | None]


def pictures(
    books: Books,
    clock: Clock,
    house: House,
    zone: tzinfo,
    messengers: Iterable[Messenger],
    shown_in: ShownIn,
) -> Picture | None:
    """Return what makes the pictures, None where no address takes any or this machine can't.

    What is missing is said here once, in the log, and not with every message.
    """
    if not any(messenger.pictures for messenger in messengers):
        return None
    painter = Painter()
    if painter.missing:
        log.warning("%s", painter.missing)
        return None
    return Picturing(books, clock, house, zone, painter.paint, shown_in).of
