"""What is checked of an entry before it is kept: its sense, then whether it can have happened."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.growing.batch import Batch, Entry, EntryKind, Start
from chamberwatch.core.growing.life import fold
from chamberwatch.core.growing.species import Species

# Clocks of phones and machines differ a little.
AHEAD: Final = timedelta(minutes=2)

# No substrate gives more than a few times its own wet weight; where that isn't known, no home
# batch gives this much at once (common practice). Beyond, the unit was mistaken.
MOST_OF_WET: Final = 4.0
MOST_G: Final = 50_000.0

LEAST_PICKED_G: Final = 1.0
"""Below this a unit was mistaken (common practice). [g]"""

# In one container, from a small jar to a long bed (common practice); likewise. [g]
LIGHTEST_G: Final = 10.0
HEAVIEST_G: Final = 200_000.0

MOST_CONTAINERS: Final = 1000
WETTEST_PCT: Final = 90.0
"""Substrate that holds more water than this drips; 60 to 75 % is usual (common practice). [%]"""

LONGEST_NOTE: Final = 2000

_K = EntryKind
_FACTS: Final = (
    "start", "chamber", "shelf", "count", "other", "weight_g", "stage", "flush", "sign",
)  # fmt: skip

# What may be told with an entry, beside time, note and what it corrects.
MAY_TELL: Final[Mapping[EntryKind, frozenset[str]]] = {
    _K.STARTED: frozenset({"start", "chamber", "shelf"}),
    _K.MOVED: frozenset({"chamber", "shelf"}),
    _K.SPLIT: frozenset({"count", "other"}),
    _K.HARVESTED: frozenset({"weight_g", "flush"}),
    _K.STAGED: frozenset({"stage", "flush"}),
    _K.LOOKED: frozenset({"sign"}),
}


def check_next(entries: Sequence[Entry], new: Entry, species: Species, now: datetime) -> Batch:
    """Return what the batch is once one more entry is told.

    Args:
        entries: all that was told of the batch so far, in any order.
        new: what is told now; its id is given later.
        species: of its start, after a correction of the start that of the corrected one.
        now: aware.

    Raises:
        RefusedError: it makes no sense or can't have happened; the text says what would work.
    """
    _check_time(new, now)
    _check_superfluous(new)
    _check_note(new.note)
    if new.start is not None:
        _check_start(new.start)
    last = max((entry.id for entry in entries), default=0)
    batch = fold((*entries, replace(new, id=last + 1)), species)
    if new.weight_g is not None:
        _check_weight(new.weight_g, batch.start)
    return batch


def _check_time(new: Entry, now: datetime) -> None:
    if new.at > now + AHEAD:
        raise RefusedError(
            f"{new.at:%-d %B %Y, %H:%M %Z} is in the future. "
            "Give the time at which it happened; what is to come is told when it is there."
        )


def _check_superfluous(new: Entry) -> None:
    may = MAY_TELL.get(new.kind, frozenset())
    told = [name for name in _FACTS if getattr(new, name) not in (None, "")]
    for name in told:
        if name not in may:
            what = name.removesuffix("_g")
            raise RefusedError(f"“{new.kind}” has no {what}. Leave the {what} out.")
    if new.shelf is not None and new.chamber is None:
        raise RefusedError(f"Shelf “{new.shelf}” is in no chamber. Name its chamber too.")


def _check_note(note: str) -> None:
    if len(note) > LONGEST_NOTE:
        raise RefusedError(f"The note is longer than {LONGEST_NOTE} characters; shorten it.")


def _check_start(start: Start) -> None:
    _check_count(start)
    _check_moisture(start)
    _check_filled(start)


def _check_count(start: Start) -> None:
    if start.count < 1:
        raise RefusedError(f"A batch is of at least one {start.container}, not {start.count}.")
    if start.count > MOST_CONTAINERS:
        raise RefusedError(
            f"A batch of {start.count} is too many; count those that move together, at most "
            f"{MOST_CONTAINERS}."
        )


def _check_moisture(start: Start) -> None:
    if start.moisture_pct is None:
        return
    if not 0.0 < start.moisture_pct < 100.0:
        raise RefusedError(
            f"Moisture is between 0 and 100 %, not {start.moisture_pct:g} %: the share of water "
            "in the filled substrate. Mend it, or leave it out."
        )
    if start.moisture_pct > WETTEST_PCT:
        raise RefusedError(
            f"Substrate with {start.moisture_pct:g} % water would drip; 60 to 75 % is usual. "
            "Give the water as a share of the filled weight."
        )


def _check_filled(start: Start) -> None:
    for weight_g in (start.wet_g, start.dry_g):
        if weight_g is not None and not 0.0 < weight_g < float("inf"):
            raise RefusedError(
                f"Substrate can't weigh {weight_g:g} g. Weigh it, or leave the weight out."
            )
        if weight_g is not None:
            _check_each(weight_g / start.count, start)
    if start.wet_g is not None and start.dry_g is not None and start.dry_g > start.wet_g:
        raise RefusedError(
            f"The dry substrate ({start.dry_g:g} g) can't weigh more than the wet "
            f"({start.wet_g:g} g). Were they exchanged?"
        )


def _check_each(each_g: float, start: Start) -> None:
    if not LIGHTEST_G <= each_g <= HEAVIEST_G:
        raise RefusedError(
            f"{each_g:g} g of substrate in one {start.container} can't be. Give the weight "
            "of all of them together, and check the unit (g, kg, oz, lb)."
        )


def _check_weight(weight_g: float, start: Start) -> None:
    if weight_g < LEAST_PICKED_G:
        raise RefusedError(
            f"{weight_g:g} g is less than a scale shows; check the unit (g, kg, oz, lb)."
        )
    most_g = MOST_G if start.wet_g is None else MOST_OF_WET * start.wet_g
    if weight_g > most_g:
        beyond = (
            "no home batch gives that at once"
            if start.wet_g is None
            else f"the whole wet substrate weighed {start.wet_g:g} g"
        )
        raise RefusedError(f"{weight_g:g} g can't be: {beyond}. Check the unit (g, kg, oz, lb).")
