"""How everything is, in a line for each thing: what it is like, and what of it is unwell.

A line of a thing that is unwell says what is wrong and the cure. What is unwell stands first,
the gravest before the others, and nothing is said twice. What is known comes as plain facts.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta, tzinfo
from typing import Final

from chamberwatch.core.backups import BackupStand
from chamberwatch.core.review_words import counted, length
from chamberwatch.core.self_check import BROKER, CLOCK, DATABASE, DISK, SelfCheck
from chamberwatch.core.watch.doubt import Doubt, Doubted, silence
from chamberwatch.core.wear import Card
from chamberwatch.core.wording import clock_words

WATCHER: Final = "watcher"
CARD: Final = "card"
KEPT: Final = "readings"
BACKUP: Final = "backup"
DELIVERY: Final = "messages"
SENSORS: Final = "sensors"
VERSIONS: Final = "versions"

ORDER: Final = (
    *(WATCHER, BROKER, CLOCK, DISK, CARD, DATABASE),
    *(KEPT, BACKUP, DELIVERY, SENSORS, VERSIONS),
)
"""In which the lines stand."""
GRAVITY: Final = (
    *(WATCHER, DATABASE, DISK, BROKER, CLOCK, SENSORS),
    *(DELIVERY, BACKUP, CARD, KEPT, VERSIONS),
)
"""In which what is unwell stands: first what keeps readings from being taken in or kept."""

TOO_OLD: Final = timedelta(days=2)
"""One backup is made a night; one that is missed is made up for the next."""

UNDATED: Final = "The clock is not set yet; readings wait to be dated."
UNHEARD: Final = "No message from any sensor for a while; look at their power and at the broker."
UNSAID: Final = "Something is not as it should be; the log says more."
STOPPED: Final = (
    "chamberwatch does not run, so nothing is watched and nobody is told. Start it: "
    "sudo systemctl start chamberwatch"
)
SEE_ABOVE: Final = "Not well, see above."


@dataclass(frozen=True, slots=True)
class Line:
    """How one thing is.

    Attributes:
        name: of what, one of `ORDER`.
        words: what it is like; empty: what is unwell says all of it.
        troubles: what of it is unwell, each with its cure.
    """

    name: str
    words: str = ""
    troubles: tuple[str, ...] = ()

    @property
    def well(self) -> bool:
        """Tell whether nothing needs to be done."""
        return not self.troubles


def unwell(lines: Iterable[Line]) -> list[tuple[str, str]]:
    """Return what is unwell, the gravest first: of what, and what is wrong with it."""
    ailing = sorted(lines, key=lambda line: GRAVITY.index(line.name))
    return [(line.name, trouble) for line in ailing for trouble in line.troubles]


def in_order(lines: Iterable[Line]) -> tuple[Line, ...]:
    """Return lines as they are read."""
    return tuple(sorted(lines, key=lambda line: ORDER.index(line.name)))


def fact(line: Line) -> str:
    """Return what a line says where its troubles stand above it."""
    if line.well:
        return line.words
    return f"{line.words} {SEE_ABOVE}" if line.words else SEE_ABOVE


def looked(check: SelfCheck, *more: str) -> Line:
    """Return the line of a look; `more` is what else is unwell there."""
    if check.well:
        return Line(check.name, check.words, more)
    return Line(check.name, "", (check.words, *more))


def with_clock(checks: Iterable[SelfCheck], waiting: int) -> list[Line]:
    """Return the lines of all looks; `waiting` readings wait for the clock to be set."""
    return [looked(c, *((UNDATED,) if waiting and c.name == CLOCK else ())) for c in checks]


def watcher(since: str, troubles: Sequence[str], *, runs: bool) -> Line:
    """Say whether the watcher runs.

    Args:
        since: when it began to, in words; empty: not known.
        troubles: what is wrong with it.
        runs: whether it does.
    """
    if not runs:
        return Line(WATCHER, "", (STOPPED, *troubles))
    return Line(WATCHER, f"It runs since {since}." if since else "It runs.", tuple(troubles))


def card(
    found: Card, per_day: float | None, expected_per_day: float, after: Mapping[int, float]
) -> Line:
    """Say how a card wears and how large the file becomes.

    Args:
        found: what the database takes now.
        per_day: written in a day, as measured; None: not known. [B]
        expected_per_day: the same as reckoned, without backups. [B]
        after: how large the file is after so many years. [B]
    """
    now = f"The file is {size(found.file_bytes + found.log_bytes)} now"
    if not expected_per_day:
        reckoned = "Nothing was read in the last day, so what is written can't be reckoned."
        said = f"{size(per_day)} are written a day, as measured. " if per_day is not None else ""
        return Line(CARD, f"{said}{reckoned} {now}.")
    told = (
        f"About {size(expected_per_day)} are written a day, as reckoned from the readings of the "
        "last day; backups come on top."
        if per_day is None
        else f"{size(per_day)} are written a day, as measured since the start, backups included; "
        f"{size(expected_per_day)} were to be expected without them."
    )
    first, *later = [(years, size(count)) for years, count in after.items()]
    begun = f"{first[1]} after {counted(first[0], 'year')}"
    grown = ", ".join([begun, *(f"{large} after {years}" for years, large in later)])
    return Line(CARD, f"{told} {now}; it becomes {grown}.")


def kept(
    counts: tuple[int, int],
    keep: timedelta,
    thinned: tuple[datetime, int] | None,
    waits: str,
    moment: tuple[datetime, tzinfo],
) -> Line:
    """Say how many readings are kept, and for how long.

    Args:
        counts: how many, and of how many the time will never be known.
        keep: how long each stays.
        thinned: when old ones were last dropped, and how many; None: never.
        waits: why old ones stay for now; empty: they don't.
        moment: the time, and the zone of the site.
    """
    readings, undatable = counts
    many = f"{readings:,} are kept" if readings else "None is kept yet"
    said = [f"{many}; each stays for {keep.days} days, their averages for ever."]
    if undatable:
        said.append(
            f"Of {undatable:,} the time will never be known: kept, but neither judged nor "
            "averaged."
        )
    if waits:
        said.append(waits)
    elif thinned is not None:
        said.append(
            f"Old ones were last looked for at {clock_words(thinned[0], *moment)}: "
            + (f"{thinned[1]:,} went." if thinned[1] else "none was old enough.")
        )
    return Line(KEPT, " ".join(said))


NONE_SET: Final = (
    "No nightly backup is set: what is not copied dies with the disk. Name a folder on a disk of "
    'its own: folder = "/mnt/chamberwatch" under [backup] (README, Backups).'
)
ON_SERVER: Final = Line(
    BACKUP, "The database lies on a server and is copied there (pg_dump); copy the photos too."
)


def backup(
    stand: BackupStand, at: time | None, started: datetime | None, moment: tuple[datetime, tzinfo]
) -> Line:
    """Say how it stands with backups.

    Args:
        stand: what is known of the last.
        at: when one is made each night; None: none is made by itself.
        started: since when the watcher runs; None: not known.
        moment: the time, and the zone of the site.
    """
    now, last = moment[0], _last(stand, moment)
    if at is None:
        return Line(BACKUP, f"{last} {NONE_SET}" if last else NONE_SET)
    if stand.trouble:
        since = f"Since {clock_words(stand.since, *moment)}: " if stand.since else ""
        return Line(BACKUP, last, (f"There is no new backup. {since}{stand.trouble}",))
    if stand.amiss:
        return Line(BACKUP, last, (stand.amiss,))
    begun = stand.at or started
    if begun is not None and now - begun > TOO_OLD:
        late = (
            f"There has been no backup for {length(now - begun)}; one is due each night at "
            f"{at:%H:%M}, and more than two days are too long. Let the machine run at that hour, "
            "or change at under [backup]; make one now: chamberwatch backup"
        )
        return Line(BACKUP, last, (late,))
    return Line(BACKUP, last or f"There is none yet; the first is made at {at:%H:%M}.")


def _last(stand: BackupStand, moment: tuple[datetime, tzinfo]) -> str:
    if stand.at is None:
        return ""
    ago = length(moment[0] - stand.at)
    return (
        f"The last is of {clock_words(stand.at, *moment)}, {ago} ago: {stand.file}, "
        f"{size(stand.size)}, looked through and found sound."
    )


def delivery(addresses: int, waiting: int, troubles: Sequence[str]) -> Line:
    """Say what of the messages has not gone out.

    Args:
        addresses: how many are told.
        waiting: how many messages wait since their address can't be reached.
        troubles: what waits, where, since when, and why.
    """
    if waiting:
        words = f"{counted(waiting, 'message')} can't go out for now."
    elif addresses:
        are = "is" if addresses == 1 else "are"
        words = f"Nothing waits; {counted(addresses, 'address', 'addresses')} {are} told."
    else:
        words = "No phone is told: no address is set. Add one under Set-up, or as [[notify]]."
    return Line(DELIVERY, words, tuple(troubles))


@dataclass(frozen=True, slots=True)
class SensorStand:
    """How a sensor is heard.

    Attributes:
        name: which.
        ago: age of its last word; None: never heard.
        silent: for longer than it may be.
        doubt: why it is not to be believed; None: it is.
    """

    name: str
    ago: timedelta | None
    silent: bool
    doubt: Doubt | None = None


def sensors(stands: Sequence[SensorStand], now: datetime, *, deaf: bool) -> Line:
    """Say which sensors are silent or in doubt.

    Args:
        stands: of all.
        now: the time.
        deaf: none can be heard, for reasons of ours or the broker's.
    """
    if not stands:
        return Line(SENSORS, "There is none yet. Add one under Set-up.")
    ages = [each.ago for each in stands if each.ago is not None]
    newest = f"the last word came {length(min(ages))} ago" if ages else "none has spoken yet"
    many = counted(len(stands), "sensor")
    if deaf:
        return Line(SENSORS, f"{many}, which can't be heard until the above is mended; {newest}.")
    quiet = [each for each in stands if each.silent]
    if len(quiet) == len(stands) > 1:
        heard = (
            f"Nothing is heard of any of the {many}; {newest}. Look"
            if ages
            else f"None of the {many} has been heard yet, which takes a minute after a start. "
            "After that look"
        )
        trouble = (
            f"{heard} at what they share: power, the router, what hands their messages to the "
            "broker."
        )
        return Line(SENSORS, "", (trouble,))
    troubles = tuple(t for each in stands if (t := _ailing(each, now)))
    heard = f"{len(stands) - len(quiet)} of {many} heard" if quiet else f"{many}, all heard"
    heard = "1 sensor, heard" if len(stands) == 1 and not quiet else heard
    return Line(SENSORS, f"{heard}; {newest}.", troubles)


def _ailing(stand: SensorStand, now: datetime) -> str:
    doubt = stand.doubt
    if stand.silent and (doubt is None or doubt.kind is not Doubted.SILENT):
        doubt = silence(stand.name, now)
    if doubt is None:
        return ""
    age = f"came {length(stand.ago)} ago" if stand.ago is not None else "is still to come"
    return f"{doubt.words} Its last word {age}."


def versions(found: Mapping[str, str]) -> Line:
    """Name the versions of what runs here."""
    return Line(VERSIONS, f"{', '.join(f'{name} {number}' for name, number in found.items())}.")


def unread(name: str) -> Line:
    """Return the line of what the database would tell, could it be read."""
    return Line(name, "Not known, since the database can't be read as it is.")


def behind(name: str) -> Line:
    """Return the line of what the database tells once it is of this version."""
    return Line(name, "Not known until the next start has brought the database up to date.")


def nothing_kept(name: str) -> Line:
    """Return the line of what there is nothing of, since there is no database yet."""
    return Line(name, "Nothing yet.")


def told_once(line: Line, others: Iterable[Line]) -> Line:
    """Return a line without the troubles that other lines tell already."""
    told = {trouble for other in others for trouble in other.troubles}
    return replace(line, troubles=tuple(t for t in line.troubles if t not in told))


def size(count: float) -> str:
    """Write an amount of bytes."""
    if count < 999_500:
        return f"{count / 1e3:.0f} kB"
    if count < 99_500_000:
        return f"{count / 1e6:.1f} MB"
    return f"{count / 1e6:.0f} MB" if count < 1e9 else f"{count / 1e9:.1f} GB"
