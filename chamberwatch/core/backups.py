"""Backups by name and time: which of them stay."""

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from typing import Final

_NAME: Final = re.compile(r"chamberwatch-(\d{8}-\d{6})\.db")
_TIME: Final = "%Y%m%d-%H%M%S"


def name_of(at: datetime) -> str:
    """Return what a backup of a time is called: its time is UTC, to the second."""
    return f"chamberwatch-{at.astimezone(UTC):{_TIME}}.db"


def time_of(name: str) -> datetime | None:
    """Return the time of a backup by its name, None where it is no backup's."""
    match = _NAME.fullmatch(name)
    try:
        return datetime.strptime(match[1], _TIME).replace(tzinfo=UTC) if match else None
    except ValueError:
        return None


@dataclass(frozen=True, slots=True)
class Stay:
    """How many stay: the newest of each of so many days, weeks and months that have any."""

    days: int
    weeks: int
    months: int


def staying(times: Iterable[datetime], stay: Stay, zone: tzinfo) -> frozenset[datetime]:
    """Return which backups stay; the newest always does.

    Counted in days, weeks and months in which there is a backup: a year without any makes none of
    the old ones go.

    Args:
        times: of all there are.
        stay: how many.
        zone: whose days, weeks and months count.
    """
    newest_first = sorted(set(times), reverse=True)
    parts: tuple[tuple[int, Callable[[datetime], object]], ...] = (
        (stay.days, lambda at: at.date()),
        (stay.weeks, lambda at: at.isocalendar()[:2]),
        (stay.months, lambda at: (at.year, at.month)),
    )
    found = set(newest_first[:1])
    for most, period in parts:
        newest: dict[object, datetime] = {}
        for at in newest_first:
            newest.setdefault(period(at.astimezone(zone)), at)
        found.update(list(newest.values())[:most])
    return frozenset(found)


@dataclass(frozen=True, slots=True)
class BackupStand:
    """How it stands with backups.

    Attributes:
        file: of the last that was made and found sound; empty: none ever was.
        at: the moment that it shows.
        size: of that file. [B]
        trouble: why there is none since, in plain words with the cure; empty: it went well.
        since: when that trouble was first met.
        amiss: why it is gone, or none could be made at this moment, likewise; empty: all well.
    """

    file: str = ""
    at: datetime | None = None
    size: int = 0
    trouble: str = ""
    since: datetime | None = None
    amiss: str = ""
