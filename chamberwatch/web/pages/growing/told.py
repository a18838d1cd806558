"""What was told of a batch, as lines; what was corrected or withdrawn stays to be seen."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final
from zoneinfo import ZoneInfo

from chamberwatch.core.growing.batch import Batch, Entry, EntryKind, Start
from chamberwatch.core.growing.sign_table import SIGNS
from chamberwatch.core.watch.chamber import House
from chamberwatch.web.figures import Figures
from chamberwatch.web.language import _, marked
from chamberwatch.web.pages.growing.batch_state import stage_name
from chamberwatch.web.pages.growing.dates import moment_words
from chamberwatch.web.pages.growing.figure import containers
from chamberwatch.web.pages.growing.offered import LABELS

_K = EntryKind


@dataclass(frozen=True, slots=True)
class Line:
    """One thing that happened.

    Attributes:
        entry: id of the entry that holds, or of the last before it was withdrawn.
        day: when it happened, as somebody nearby would say it.
        at: the same for machines.
        words: what; empty where it was withdrawn.
        note: free words.
        was: what was told before, oldest first, each with why it holds no more.
        withdrawn: it did not happen; the words say when that was told.
        mendable: it can be corrected or withdrawn.
    """

    entry: int
    day: str
    at: datetime
    words: str
    note: str
    was: tuple[tuple[str, str], ...]
    withdrawn: str
    mendable: bool


@dataclass(frozen=True, slots=True)
class Telling:
    """What is needed to put entries into words."""

    batch: Batch
    house: House
    figures: Figures
    now: datetime

    @property
    def zone(self) -> ZoneInfo:
        """Return the zone of the site."""
        return self.figures.zone


def lines(entries: Sequence[Entry], how: Telling) -> tuple[Line, ...]:
    """Return what was told of a batch, the newest happening first."""
    after = {e.corrects: e for e in entries if e.corrects is not None}
    firsts = [e for e in entries if e.corrects is None and e.kind is not _K.WITHDRAWN]
    made = [_line(_chain(first, after), how) for first in firsts]
    return tuple(sorted(made, key=lambda line: (line.at, line.entry), reverse=True))


def _chain(first: Entry, after: Mapping[int, Entry]) -> list[Entry]:
    chain = [first]
    while chain[-1].id in after:
        chain.append(after[chain[-1].id])
    return chain


def _line(chain: list[Entry], how: Telling) -> Line:
    last = chain[-1]
    gone = last.kind is _K.WITHDRAWN
    told = chain[:-1] if gone else chain
    shown = told[-1]
    before = told if gone else told[:-1]
    return Line(
        entry=shown.id,
        day=moment_words(shown.at, how.now, how.zone),
        at=shown.at,
        words="" if gone else entry_words(shown, how),
        note="" if gone else shown.note,
        was=tuple(
            (_was(entry, how), _until(after, how)) for entry, after in _pairs(before, chain)
        ),
        withdrawn=last.note if gone else "",
        mendable=not gone and shown.kind is not _K.SPLIT,
    )


def _pairs(before: list[Entry], chain: list[Entry]) -> list[tuple[Entry, Entry]]:
    return [(entry, chain[n + 1]) for n, entry in enumerate(before)]


def _was(entry: Entry, how: Telling) -> str:
    note = f" “{entry.note}”" if entry.note else ""
    return f"{moment_words(entry.at, how.now, how.zone)}: {entry_words(entry, how)}{note}"


def _until(after: Entry, how: Telling) -> str:
    when = moment_words(after.recorded, how.now, how.zone)
    if after.kind is _K.WITHDRAWN:
        return _("withdrawn %(when)s", when=when)
    return _("corrected %(when)s", when=when)


def entry_words(entry: Entry, how: Telling) -> str:
    """Say in a few words what an entry tells."""
    say = _WORDS.get(entry.kind)
    if say is not None:
        return say(entry, how)
    return _(LABELS[entry.kind][0])


def where_words(chamber: str | None, shelf: str | None, house: House) -> str:
    """Name a place."""
    if chamber is None:
        return _("in no chamber")
    known = house.chambers.get(chamber)
    title = known.title if known is not None else chamber
    return _("%(title)s, shelf %(shelf)s", title=title, shelf=shelf) if shelf else title


def start_words(start: Start, figures: Figures) -> str:
    """Say what was started."""
    filled = containers(start.container, start.count)
    parts = [
        _("%(filled)s of %(substrate)s", filled=filled, substrate=start.substrate)
        if start.substrate
        else filled
    ]
    if start.wet_g is not None:
        parts.append(_("%(weight)s filled", weight=figures.weight(start.wet_g)))
    if start.substrate_dry_g is not None:
        parts.append(_("%(weight)s dry", weight=figures.weight(start.substrate_dry_g)))
    if start.spawn:
        parts.append(_("spawn: %(spawn)s", spawn=start.spawn))
    return ", ".join(parts)


def _started(entry: Entry, how: Telling) -> str:
    what = f": {start_words(entry.start, how.figures)}" if entry.start is not None else ""
    return _(
        "Started%(what)s; %(chamber)s",
        what=what,
        chamber=where_words(entry.chamber, entry.shelf, how.house),
    )


def _moved(entry: Entry, how: Telling) -> str:
    if entry.chamber is None:
        return _("Moved out of all chambers")
    return _("Moved to %(chamber)s", chamber=where_words(entry.chamber, entry.shelf, how.house))


def _split(entry: Entry, _how: Telling) -> str:
    return _("%(count)s taken out, as batch %(other)s", count=entry.count, other=entry.other)


def _harvested(entry: Entry, how: Telling) -> str:
    flush = next((h.flush for h in how.batch.harvests if h.entry == entry.id), entry.flush)
    of = _(", flush %(flush)s", flush=flush) if flush else ""
    return _("Harvested %(weight)s%(of)s", weight=how.figures.weight(entry.weight_g or 0.0), of=of)


def _staged(entry: Entry, _how: Telling) -> str:
    return _("Stage set by hand: %(stage)s", stage=stage_name(entry.stage) if entry.stage else "")


def _looked(entry: Entry, _how: Telling) -> str:
    sign = SIGNS.get(entry.sign)
    return _("Seen: %(what)s", what=sign.title if sign is not None else entry.sign)


def _plain(words: str) -> Callable[[Entry, Telling], str]:
    return lambda _entry, _how: _(words)


# Of all else the button that tells it says what it is.
_WORDS: Final[Mapping[EntryKind, Callable[[Entry, Telling], str]]] = {
    _K.STARTED: _started,
    _K.MOVED: _moved,
    _K.SPLIT: _split,
    _K.HARVESTED: _harvested,
    _K.STAGED: _staged,
    _K.LOOKED: _looked,
    _K.NOTED: _plain(marked("Note")),
    _K.RESTED: _plain(marked("Resting")),
    _K.WITHDRAWN: _plain(marked("Withdrawn")),
}
