"""What was told wrongly: put right, or taken back. The old entry is kept as well."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Annotated, Any, Final

import typer

from chamberwatch.cli.beside import DEFAULT_CONFIG, ConfigOption
from chamberwatch.cli.growing import completing, options
from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.growing.batch import Entry, EntryKind, Start
from chamberwatch.core.growing.corrections import effective
from chamberwatch.core.sentence import plain

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from chamberwatch.cli.growing.opening import Bench
    from chamberwatch.core.growing.species import SpeciesTable
    from chamberwatch.service.growing.places import Place

_NOTHING_GIVEN: Final = "Say what was wrong: give at least one option with what is right."
_PLACED: Final = frozenset({EntryKind.STARTED, EntryKind.MOVED})
_NO_PLACE: Final = (
    "Entry {} told “{}”, which has no chamber and no shelf. Leave --in, --shelf and --outside out."
)


def correct(  # noqa: PLR0913, PLR0917 - one argument for each option of the command
    entry: options.EntryNumber,
    at: options.At = "",
    weight: Annotated[
        str, typer.Option("--weight", metavar="WEIGHT", help="Of a harvest, such as 620g.")
    ] = "",
    flush: options.Flush = None,
    chamber: options.Chamber = "",
    shelf: options.Shelf = "",
    outside: options.Outside = False,
    stage: options.StageName = "",
    sign: Annotated[
        str, typer.Option("--sign", help="What was seen.", autocompletion=completing.signs)
    ] = "",
    note: options.Note = "",
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """Put right what was told; what isn't given stays as it was."""
    from chamberwatch.cli.growing import typed
    from chamberwatch.cli.growing.answering import Before
    from chamberwatch.cli.growing.opening import VIA, opened
    from chamberwatch.service.growing.told import Telling

    given = _Given(chamber, shelf, outside)
    with opened(config) as bench:
        old = _entry(bench, entry)
        if given.any and old.kind not in _PLACED:
            raise RefusedError(_NO_PLACE.format(old.id, old.kind))
        said: dict[str, Any] = {
            "weight_g": typed.weight(weight),
            "stage": typed.stage(stage) if stage else None,
            "flush": flush,
            "sign": sign,
            "note": note,
            "at": typed.moment(at, bench.now, bench.zone),
            **given.beside(old),
        }
        fresh = {name: each for name, each in said.items() if each not in (None, "")}
        if not fresh and not outside:
            raise RefusedError(_NOTHING_GIVEN)
        kept = {name: getattr(old, name) for name in _KEPT}
        if given.any:
            kept |= {"chamber": None, "shelf": None}
        told = Telling(**{**kept, **fresh, "kind": old.kind})
        before = Before.look(bench)
        batch = bench.growing.record.correct(entry, told, VIA)
        new = bench.growing.record.entries(batch.id)[-1]
        before.answer(batch, first=_difference(old, new, bench.zone))


_KEPT: Final = ("note", "chamber", "shelf", "weight_g", "stage", "flush", "sign")


