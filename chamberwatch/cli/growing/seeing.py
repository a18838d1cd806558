"""`see` and `cautions`: what is seen on a crop, and what is to be minded."""

from collections.abc import Iterable, Iterator
from itertools import groupby
from typing import TYPE_CHECKING, Annotated, Final

import typer

from chamberwatch.cli.beside import DEFAULT_CONFIG, ConfigOption
from chamberwatch.cli.growing import completing, options
from chamberwatch.cli.growing.opening import VIA
from chamberwatch.cli.growing.printing import head, indented, pairs, show
from chamberwatch.core.errors import RefusedError
from chamberwatch.core.growing.batch import EntryKind
from chamberwatch.core.growing.sign_table import BAG_IT, SIGNS
from chamberwatch.core.growing.sign_words import source_words
from chamberwatch.core.growing.signs import Finding, Seen, Sign, Speaks
from chamberwatch.core.growing.spores import Caution
from chamberwatch.core.sentence import within

if TYPE_CHECKING:
    from pathlib import Path
    from zoneinfo import ZoneInfo

    from rich.console import RenderableType

_LONGEST_NOTE: Final = 400
_SPEAKS: Final = {
    Speaks.FOR: "Likely: the air of the days before speaks for it",
    Speaks.AGAINST: "Less likely: the air speaks against it",
    Speaks.UNHEARD: "Can't be told from the air",
}


def see(
    batch: Annotated[
        int,
        typer.Argument(
            metavar="BATCH",
            help="Its number; without it, all signs there are.",
            autocompletion=completing.every,
        ),
    ] = 0,
    sign: Annotated[
        str,
        typer.Argument(
            metavar="SIGN",
            help="What you see, such as long-stems; without it, what may be seen.",
            autocompletion=completing.signs,
        ),
    ] = "",
    at: options.At = "",
    note: options.Note = "",
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """Tell what you see on a crop: likely causes, beside what the air did; kept in its record."""
    if not batch:
        _list_all()
    elif not sign:
        _list_of(batch, config)
    else:
        _look(batch, sign, (at, note), config)


def _list_all() -> None:
    show(_signs(SIGNS.values()), f"\n{_HOW}")


_HOW: Final = "Tell what you see: chamberwatch see BATCH SIGN"


def _list_of(batch: int, config: "Path") -> None:
    from chamberwatch.cli.growing.opening import opened

    with opened(config) as bench:
        show(_signs(bench.growing.looking.signs(batch)), f"\n{_HOW}")


def _signs(signs: Iterable[Sign]) -> "RenderableType":
    rows = [(sign.name, sign.title) for sign in signs]
    return pairs(rows, max(len(name) for name, _ in rows))


def _look(batch: int, sign: str, said: tuple[str, str], config: "Path") -> None:
    from chamberwatch.cli.growing.opening import opened
    from chamberwatch.cli.growing.typed import moment
    from chamberwatch.service.growing.told import Telling

    at, note = said
    if len(note) > _LONGEST_NOTE:
        raise RefusedError(f"The note is longer than {_LONGEST_NOTE} characters; shorten it.")
    with opened(config) as bench:
        growing = bench.growing
        seen = growing.looking.look(batch, sign, moment(at, bench.now, bench.zone) or bench.now)
        kept = " ".join(part for part in (note.strip(), growing.looking.note_of(seen)) if part)
        growing.record.tell(batch, Telling(EntryKind.LOOKED, seen.at, kept, sign=sign), VIA)
        entry = max(each.id for each in growing.record.entries(batch))
        show(*_seen(seen), f"\nKept as entry {entry} of batch {batch}.")


def _seen(seen: Seen) -> "Iterator[RenderableType]":
    title = within(seen.species)
    yield head(f"{seen.sign.title} on batch {seen.batch} ({title})")
    if seen.sign.contamination:
        yield BAG_IT
    for speaks, found in groupby(seen.findings, lambda finding: finding.speaks):
        yield head(f"\n{_SPEAKS[speaks]}")
        for number, finding in enumerate(found):
            yield from _cause(finding, "\n" if number else "")


def _cause(finding: Finding, lead: str) -> "Iterator[RenderableType]":
    cause = finding.cause
    yield indented(f"{lead}{cause.title}: {cause.why}")
    yield pairs(
        (
            ("  air", finding.words),
            # That is said once, above all causes.
            ("  do", cause.do.removeprefix(BAG_IT).strip()),
            ("  from", source_words(cause.source, cause.mark)),
        ),
        label=6,
    )


# ---------------------------------------------------------------------- cautions


def cautions(
    seen: Annotated[
        str, typer.Option("--seen", metavar="ID", help="Of a caution that you have seen.")
    ] = "",
    by: Annotated[str, typer.Option("--by", metavar="NAME", help="Who has seen it.")] = "",
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """List what is to be minded and nobody has seen yet, or say that you have seen it."""
    from chamberwatch.cli.growing import answering
    from chamberwatch.cli.growing.opening import opened

    if by and not seen:
        raise RefusedError("--by NAME goes with --seen ID; give both.")
    with opened(config) as bench:
        standing = answering.cautions(bench)
        if seen:
            batches = bench.growing.record.batches()
            bench.growing.cautions.acknowledge(seen, by, VIA, batches, bench.house)
            print(f"Seen by {' '.join(by.split())}.")
        elif standing:
            show(*(part for each in standing for part in _with_gap(each, bench.zone)))
        else:
            print("There is nothing to mind that nobody has seen.")


def _with_gap(caution: Caution, zone: "ZoneInfo") -> "Iterator[RenderableType]":
    from chamberwatch.cli.growing import answering

    yield from answering.caution_lines(caution, zone)
    yield ""
