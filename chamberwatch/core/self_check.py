"""What the watcher finds when it looks itself over: clock, disk, broker, database, each one line.

A line says that it is well, or what is wrong and the cure. What was found comes as plain facts;
looking is for the edges.
"""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from typing import Final

from chamberwatch.core.watch.reading import Reading

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
    """The database.

    Attributes:
        file: where it is: a file, or the address of a server's, without its password.
        there: whether it is there; at the first start it is made.
        trouble: why it can't be used, with the cure.
        steps_missing: steps of the schema that the next start takes.
        damage: what the look through it found first; empty: nothing.
        looked_through: all of it, and not only as far as the time reached.
        budget_s: how long it might be looked through. [s]
        newest: the latest reading in it; None: there is none.
        cut_off: when the end of its log could not be read any more, and how many commits went;
            None: that never happened.
        on_server: it lies on a server, which looks after its files by itself.
    """

    file: str
    there: bool = True
    trouble: str = ""
    steps_missing: int = 0
    damage: str = ""
    looked_through: bool = True
    budget_s: float = 0.0
    newest: Reading | None = None
    cut_off: tuple[datetime, int] | None = None
    on_server: bool = False


def clock(
    now: datetime, newest: Reading | None, *, synchronised: bool, zone: tzinfo = UTC
) -> SelfCheck:
    """Say whether the clock of this machine can be believed.

    Args:
        now: what it says.
        newest: the latest reading that is kept; None: there is none.
        synchronised: the kernel holds it to be set by a time service.
        zone: in which times are written.
    """
    told = _written(now, zone)
    if newest is not None and synchronised and not newest.timed:
        newest = None  # dated here, while this clock ran ahead: that is over
    if newest is not None and now < newest.time - BEHIND:
        return SelfCheck(CLOCK, False, _behind(told, newest, synchronised, zone))
    if not synchronised:
        return SelfCheck(
            CLOCK,
            well=True,
            words=f"The clock says {told}; no time service vouches for it. If that is wrong, "
            "set it: timedatectl set-ntp true.",
        )
    return SelfCheck(CLOCK, well=True, words=f"A time service sets the clock; it is {told}.")


def _behind(told: str, newest: Reading, synchronised: bool, zone: tzinfo) -> str:
    """Say that the clock lies behind a reading, and which of the two is to be set."""
    then = _written(newest.time, zone)
    later = f"the newest reading, by sensor {newest.sensor}, is of {then}"
    if not synchronised:
        return (
            f"The clock says {told}, but {later}. Set the clock (timedatectl set-ntp true, and "
            "look at the network), or that of the sensor if it runs ahead; readings without a "
            "time of their own wait until it is right."
        )
    return (
        f"A time service sets the clock; it is {told}, but {later}. Set the clock of that sensor, "
        "or of what hands its messages on."
    )


def _written(time: datetime, zone: tzinfo) -> str:
    return f"{time.astimezone(zone):%Y-%m-%d %H:%M %Z}"


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


def cut_off_words(commits: int) -> str:
    """Say what a power cut took.

    Args:
        commits: how many could not be read any more, at least 1.
    """
    what = "the last commit" if commits == 1 else f"the last {commits} commits"
    return (
        f"{what} could not be read any more, as after a power cut: some seconds of readings (up "
        "to commit_every for each), and what was noted then, are lost. All before is whole."
    )


def database(found: Database, zone: tzinfo = UTC) -> SelfCheck:
    """Say whether the database can be used and is whole.

    Args:
        found: what was seen.
        zone: of the site, for times in words.
    """
    if not found.there:
        words = f"{found.file} is not there yet; the first start makes it."
        if found.on_server:
            words = f"{found.file} is still empty; the first start makes its tables."
        return SelfCheck(DATABASE, well=True, words=words)
    if found.trouble:
        return SelfCheck(DATABASE, well=False, words=found.trouble)
    if found.damage:
        words = (
            f"{found.file} is damaged ({found.damage}). Stop chamberwatch, keep the file aside "
            "and put the last backup in its place."
        )
        return SelfCheck(DATABASE, well=False, words=words)
    return SelfCheck(
        DATABASE, well=True, words=f"{found.file} opens; {_whole(found)}.{_cut(found, zone)}"
    )


def _cut(found: Database, zone: tzinfo) -> str:
    if found.cut_off is None:
        return ""
    at, commits = found.cut_off
    return f" At the start of {at.astimezone(zone):%Y-%m-%d %H:%M} {cut_off_words(commits)}"


def _whole(found: Database) -> str:
    if found.steps_missing:
        steps = "a step" if found.steps_missing == 1 else f"{found.steps_missing} steps"
        after = f", and the next start brings it up to date by {steps}"
    else:
        after = ", and its schema is the newest"
    if found.on_server:
        return f"its server looks after its files{after}"
    if found.looked_through:
        return f"nothing in it is damaged{after}"
    return (
        f"it is too large to be looked through in {found.budget_s:.0f} s; as far as that went "
        f"nothing is damaged{after}"
    )