def correct_start(  # noqa: PLR0913, PLR0917 - one argument for each option of the command
    batch: options.Every,
    species: Annotated[
        str, typer.Option("--species", help="Its name.", autocompletion=completing.species_names)
    ] = "",
    chamber: options.Chamber = "",
    shelf: options.Shelf = "",
    outside: options.Outside = False,
    container: options.Container = "",
    count: Annotated[
        int | None, typer.Option("--count", min=1, help="How many it was of, before any split.")
    ] = None,
    wet: options.Wet = "",
    dry: options.Dry = "",
    moisture: options.Moisture = "",
    substrate: options.Substrate = "",
    strain: options.Strain = "",
    spawn: options.Spawn = "",
    parent: options.Parent = "",
    at: options.At = "",
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """Put right what was said at its start; what isn't given stays, and “none” takes it away."""
    from chamberwatch.cli.growing import typed
    from chamberwatch.cli.growing.answering import Before
    from chamberwatch.cli.growing.opening import VIA, opened

    said = {
        "species": species,
        "container": container,
        "count": count,
        "wet_g": wet,
        "dry_g": dry,
        "moisture_pct": moisture,
        "substrate": substrate,
        "strain": strain,
        "spawn": spawn,
        "parent": parent,
    }
    given = _Given(chamber, shelf, outside)
    with opened(config) as bench:
        old, begun = _beginning(bench, batch)
        changes = dict(_changes(said, bench.growing.table))
        when = typed.moment(at, bench.now, bench.zone)
        if not (changes or when or given.any):
            raise RefusedError(_NOTHING_GIVEN)
        start = replace(begun, **changes)
        before = Before.look(bench)
        before.answer(
            bench.growing.record.correct_start(batch, start, when, given.place(old), VIA)
        )


def withdraw(
    entry: options.EntryNumber,
    note: options.Note = "",
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """Take back what was told: it did not happen."""
    from chamberwatch.cli.growing.answering import Before
    from chamberwatch.cli.growing.opening import VIA, opened

    with opened(config) as bench:
        before = Before.look(bench)
        batch = bench.growing.record.withdraw(entry, VIA, note)
        before.answer(batch, first=f"Entry {entry} holds no more: it was withdrawn.")


@dataclass(frozen=True, slots=True)
class _Given:
    """A place as it was typed; a shelf alone is one of the chamber that was told before."""

    chamber: str
    shelf: str
    outside: bool

    @property
    def any(self) -> bool:
        return bool(self.chamber or self.shelf or self.outside)

    def place(self, old: Entry) -> "Place | None":
        from chamberwatch.cli.growing import typed

        before = "" if self.chamber or self.outside or not self.shelf else old.chamber or ""
        return typed.place(self.chamber or before, self.shelf, self.outside)

    def beside(self, old: Entry) -> dict[str, str | None]:
        place = self.place(old)
        return {} if place is None else {"chamber": place.chamber, "shelf": place.shelf}


def _difference(old: Entry, new: Entry, zone: "ZoneInfo") -> str:
    """Say what a correction changed."""
    changes = [
        f"{was or 'nothing'} is now {now or 'nothing'}"
        for was, now in zip(_facts(old, zone), _facts(new, zone), strict=True)
        if was != now
    ]
    return f"Entry {old.id}: {', '.join(changes) or 'it said that already'}."


def _facts(entry: Entry, zone: "ZoneInfo") -> tuple[str, ...]:
    """Write what an entry tells, each fact as it is read."""
    from chamberwatch.cli.growing.printing import time_of
    from chamberwatch.cli.growing.wording import place_words
    from chamberwatch.core.growing.weights import weight_words

    placed = entry.kind in _PLACED
    return (
        "" if entry.weight_g is None else weight_words(entry.weight_g),
        str(entry.stage or ""),
        "" if entry.flush is None else f"flush {entry.flush}",
        entry.sign,
        place_words(entry.chamber, entry.shelf) if placed else "",
        time_of(entry.at, zone),
        entry.note and f"“{plain(entry.note)}”",
    )


def _changes(
    said: Mapping[str, str | int | None], table: "SpeciesTable"
) -> Iterator[tuple[str, Any]]:
    """Yield what was typed of a start, read."""
    from chamberwatch.cli.growing import typed

    reads: dict[str, Callable[[str], object]] = {
        "species": lambda text: typed.species_name(text, table),
        "container": typed.container,
        "wet_g": typed.weight,
        "dry_g": typed.weight,
        "moisture_pct": typed.percent,
        "parent": lambda text: typed.number("--parent", text),
    }
    for name, given in said.items():
        if given is None or given == "":
            continue
        if given == typed.NOTHING and name not in _ALWAYS:
            yield name, "" if name in _WORDS else None
        elif name in reads:
            yield name, reads[name](str(given))
        else:
            yield name, given


_ALWAYS: Final = frozenset({"species", "container", "count"})
_WORDS: Final = frozenset({"substrate", "strain", "spawn"})


def _entry(bench: "Bench", number: int) -> Entry:
    record = bench.growing.record
    for batch in record.batches():
        for entry in record.entries(batch):
            if entry.id == number:
                return entry
    raise UnknownNameError(
        f"There is no entry {number}. `chamberwatch batch show BATCH` lists those of a batch."
    )


def _beginning(bench: "Bench", batch: int) -> tuple[Entry, Start]:
    """Return the start of a batch as it holds; there is none without it."""
    told = effective(bench.growing.record.entries(batch))
    return next((entry, entry.start) for entry in told if entry.start is not None)
