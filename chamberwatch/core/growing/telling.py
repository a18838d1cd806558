"""What is checked of an entry before it is kept: its sense, then whether it can have happened."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core.errors import RefusedError, WrongTimeError
from chamberwatch.core.growing.batch import Batch, Entry, EntryKind, Start, harvested_g
from chamberwatch.core.growing.corrections import as_of
from chamberwatch.core.growing.life import fold
from chamberwatch.core.growing.life_words import day
from chamberwatch.core.growing.species import Species
from chamberwatch.core.growing.weights import weight_words

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

DRIEST_PCT: Final = 30.0
"""Filled substrate is never drier; 55 to 75 % is usual (common practice). [%]"""

LEAST_DRY: Final = 0.35
"""Share of dry substrate in wet where only the dry was weighed (common practice)."""

_GRAMS_MATTER_G: Final = 100.0

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
    batch = _folded((*entries, replace(new, id=last + 1)), species)
    if new.weight_g is not None:
        _check_weight(new.weight_g, batch.start)
        _check_all_picked(batch)
    return batch


def _folded(told: Sequence[Entry], species: Species) -> Batch:
    """Fold; where the last one told fits by itself, say that what came after it does not."""
    new = told[-1]
    try:
        return fold(told, species)
    except RefusedError as error:
        if new.kind is _K.WITHDRAWN or not _fits(told, new.at, species):
            raise
        raise WrongTimeError(
            f"“{new.kind}” on {day(new.at)} does not fit what was told after it. {error}"
        ) from None


def _fits(told: Sequence[Entry], until: datetime, species: Species) -> bool:
    """Tell whether what was told can have happened up to a time."""
    try:
        fold(as_of(told, until), species)
    except RefusedError:
        return False
    return True


def _check_time(new: Entry, now: datetime) -> None:
    if new.at > now + AHEAD:
        raise WrongTimeError(
            "That time is in the future. Give the time at which it happened; what is to come is "
            "told when it is there."
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
        raise RefusedError(
            f"A batch is of at least one {start.container}, not {start.count}.", "count"
        )
    if start.count > MOST_CONTAINERS:
        raise RefusedError(
            f"A batch of {start.count} is too many; count those that move together, at most "
            f"{MOST_CONTAINERS}.",
            "count",
        )


def _check_moisture(start: Start) -> None:
    if start.moisture_pct is None:
        return
    if not 0.0 < start.moisture_pct < 100.0:
        raise RefusedError(
            f"Moisture is between 0 and 100 %, not {start.moisture_pct:g} %: the share of water "
            "in the filled substrate. Mend it, or leave it out.",
            "moisture_pct",
        )
    if start.moisture_pct < DRIEST_PCT:
        raise RefusedError(_too_dry(start.moisture_pct), "moisture_pct")
    if start.moisture_pct > WETTEST_PCT:
        raise RefusedError(
            f"Substrate with {start.moisture_pct:g} % water would drip; 60 to 75 % is usual. "
            "Give the water as a share of the filled weight.",
            "moisture_pct",
        )


def _too_dry(moisture_pct: float) -> str:
    """Say that substrate can't be so dry; what was meant shows where a share was given."""
    meant = f"Did you mean {100.0 * moisture_pct:g} %? " if moisture_pct <= 1.0 else ""
    return (
        f"Filled substrate with {moisture_pct:g} % water is too dry to grow anything; 55 to 75 % "
        f"is usual. {meant}Give the water in percent of the filled weight, or leave it out."
    )


def _check_filled(start: Start) -> None:
    for name, weight_g in (("wet_g", start.wet_g), ("dry_g", start.dry_g)):
        if weight_g is not None and not 0.0 < weight_g < float("inf"):
            raise RefusedError(
                f"Substrate can't weigh {_words(weight_g)}. Weigh it, or leave the weight out.",
                name,
            )
        if weight_g is not None:
            _check_each(weight_g / start.count, start, name)
    if start.wet_g is not None and start.dry_g is not None and start.dry_g > start.wet_g:
        raise RefusedError(
            f"The dry substrate ({_words(start.dry_g)}) can't weigh more than the wet "
            f"({_words(start.wet_g)}). Were they exchanged?",
            "dry_g",
        )


def _check_each(each_g: float, start: Start, name: str) -> None:
    if not LIGHTEST_G <= each_g <= HEAVIEST_G:
        raise RefusedError(
            f"{_words(each_g)} of substrate in one {start.container} can't be. Give the weight "
            "of all of them together, and check the unit (g, kg, oz, lb).",
            name,
        )


def _check_weight(weight_g: float, start: Start) -> None:
    if weight_g < LEAST_PICKED_G:
        raise RefusedError(
            f"{_words(weight_g)} is less than a scale shows; check the unit (g, kg, oz, lb)."
        )
    most_g, beyond = _most(start)
    if weight_g > most_g:
        raise RefusedError(
            f"{_words(weight_g)} can't be: {beyond}. Check the unit (g, kg, oz, lb)."
        )


def _check_all_picked(batch: Batch) -> None:
    """Refuse one weighing more where all of them together are more than can be."""
    filled = batch.start.wet_g is not None or batch.start.dry_g is not None
    most_g, beyond = _most(batch.start)
    if filled and harvested_g(batch) > most_g:
        raise RefusedError(
            f"With this {_words(harvested_g(batch))} would have been picked of batch {batch.id}, "
            f"which can't be: {beyond}. Check the weight and its unit; correct or withdraw a "
            "weighing that was told twice."
        )


def _most(start: Start) -> tuple[float, str]:
    """Return what a batch can give at most, and why it is no more. [g].

    A batch that nobody weighed gives no more than this at once.
    """
    if start.wet_g is not None:
        return MOST_OF_WET * start.wet_g, (
            f"the whole wet substrate weighed {_words(start.wet_g)}"
        )
    if start.dry_g is not None:
        return MOST_OF_WET * start.dry_g / LEAST_DRY, (
            f"the dry substrate weighed {_words(start.dry_g)}"
        )
    return MOST_G, "no home batch gives that at once"


def _words(weight_g: float) -> str:
    """Write a weight; where it is the grams that matter, as it was told."""
    return weight_words(weight_g) if weight_g >= _GRAMS_MATTER_G else f"{weight_g:.3g} g"
