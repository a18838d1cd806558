"""How large the database becomes, and how much is written to the card each day.

The figures of a row are measured (see the constants); `tests/storage/test_storage_wear.py` holds
them against a real file. Others than ours write to a card too: the system's log, the broker.
"""

from dataclasses import dataclass
from datetime import timedelta
from typing import Final

DAY: Final = timedelta(days=1)
YEAR: Final = timedelta(days=365.25)

EMPTY_BYTES: Final = 200_000
"""A database with every table and no row. [B]"""
READING_BYTES: Final = 29
"""Of the file for each reading. Measured: 552,960 readings of eight series, every 5 s. [B]"""
SUMMARY_BYTES: Final = 55
"""Of the file for each row of sums. Measured: 124,520 rows of the same four days. [B]"""
COARSE_ROWS: Final = 96 + 24 + 1
"""Rows of a day of one line: its quarter-hours, hours, and itself; minutes come on top."""
MINUTES: Final = 1440

COMMIT_BYTES: Final = 18_000
"""Written for each transaction that keeps readings, whatever they are: pages of the log, and the
same pages of the file. Measured with 8 to 160 series, of which the two figures make 85 to 115 %;
with one series it is 11,000. [B]"""
ROW_BYTES: Final = 70
"""Written for each reading in it, likewise. [B]"""
DROPPED_BYTES: Final = 30
"""Written for each reading that is dropped once it is old. Measured: 20,000 in one go. [B]"""
ROWS_AT_MOST: Final = 500
"""So many readings wait for a commit at the most."""


@dataclass(frozen=True, slots=True)
class Load:
    """What a house sends, as far as it fills a card.

    Attributes:
        series: how many series of readings there are: each quantity of each sensor.
        lines: how many are summed up; those that follow from temperature and humidity count too.
        per_day: readings of all of them in a day. [1/d]
        commit_every: how long readings wait to be written together.
        keep: how long single readings stay.
    """

    series: int
    lines: int
    per_day: float
    commit_every: timedelta
    keep: timedelta

    @property
    def sums_per_day(self) -> float:
        """Return how many rows of sums a day makes. [1/d]."""
        if not self.series:
            return 0.0
        return self.lines * (COARSE_ROWS + min(MINUTES, self.per_day / self.series))


def file_bytes(load: Load, after: timedelta) -> float:
    """Return how large the file is after so long: readings up to what stays, all sums. [B]."""
    days = after / DAY
    readings = load.per_day * min(days, load.keep / DAY) * READING_BYTES
    return EMPTY_BYTES + readings + load.sums_per_day * days * SUMMARY_BYTES


def written_per_day_bytes(load: Load) -> float:
    """Return how much goes to the card in a day, once readings are as old as they become. [B].

    Args:
        load: what the house sends.
    """
    if not load.per_day:
        return 0.0
    commits = max(min(DAY / load.commit_every, load.per_day), load.per_day / ROWS_AT_MOST)
    quarters = 96
    readings = commits * COMMIT_BYTES + load.per_day * (ROW_BYTES + DROPPED_BYTES)
    return readings + quarters * COMMIT_BYTES + load.sums_per_day * ROW_BYTES


@dataclass(frozen=True, slots=True)
class Card:
    """What the database takes on its disk, and what this process wrote.

    Attributes:
        file_bytes: of the file. [B]
        log_bytes: of its log, which is folded back into it again and again. [B]
        free_bytes: of the file, for the next rows: what was dropped left it. [B]
        written_bytes: by this process since it began, to any disk; None: the kernel doesn't say.
    """

    file_bytes: int
    log_bytes: int
    free_bytes: int
    written_bytes: int | None
