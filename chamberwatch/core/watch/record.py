"""What is remembered of a chamber, ready to be learnt from."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from chamberwatch.core.watch.action import Action
from chamberwatch.core.watch.found import Exchange, Found
from chamberwatch.core.watch.ledger import Minute


@dataclass(frozen=True, slots=True)
class Stood:
    """A minute, and the water that stood then. [g]."""

    minute: Minute
    standing_g: float


@dataclass(frozen=True, slots=True)
class Record:
    """What there is to learn from, of one chamber.

    Attributes:
        minutes: its air, oldest first, with the water that stood.
        found: mistings and ventings, oldest first; those the grower denied left out.
        exchanges: fits of its CO2, oldest first.
        actions: recorded deeds by id.
    """

    minutes: Sequence[Stood]
    found: Sequence[Found]
    exchanges: Sequence[Exchange]
    actions: Mapping[int, Action]
