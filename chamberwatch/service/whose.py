"""What tells the record of one house from that of another, also in copies of it."""

import secrets
from typing import Final, Protocol

HOUSE: Final = "calendar.house"
"""Name of the kept text; the calendar was the first to need it."""


class Keeps(Protocol):
    """Kept texts, as far as they are needed here."""

    def text(self, name: str) -> str | None:
        """Return a kept text."""
        ...

    def keep_text(self, name: str, value: str) -> None:
        """Keep a text."""
        ...


def house_of(kept: Keeps) -> str:
    """Return what tells this house from others, made once and kept; `kept` is `book.kept`."""
    house = kept.text(HOUSE)
    if house is None:
        house = secrets.token_hex(8)
        kept.keep_text(HOUSE, house)
    return house
