"""What a person did."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Final

from chamberwatch.core.watch.reminder import Call


class Deed(StrEnum):
    """Kinds of action."""

    MISTED = "misted"
    VENTED = "vented"
    REFILLED = "refilled"
    OPENED = "opened"
    HARVESTED = "harvested"
    MOVED = "moved"
    SOAKED = "soaked"
    CLEANED = "cleaned"
    NOTED = "noted"


# The calls a deed answers.
ANSWERS: Final[dict[Deed, frozenset[Call]]] = {
    Deed.MISTED: frozenset({Call.MIST}),
    Deed.VENTED: frozenset({Call.VENT, Call.DRY_OFF}),
    Deed.REFILLED: frozenset({Call.REFILL}),
}


@dataclass(frozen=True, slots=True)
class Action:
    """One deed in one chamber, at one time.

    Attributes:
        id: given by the book; 0 before it is stored.
        chamber: name of the chamber.
        deed: what was done.
        at: when it was done, aware UTC.
        note: free words.
        recorded: when it was told to us.
        via: page, link or api.
        amount: grams sprayed into the air, or minutes vented; None: not said.
        standing_g: water put onto walls and into trays with a misting; None: not said. [g]
        advised: the amounts are what was advised, not what the person said.
        corrects: id of the deed that this one stands in for.
        withdrawn: what `corrects` names did not happen; the rest repeats what it said, and `note`
            says why.
    """

    id: int
    chamber: str
    deed: Deed
    at: datetime
    note: str
    recorded: datetime
    via: str
    amount: float | None = None
    standing_g: float | None = None
    advised: bool = False
    corrects: int | None = None
    withdrawn: bool = False


@dataclass(frozen=True, slots=True)
class Amounts:
    """How much was done; None: not said.

    Attributes:
        into_air_g: sprayed. [g]
        standing_g: put onto walls and into trays. [g]
        vent_minutes: left open. [min]
    """

    into_air_g: float | None = None
    standing_g: float | None = None
    vent_minutes: float | None = None

    def given(self) -> set[str]:
        """Return the names of those that were said."""
        names = ("into_air_g", "standing_g", "vent_minutes")
        return {name for name in names if getattr(self, name) is not None}


AIR_TAKES_G_PER_M3: Final = 2000.0
"""So much water sprayed into a chamber at once is a slip of the pen: at 30 °C all its air can hold
30 g/m3 as vapour, and what is sprayed beyond that stands on the walls."""

AIR_TAKES_G: Final = 500.0
"""The same where the volume isn't known: that of a quarter of a cubic metre. [g]"""


def most_into_air_g(volume_l: float | None) -> float:
    """Return the most water that can have been sprayed into a chamber at once. [g].

    Args:
        volume_l: free air of the chamber; None: not known. [L]
    """
    return AIR_TAKES_G if volume_l is None else AIR_TAKES_G_PER_M3 * volume_l / 1000.0


def too_much_words(squeeze_g: float) -> str:
    """Say that an amount is more than can have been sprayed.

    Args:
        squeeze_g: water of one squeeze of the bottle. [g]
    """
    return (
        "That is more than the air of this chamber could ever take; give grams, one squeeze is "
        f"about {squeeze_g:g} g."
    )


# The amounts a deed can have.
AMOUNTS: Final[dict[Deed, frozenset[str]]] = {
    Deed.MISTED: frozenset({"into_air_g", "standing_g"}),
    Deed.VENTED: frozenset({"vent_minutes"}),
}
