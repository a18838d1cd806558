"""Forms of one button, and the mark by which a double tap is known."""

import secrets
from dataclasses import dataclass
from datetime import timedelta
from typing import Final

LATER: Final = timedelta(minutes=30)
"""So long “not before” puts a reminder off."""


@dataclass(frozen=True, slots=True)
class Button:
    """A form of one button. `fields` go with it unseen."""

    id: str
    label: str
    says: str
    target: str
    fields: tuple[tuple[str, str], ...]
    main: bool


def mark() -> str:
    """Return a mark that no other form has."""
    return secrets.token_urlsafe(12)


def once_field() -> tuple[str, str]:
    """Return the field with the mark: a double tap sends the same form twice."""
    return ("once", mark())


def leads_back(chamber: str, *, whole: bool) -> tuple[str, str]:
    """Return the field that says where the answer leads: one chamber, or the page of all."""
    return ("back", "" if whole else chamber)
