"""Several things to do today, said in one message."""

from collections.abc import Sequence
from typing import Final

from chamberwatch.core.wording import Message

SAID_IN_FULL: Final = 6
"""More than so many in one message nobody reads on a phone; the rest stands on the list."""


def together(said: Sequence[Message]) -> Message:
    """Write one message for all; a single one stays as it is.

    Args:
        said: at least one, the most urgent first.
    """
    if len(said) == 1:
        return said[0]
    lines = [f"{each.title}. {each.body}" for each in said[:SAID_IN_FULL]]
    more = len(said) - SAID_IN_FULL
    if more > 0:
        lines.append(f"And {more} more on today's list.")
    return Message(f"{len(said)} things the crop asks for today", "\n".join(lines))
