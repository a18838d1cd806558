"""Which chambers have had wet surfaces for too long: looked at with each round.

How long they have been wet is kept over a restart, written when something turns and once in
`KEEP_EVERY` while they are wet: every round would wear out the card that a small computer
runs from.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Final

from chamberwatch.core.watch.chamber import House
from chamberwatch.core.watch.reading import Place, Quantity
from chamberwatch.core.watch.wetness import DRY, Wet, due, step
from chamberwatch.service.board import Board
from chamberwatch.service.books import Book, Books
from chamberwatch.service.condensing import coldest
from chamberwatch.service.counselling import OLD_AFTER
from chamberwatch.service.surface_telling import SurfaceTelling
from chamberwatch.service.telling import Teller

KEPT_AS: Final = "wetness"

KEEP_EVERY: Final = timedelta(minutes=10)
"""Well within what may be missing without being left out of the count. Only a stop of longer than
that leaves out so much of the time before it as well."""


@dataclass(frozen=True, slots=True)
class WetRound:
    """What one round found.

    Attributes:
        wet: how far each chamber has come, dry ones left out.
        kept: what the book holds of that.
        moved: a reminder moved or was told.
    """

    wet: Mapping[str, Wet]
    kept: Mapping[str, Wet]
    moved: bool


class Wetting:
    """How long surfaces have been wet. Only the thread of the rounds uses it after the start."""

    def __init__(self, house: House, board: Board, teller: Teller, books: Books) -> None:
        """Take up what the book knows."""
        self._house = house
        self._board = board
        self._telling = SurfaceTelling(teller)
        with books.read() as book:
            kept = _loads(book.kept.text(KEPT_AS))
        self._last = WetRound(kept, kept, moved=False)

    def write(self, book: Book, now: datetime) -> WetRound:
        """Look at all chambers once: move and tell what is new, keep how far they have come."""
        before = self._last
        moved = False
        wet: dict[str, Wet] = {}
        open_ = self._open()
        for chamber in sorted(open_ | before.wet.keys()):
            was = before.wet.get(chamber, DRY)
            if chamber in open_:
                found, spoke = self._look(book, chamber, was, now)
            else:
                # Taken out of the settings, or nothing open stands there: nobody would end it.
                found, spoke = DRY, self._telling.dry(book, chamber, now)
            moved |= spoke
            if found != DRY:
                wet[chamber] = found
        kept = before.kept
        if _worth_keeping(kept, wet):
            book.kept.keep_text(KEPT_AS, _dumps(wet))
            kept = wet
        return WetRound(wet, kept, moved)

    def _open(self) -> frozenset[str]:
        """Return the chambers with an open crop: sealed bags sweat, and that is well."""
        return frozenset(
            name
            for name, chamber in self._house.chambers.items()
            if chamber.band(Quantity.HUMIDITY, Place.AIR) is not None
        )

    def _look(self, book: Book, chamber: str, was: Wet, now: datetime) -> tuple[Wet, bool]:
        margin = coldest(self._house, self._board, chamber, now, OLD_AFTER)
        wet = step(was, margin.margin_k if margin is not None else None, now)
        moved = False
        if was.since is not None and wet.since != was.since:
            moved = self._telling.dry(book, chamber, now)
        too_long = due(wet, now, self._house.chambers[chamber].wet_at_most)
        # Walls that are just drying need nobody; if they stay wet after all it is said then.
        if wet.since is not None and wet.dry_since is None and too_long:
            moved |= self._telling.wet(book, chamber, wet.since, margin, now)
        return wet, moved

    def written(self, found: WetRound) -> None:
        """Go on from what the transaction has kept."""
        self._last = found


def _worth_keeping(kept: Mapping[str, Wet], wet: Mapping[str, Wet]) -> bool:
    if kept.keys() != wet.keys():
        return True
    return any(_differs(kept[chamber], now) for chamber, now in wet.items())


def _differs(kept: Wet, now: Wet) -> bool:
    # A drying that is under way begins anew after a restart; it flickers too much to be kept.
    if kept.since != now.since or kept.seen is None or now.seen is None:
        return kept != now
    return abs(now.seen - kept.seen) >= KEEP_EVERY


def _dumps(wet: Mapping[str, Wet]) -> str:
    return json.dumps(
        {
            chamber: {
                "since": _iso(each.since),
                "dry_since": _iso(each.dry_since),
                "seen": _iso(each.seen),
                "lasted_s": each.lasted.total_seconds(),
            }
            for chamber, each in wet.items()
        }
    )


def _loads(text: str | None) -> dict[str, Wet]:
    rows: dict[str, dict[str, Any]] = json.loads(text or "{}")
    return {
        chamber: Wet(
            since=_time(row["since"]),
            dry_since=_time(row["dry_since"]),
            seen=_time(row["seen"]),
            lasted=timedelta(seconds=row["lasted_s"]),
        )
        for chamber, row in rows.items()
    }


def _iso(time: datetime | None) -> str | None:
    return time.isoformat() if time is not None else None


def _time(text: str | None) -> datetime | None:
    return datetime.fromisoformat(text) if text is not None else None
