"""`batch list` and `batch show`: what the batches are, and all that is known of one."""

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Annotated, Final

import typer

from chamberwatch.cli.beside import DEFAULT_CONFIG, ConfigOption
from chamberwatch.cli.growing import options
from chamberwatch.cli.growing.printing import (
    NONE,
    date_of,
    head,
    indented,
    pairs,
    show,
    table,
    time_of,
)
from chamberwatch.cli.growing.wording import counted, doing, place_words, short_place, stage_words
from chamberwatch.core.sentence import within

if TYPE_CHECKING:
    from datetime import datetime
    from zoneinfo import ZoneInfo

    from rich.console import RenderableType

    from chamberwatch.cli.growing.opening import Bench
    from chamberwatch.core.growing.batch import Batch, Entry, Start
    from chamberwatch.core.growing.crop import Crop
    from chamberwatch.core.growing.due import Due

FIRST: Final = (
    "Nothing was started yet. Tell the first batch: chamberwatch batch start SPECIES --in CHAMBER"
)


# ---------------------------------------------------------------------- all of them


def list_batches(
    all_: Annotated[bool, typer.Option("--all", help="Those that have ended as well.")] = False,
    chamber: options.Chamber = "",
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """List the batches: what each is doing, where, and what comes next."""
    from chamberwatch.cli.growing.opening import opened

    with opened(config) as bench:
        batches = bench.growing.record.batches()
        if chamber:
            bench.house.chamber(chamber)
        found = [
            batch
            for _, batch in sorted(batches.items())
            if (all_ or batch.ended is None) and _stood_in(batch, chamber)
        ]
        if found:
            show(table(_HEADS, (_row(bench, batch) for batch in found), wraps=(2, 4)))
        else:
            show(_empty(len(batches), chamber, all_=all_))


_HEADS: Final = ("no", "species", "stage", "since", "stands", "air", "next", "picked")


def _stood_in(batch: "Batch", chamber: str) -> bool:
    if not chamber:
        return True
    return batch.chamber == chamber if batch.ended is None else chamber in batch.chambers[-1:]


def _empty(known: int, chamber: str, *, all_: bool) -> str:
    if not known:
        return FIRST
    where = f" in “{chamber}”" if chamber else ""
    if all_:
        return f"Nothing ever stood{where}."
    return f"Nothing grows{where} now; --all lists what has ended."


def _row(bench: "Bench", batch: "Batch") -> Sequence[str]:
    from chamberwatch.core.growing.batch import harvested_g
    from chamberwatch.core.growing.weights import weight_words

    ahead = bench.growing.duties.dues(batch.id)
    picked = harvested_g(batch)
    lives = batch.ended is None
    return (
        str(batch.id),
        batch.start.species,
        stage_words(batch.stage, batch.flush),
        date_of(batch.since, bench.zone),
        short_place(batch.chamber, batch.shelf) if lives else NONE,
        ("sealed" if batch.sealed else "open") if lives and batch.chamber else NONE,
        _short_due(ahead[0].due, bench.zone) if ahead else NONE,
        weight_words(picked) if picked else NONE,
    )


def _short_due(due: "Due", zone: "ZoneInfo") -> str:
    """Write what comes next in two short lines."""
    low, high = due.window.low.astimezone(zone), due.window.high.astimezone(zone)
    if low.date() == high.date():
        return f"{due.kind}\n{high:%-d %b}"
    first = f"{low.day}" if (low.year, low.month) == (high.year, high.month) else f"{low:%-d %b}"
    return f"{due.kind}\n{first}-{high:%-d %b}"


# ---------------------------------------------------------------------- one of them


def show_batch(batch: options.Every, config: ConfigOption = DEFAULT_CONFIG) -> None:
    """Show all that is known of a batch, with the numbers of what was told."""
    from chamberwatch.cli.growing.opening import opened

    with opened(config) as bench:
        found = bench.growing.record.batch(batch)
        show(*_parts(bench, found))


def _parts(bench: "Bench", batch: "Batch") -> "Iterator[RenderableType]":
    species = bench.growing.table.known(batch.start.species)
    latin = f", {species.latin}" if species.latin else ""
    yield head(f"Batch {batch.id}: {species.title} ({species.name}){latin}")
    yield pairs(_facts(bench, batch))
    yield head("\nStages")
    yield table(_STAGE_HEADS, _stages(bench, batch))
    yield from _picked(bench, batch)
    ahead = bench.growing.duties.dues(batch.id)
    if ahead:
        from chamberwatch.cli.growing.answering import bare

        yield head("\nAhead")
        for due in ahead:
            yield indented(bare(due.words, batch.id))
    yield head("\nTold")
    yield table(_TOLD_HEADS, _told(bench, batch), wraps=(2,))


def _facts(bench: "Bench", batch: "Batch") -> Iterator[tuple[str, str]]:
    start, zone = batch.start, bench.zone
    yield "is", f"{doing(batch)}, since {date_of(batch.since, zone)}"
    if batch.ended is None:
        place = place_words(batch.chamber, batch.shelf)
        yield "stands", f"{place}, since {date_of(batch.placed, zone)}"
    yield "started", time_of(batch.started, zone)
    left = "" if batch.count == start.count else f", {batch.count} left in it"
    yield "of", f"{counted(start, start.count)}{left}"
    yield "substrate", _substrate(start)
    yield "strain", start.strain
    yield "spawn", start.spawn
    yield "line", _line(bench, batch)


def _substrate(start: "Start") -> str:
    from chamberwatch.core.growing.weights import weight_words

    dry = start.substrate_dry_g
    parts = (
        start.substrate,
        f"{weight_words(start.wet_g)} filled" if start.wet_g is not None else "",
        f"{start.moisture_pct:g} % water" if start.moisture_pct is not None else "",
        f"{weight_words(dry)} dry" if dry is not None else "",
    )
    return ", ".join(part for part in parts if part)


def _line(bench: "Bench", batch: "Batch") -> str:
    from chamberwatch.core.growing.lineage import generation, old_line

    batches, start = bench.growing.record.batches(), batch.start
    which = generation(batches, batch.id)
    came = [
        f"spawn of batch {start.parent}" if start.parent is not None else "",
        f"taken out of batch {start.split_from}" if start.split_from is not None else "",
    ]
    gave = [
        str(number)
        for number, other in sorted(batches.items())
        if batch.id in (other.start.parent, other.start.split_from)
    ]
    parts = (
        f"generation {which}",
        *came,
        f"batch {', '.join(gave)} came of it" if gave else "",
    )
    note = old_line(which)
    return ", ".join(part for part in parts if part) + (f"; {note}" if note else "")


_STAGE_HEADS: Final = ("  stage", "from", "to", "days")


def _stages(bench: "Bench", batch: "Batch") -> Iterator[Sequence[str]]:
    for passed in batch.stages:
        until = passed.until or (bench.now if batch.ended is None else passed.since)
        days = (until - passed.since).total_seconds() / 86400.0
        yield (
            f"  {stage_words(passed.stage, passed.flush)}",
            date_of(passed.since, bench.zone),
            date_of(passed.until, bench.zone) if passed.until else NONE,
            f"{days:.0f}" if passed.until or batch.ended is None else NONE,
        )


def _picked(bench: "Bench", batch: "Batch") -> "Iterator[RenderableType]":
    from chamberwatch.core.growing.weights import weight_words

    crop = _crop(bench, batch)
    if not crop.flushes:
        return
    yield head("\nPicked")
    days: dict[int, list[datetime]] = {}
    for harvest in batch.harvests:
        days.setdefault(harvest.flush, []).append(harvest.at)
    yield table(
        ("  flush", "when", "fresh", "of dry substrate"),
        (
            (
                f"  {each.flush}",
                ", ".join(date_of(at, bench.zone) for at in days.get(each.flush, ())) or NONE,
                weight_words(each.fresh_g),
                percent(each.efficiency_pct),
            )
            for each in crop.flushes
        ),
        wraps=(1,),
    )
    yield indented(_sum(crop))


def _sum(crop: "Crop") -> str:
    from chamberwatch.core.growing.weights import weight_words

    least, most = weight_words(crop.dried_least_g), weight_words(crop.dried_most_g)
    dried = least if least == most else f"{least} to {most}"
    said = f"Together {weight_words(crop.fresh_g)}, dried {dried}"
    if crop.missing:
        return f"{said}. For the efficiency: {within(crop.missing)}"
    return f"{said}; biological efficiency {percent(crop.efficiency_pct)}."


def percent(share: float | None) -> str:
    """Write a share no finer than what was weighed."""
    return NONE if share is None else f"{share:.0f} %"


def _crop(bench: "Bench", batch: "Batch") -> "Crop":
    from chamberwatch.service.growing.crops import crop_of

    record = bench.growing.record
    return crop_of(batch.id, record.batches(), record.entries, bench.growing.table)


# ---------------------------------------------------------------------- what was told


_TOLD_HEADS: Final = ("  entry", "when", "what")


def _told(bench: "Bench", batch: "Batch") -> Iterator[Sequence[str]]:
    from chamberwatch.core.growing.batch import EntryKind

    entries = bench.growing.record.entries(batch.id)
    later = {entry.corrects: entry for entry in entries if entry.corrects is not None}
    for entry in entries:
        words = _entry_words(entry)
        after = later.get(entry.id)
        if after is not None:
            how = "withdrawn" if after.kind is EntryKind.WITHDRAWN else "corrected"
            words = f"({how} by {after.id}) {words}"
        yield f"  {entry.id}", time_of(entry.at, bench.zone), words


def _entry_words(entry: "Entry") -> str:
    from chamberwatch.core.growing.batch import EntryKind
    from chamberwatch.core.growing.weights import weight_words

    place = entry.kind in (EntryKind.STARTED, EntryKind.MOVED)
    parts = (
        counted(entry.start, entry.start.count) if entry.start is not None else "",
        place_words(entry.chamber, entry.shelf) if place else "",
        weight_words(entry.weight_g) if entry.weight_g is not None else "",
        f"{entry.count} taken out as batch {entry.other}" if entry.count is not None else "",
        str(entry.stage or ""),
        f"flush {entry.flush}" if entry.flush is not None else "",
        entry.sign,
        entry.note,
    )
    what = "corrects" if entry.corrects is not None else ""
    kind = f"{entry.kind} ({what} {entry.corrects})" if what else str(entry.kind)
    said = ", ".join(part for part in parts if part)
    return f"{kind}: {said}" if said else kind
