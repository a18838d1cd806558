"""A stretch of time, as everything that is kept is asked for it."""

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True)
class Span:
    """A half-open stretch of time: start <= t < end."""

    start: datetime
    end: datetime
