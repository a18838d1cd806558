"""A correction of one sensor, with who made it, when, and how."""

from dataclasses import dataclass
from datetime import datetime

from chamberwatch.core.watch.reading import Quantity


@dataclass(frozen=True, slots=True)
class Calibration:
    """From `at` on, a reading is worth slope x raw + offset.

    Attributes:
        id: given by the book; 0 before it is stored.
        sensor: name of the sensor.
        quantity: of which quantity.
        slope: 1.0 leaves it.
        offset: in the unit of the quantity; 0.0 leaves it.
        at: readings from this time on are corrected.
        who: the person who did it.
        how: in words: salts, temperatures, what was read.
        recorded: when it was told to us.
    """

    id: int
    sensor: str
    quantity: Quantity
    slope: float
    offset: float
    at: datetime
    who: str
    how: str
    recorded: datetime
