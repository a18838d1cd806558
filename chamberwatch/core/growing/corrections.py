"""Which entries hold, after those that correct or withdraw others."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.growing.batch import Entry, EntryKind

_K = EntryKind


def effective(entries: Sequence[Entry]) -> tuple[Entry, ...]:
    """Return the entries that hold after corrections, in the order in which things happened.

    A correction has its own time, but of two entries with the same time it stands where the
    entry that it corrects stood.

    Raises:
        RefusedError: a correction that corrects nothing it could.
    """
    known = {entry.id: entry for entry in entries}
    place: dict[int, int] = {}
    holding: dict[int, Entry] = {}
    for entry in sorted(entries, key=lambda each: each.id):
        if entry.corrects is None and entry.kind is not _K.WITHDRAWN:
            place[entry.id] = entry.id
        else:
            old = _corrected(entry, known, holding)
            place[entry.id] = place[old.id]
            del holding[old.id]
        if entry.kind is not _K.WITHDRAWN:
            holding[entry.id] = entry
    return tuple(sorted(holding.values(), key=lambda each: (each.at, place[each.id])))


def as_of(entries: Sequence[Entry], when: datetime) -> tuple[Entry, ...]:
    """Return what holds of a batch up to a time, as if it had been told so at once."""
    holding = (entry for entry in effective(entries) if entry.at <= when)
    return tuple(replace(e, id=n, corrects=None) for n, e in enumerate(holding, 1))


def beginning(entries: Sequence[Entry]) -> Entry:
    """Return the start of a batch that holds, out of all that was told of it."""
    return next(entry for entry in effective(entries) if entry.kind is _K.STARTED)


def _corrected(entry: Entry, known: Mapping[int, Entry], holding: Mapping[int, Entry]) -> Entry:
    """Return what an entry corrects, if it can."""
    if entry.corrects is None:
        raise RefusedError("Tell which entry did not happen: give its number.")
    old = known.get(entry.corrects)
    if old is None or old.batch != entry.batch or old.id >= entry.id:
        raise RefusedError(
            f"Entry {entry.corrects} is none of the earlier entries of batch {entry.batch}. "
            "Give the number of one of those."
        )
    if old.kind is _K.WITHDRAWN:
        raise RefusedError(
            f"Entry {old.id} withdrew another. Tell that one again, as a new entry."
        )
    if old.id not in holding:
        raise RefusedError(_superseded(old, entry, known.values()))
    if entry.kind is _K.WITHDRAWN and old.kind is _K.STARTED:
        raise RefusedError(
            "A start can't be withdrawn. Correct it, or tell that the batch was spent: it then "
            "stands nowhere and nothing is due of it."
        )
    if entry.kind not in (_K.WITHDRAWN, old.kind):
        raise RefusedError(
            f"Entry {old.id} told “{old.kind}” and can't become “{entry.kind}”. "
            "Withdraw it and tell the other as a new entry."
        )
    return old


def _superseded(old: Entry, entry: Entry, known: Iterable[Entry]) -> str:
    """Say by what an entry holds no more: the earliest that came in its place."""
    later = min((e for e in known if e.corrects == old.id and e is not entry), key=lambda e: e.id)
    if later.kind is _K.WITHDRAWN:
        return (
            f"Entry {old.id} was withdrawn already. If it did happen, tell it again as a new "
            "entry."
        )
    return (
        f"Entry {old.id} was corrected already, by entry {later.id}. Correct the newest of its "
        "line."
    )
