"""What happens to a batch, a command for each."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Final

import typer

from chamberwatch.cli.beside import DEFAULT_CONFIG, ConfigOption
from chamberwatch.cli.growing import options
from chamberwatch.cli.growing.wording import odd_place_words
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Batch, EntryKind, harvested_g


@dataclass(frozen=True, slots=True)
class Said:
    """What was typed of a batch, beside its number.

    Attributes:
        kind: what happened.
        at: when, as typed.
        note: free words.
        weight_g: with a harvest. [g]
        flush: of which, where it was said.
        stage: that was set.
    """

    kind: EntryKind
    at: str = ""
    note: str = ""
    weight_g: float | None = None
    flush: int | None = None
    stage: Stage | None = None


_PLAIN: Final[Mapping[str, tuple[EntryKind, str]]] = {
    "white": (EntryKind.WHITE, "It is white through; it may stay closed a while."),
    "cased": (EntryKind.CASED, "It was covered with casing soil."),
    "opened": (EntryKind.OPENED, "It was opened or cut; from now on it shares the air."),
    "pinned": (EntryKind.PINNED, "Its first pins of a flush are seen."),
    "rested": (EntryKind.RESTED, "Its flush is over, and nothing was weighed."),
    "soaked": (EntryKind.SOAKED, "It was soaked in water for its next flush."),
    "rained": (EntryKind.RAINED, "It rained on it (logs outdoors)."),
    "contaminated": (EntryKind.CONTAMINATED, "It is lost to another growth; says what to do."),
    "spent": (EntryKind.SPENT, "It has given all it had and was cleared out."),
}


def add_tellings(app: typer.Typer) -> None:
    """Add a command for everything that can happen to a batch."""
    for name, (kind, help_) in _PLAIN.items():
        app.command(name, help=help_)(_plain(kind))
        if kind is EntryKind.PINNED:
            app.command()(harvested)
    app.command()(moved)
    app.command()(split)
    app.command("stage")(set_stage)
    app.command()(note)


def _plain(kind: EntryKind) -> Callable[..., None]:
    def tell(
        batch: options.Living,
        at: options.At = "",
        note: options.Note = "",
        config: ConfigOption = DEFAULT_CONFIG,
    ) -> None:
        _tell(config, batch, Said(kind, at, note))

    return tell


def harvested(
    batch: options.Living,
    weight: Annotated[
        list[str],
        typer.Argument(
            metavar="WEIGHT", help="Fresh, with its unit: 620 g, 1.2 kg, 21 oz, 1 lb 5 oz."
        ),
    ],
    flush: options.Flush = None,
    at: options.At = "",
    note: options.Note = "",
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """It was picked and weighed."""
    from chamberwatch.core.growing.weights import grams

    weight_g = grams(" ".join(weight))
    _tell(config, batch, Said(EntryKind.HARVESTED, at, note, weight_g=weight_g, flush=flush))


def set_stage(
    batch: options.Living,
    stage: Annotated[
        str,
        typer.Argument(
            metavar="STAGE", help="Which it is in now.", autocompletion=options.completing.stages
        ),
    ],
    flush: options.Flush = None,
    at: options.At = "",
    note: options.Note = "",
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """Set its stage by hand, where it went another way than usual."""
    from chamberwatch.cli.growing.typed import stage as stage_of

    _tell(config, batch, Said(EntryKind.STAGED, at, note, flush=flush, stage=stage_of(stage)))


def note(
    batch: options.Every,
    words: Annotated[list[str], typer.Argument(metavar="WORDS", help="What to keep.")],
    at: options.At = "",
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """Keep a few words about it."""
    _tell(config, batch, Said(EntryKind.NOTED, at, " ".join(words)))


def moved(  # noqa: PLR0913, PLR0917 - one argument for each option of the command
    batch: options.Living,
    chamber: options.Chamber = "",
    shelf: options.Shelf = "",
    outside: options.Outside = False,
    at: options.At = "",
    note: options.Note = "",
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """It was put elsewhere; a shelf alone is one of the chamber that it stands in."""
    from chamberwatch.cli.growing import typed
    from chamberwatch.cli.growing.answering import Before
    from chamberwatch.cli.growing.opening import VIA, opened
    from chamberwatch.core.errors import RefusedError
    from chamberwatch.service.growing.told import Telling

    with opened(config) as bench:
        stands = bench.growing.record.batch(batch).chamber or ""
        place = typed.place(chamber or (stands if shelf and not outside else ""), shelf, outside)
        if place is None:
            raise RefusedError("Say where to: --in CHAMBER, --shelf SHELF, or --outside.")
        when = typed.moment(at, bench.now, bench.zone)
        told = Telling(EntryKind.MOVED, when, note, chamber=place.chamber, shelf=place.shelf)
        before = Before.look(bench)
        now = bench.growing.record.tell(batch, told, VIA)
        before.answer(now, first=odd_place_words(now, bench))


def split(  # noqa: PLR0913, PLR0917 - one argument for each option of the command
    batch: options.Living,
    count: Annotated[int, typer.Argument(metavar="COUNT", help="How many are taken out.")],
    chamber: options.Chamber = "",
    shelf: options.Shelf = "",
    outside: options.Outside = False,
    at: options.At = "",
    note: options.Note = "",
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """Take some out, to be a batch of their own; without a place they stay beside the others."""
    from chamberwatch.cli.growing import typed
    from chamberwatch.cli.growing.answering import Before
    from chamberwatch.cli.growing.opening import VIA, opened

    place = typed.place(chamber, shelf, outside)
    with opened(config) as bench:
        when = typed.moment(at, bench.now, bench.zone)
        before = Before.look(bench)
        left, taken = bench.growing.record.split(batch, count, place, when, VIA, note)
        before.answer(left, taken)


def _tell(config: Path, batch: int, said: Said) -> None:
    """Keep what happened, and say what has become of it."""
    from chamberwatch.cli.growing.answering import Before
    from chamberwatch.cli.growing.opening import VIA, opened
    from chamberwatch.cli.growing.typed import moment
    from chamberwatch.service.growing.told import Telling

    with opened(config) as bench:
        told = Telling(
            said.kind,
            moment(said.at, bench.now, bench.zone),
            said.note,
            weight_g=said.weight_g,
            flush=said.flush,
            stage=said.stage,
        )
        before = Before.look(bench)
        now = bench.growing.record.tell(batch, told, VIA)
        first = _picked(now) if said.kind is EntryKind.HARVESTED else ""
        if said.kind is EntryKind.OPENED:
            first = odd_place_words(now, bench)
        before.answer(now, first=first)


def _picked(batch: Batch) -> str:
    """Say what was picked now, in grams whatever was typed, and in all."""
    from chamberwatch.core.growing.weights import weight_words

    newest = max(batch.harvests, key=lambda harvest: harvest.entry)
    so_far = weight_words(harvested_g(batch))
    return f"Picked {weight_words(newest.weight_g)} of flush {newest.flush}, {so_far} so far."
