"""A number with where it came from and how far it may be off."""

from dataclasses import dataclass
from enum import StrEnum


class Origin(StrEnum):
    """Where a number came from, best first."""

    MEASURED = "measured"
    DECLARED = "declared"
    ASSUMED = "assumed"


@dataclass(frozen=True, slots=True)
class Figure:
    """A number that was measured in this chamber, declared by the grower, or assumed.

    Attributes:
        value: in the unit that the name of the field says.
        low: the truth hardly lies below; the value itself where that isn't known.
        high: the truth hardly lies above.
        origin: where it came from.
        count: how many measurements are behind it.
    """

    value: float
    low: float
    high: float
    origin: Origin
    count: int = 0

    @classmethod
    def declared(cls, value: float) -> "Figure":
        """Return a number that the grower stated."""
        return cls(value, value, value, Origin.DECLARED)

    @classmethod
    def assumed(cls, value: float, low: float, high: float) -> "Figure":
        """Return a number of common practice with its usual range."""
        return cls(value, low, high, Origin.ASSUMED)
