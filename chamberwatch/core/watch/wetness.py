"""How long the surfaces of a chamber have been wet.

A surface is wet from the moment its margin to the dew point is 0 or less, and dry again only
once the margin has stayed clear of 0 for a while. What happens while nobody can tell: up to
`LONGEST_GAP` the surfaces are taken to be as they were before; a longer gap is left out. It adds
nothing to the time that they were wet, ends nothing, and a drying that was under way is watched
afresh from the first margin after it. What nobody could tell for `FORGET_AFTER` begins anew.
"""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

SUBJECT: Final = "surfaces"
"""Subject of the reminder to let wet surfaces dry off, beside the one about humid air."""

CLEAR_K: Final = 0.3
"""A margin above this is dry, the margin being surface less dew point. [K]

Half of what a good home sensor can tell: near saturation, at ± 3 % of humidity, a margin is good
to 0.5 K with a surface reckoned through the cover and to 0.7 K with one that is measured. More
would leave a surface that dries slowly wet for ever; less would take each flicker of the readings
around 0 for a drying.
"""

DRY_AFTER: Final = timedelta(minutes=10)
"""Clear of 0 for so long without a break: dry. Common practice, a few responses of a sensor."""

LONGEST_GAP: Final = timedelta(minutes=30)
"""A film of water on a wall hardly comes or goes in less."""

FORGET_AFTER: Final = timedelta(hours=12)
"""What was wet half a day ago says nothing of now."""


@dataclass(frozen=True, slots=True)
class Wet:
    """How far a chamber has come.

    Attributes:
        since: when the surfaces became wet; None while they are dry.
        dry_since: since when the margin has been clear of 0 without a break; None if the last
            one was not.
        seen: time of the last margin; None while they are dry.
        lasted: how long they were wet up to then, long gaps left out.
    """

    since: datetime | None = None
    dry_since: datetime | None = None
    seen: datetime | None = None
    lasted: timedelta = timedelta(0)


DRY: Final = Wet()


def step(wet: Wet, margin_k: float | None, now: datetime) -> Wet:
    """Take one more look into account.

    Args:
        wet: how far the chamber had come.
        margin_k: coldest surface less dew point; None: it can't be told. [K]
        now: time of the look.
    """
    if wet.seen is not None and now - wet.seen > FORGET_AFTER:
        wet = DRY
    if margin_k is None:
        return wet
    if wet.seen is None:
        return Wet(since=now, seen=now) if margin_k <= 0.0 else DRY
    gap = now - wet.seen
    unbroken = gap <= LONGEST_GAP
    # A clock that was set back has measured nothing.
    lasted = wet.lasted + max(gap, timedelta(0)) if unbroken else wet.lasted
    if margin_k <= CLEAR_K:
        return replace(wet, dry_since=None, seen=now, lasted=lasted)
    dry_since = wet.dry_since if wet.dry_since is not None and unbroken else now
    if now - dry_since >= DRY_AFTER:
        return DRY
    return replace(wet, dry_since=dry_since, seen=now, lasted=lasted)


def due(wet: Wet, now: datetime, wet_at_most: timedelta) -> bool:
    """Tell whether the surfaces have been wet for too long.

    Args:
        wet: how far the chamber has come.
        now: the time; what lies between the last look and now counts like any gap.
        wet_at_most: surfaces that are wet for as long call for drying off.
    """
    if wet.since is None or wet.seen is None:
        return False
    gap = now - wet.seen
    counted = gap if timedelta(0) < gap <= LONGEST_GAP else timedelta(0)
    return wet.lasted + counted >= wet_at_most
