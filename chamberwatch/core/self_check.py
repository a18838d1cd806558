"""What the watcher finds when it looks itself over: clock, disk, broker, database, each one line.

A line says that it is well, or what is wrong and the cure. What was found comes as plain facts;
looking is for the edges.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

CLOCK: Final = "clock"
DISK: Final = "disk"
BROKER: Final = "broker"
DATABASE: Final = "database"

MEGABYTE: Final = 1_000_000
ENOUGH_BYTES: Final = 500 * MEGABYTE
"""About ten days of a tent with three sensors that speak every five seconds."""
BEHIND: Final = timedelta(minutes=2)
"""Readings may lie so far ahead of a good clock."""


@dataclass(frozen=True, slots=True)
class SelfCheck:
    """One line.

    Attributes:
        name: of what.
        well: nothing needs to be done.
        words: how it is, or what is wrong and the cure.
    """

    name: str
    well: bool
    words: str


@dataclass(frozen=True, slots=True)
class Disk:
    """Where the database lies.

    Attributes:
        place: the folder.
        free_bytes: left for us; None: it could not be asked.
        writable: we may write there, and into the database if it is there.
        trouble: why it could not be asked.
    """

    place: str
    free_bytes: int | None
    writable: bool
    trouble: str = ""


@dataclass(frozen=True, slots=True)
class Database:
    """The file of the database.

    Attributes:
        file: where it is.
        there: whether it is there; at the first start it is made.
        trouble: why it can't be used, with the cure.
        steps_missing: steps of the schema that the next start takes.
        damage: what the look through it found first; empty: nothing.
        looked_through: all of it, and not only as far as the time reached.
        budget_s: how long it might be looked through. [s]
        newest: time of the newest reading in it.
    """

    file: str
    there: bool = True
    trouble: str = ""
    steps_missing: int = 0
    damage: str = ""
    looked_through: bool = True
    budget_s: float = 0.0
    newest: datetime | None = None


def clock(now: datetime, newest: datetime | None, *, synchronised: bool) -> SelfCheck:
    """Say whether the clock of this machine can be believed.

    Args:
        now: what it says.
        newest: time of the newest reading that is kept.
        synchronised: the kernel holds it to be set by a time service.
    """
    told = f"{now:%Y-%m-%d %H:%M} UTC"
    if newest is not None and now < newest - BEHIND:
        return SelfCheck(
            CLOCK,
            well=False,
            words=f"The clock says {told}, but the newest reading is of {newest:%Y-%m-%d %H:%M} "
            "UTC. Set the clock (timedatectl set-ntp true, and look at the network); readings "
            "without a time of their own wait until it is right.",
        )
    if not synchronised:
        return SelfCheck(
            CLOCK,
            well=True,
            words=f"The clock says {told}; no time service vouches for it. If that is wrong, "
            "set it: timedatectl set-ntp true.",
        )
    return SelfCheck(CLOCK, well=True, words=f"A time service sets the clock; it is {told}.")


def disk(found: Disk) -> SelfCheck:
    """Say whether there is room for what is to be kept."""
    if found.free_bytes is None:
        words = f"The disk at {found.place} can't be looked at: {found.trouble}. Look at the path."
        return SelfCheck(DISK, well=False, words=words)
    if not found.writable:
        words = (
            f"{found.place} can't be written. Give the account that runs chamberwatch the right "
            "to write there; if the whole disk can't be written any more, it wants replacing."
        )
        return SelfCheck(DISK, well=False, words=words)
    free = _megabytes(found.free_bytes)
    if found.free_bytes < ENOUGH_BYTES:
        words = (
            f"Only {free} are free at {found.place}, which is days and not weeks. Make room, or "
            "move the database to a larger disk."
        )
        return SelfCheck(DISK, well=False, words=words)
    return SelfCheck(DISK, well=True, words=f"{free} are free at {found.place}.")


def _megabytes(count: int) -> str:
    if count >= 1000 * MEGABYTE:
        return f"{count / (1000 * MEGABYTE):.1f} GB"
    return f"{count // MEGABYTE} MB"


def broker(address: str, trouble: str | None) -> SelfCheck:
    """Say whether the broker lets us in; `trouble` is what keeps us out, with the cure."""
    if trouble is not None:
        return SelfCheck(BROKER, well=False, words=trouble)
    return SelfCheck(BROKER, well=True, words=f"The broker at {address} lets us in.")


def database(found: Database) -> SelfCheck:
    """Say whether the database can be used and is whole."""
    if not found.there:
        words = f"{found.file} is not there yet; the first start makes it."
        return SelfCheck(DATABASE, well=True, words=words)
    if found.trouble:
        return SelfCheck(DATABASE, well=False, words=found.trouble)
    if found.damage:
        words = (
            f"{found.file} is damaged ({found.damage}). Stop chamberwatch, keep the file aside "
            "and put the last backup in its place."
        )
        return SelfCheck(DATABASE, well=False, words=words)
    return SelfCheck(DATABASE, well=True, words=f"{found.file} opens; {_whole(found)}.")


def _whole(found: Database) -> str:
    if found.steps_missing:
        steps = "a step" if found.steps_missing == 1 else f"{found.steps_missing} steps"
        after = f", and the next start brings it up to date by {steps}"
    else:
        after = ", and its schema is the newest"
    if found.looked_through:
        return f"nothing in it is damaged{after}"
    return (
        f"it is too large to be looked through in {found.budget_s:.0f} s; as far as that went "
        f"nothing is damaged{after}"
    )
