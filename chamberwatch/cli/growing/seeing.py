"""`see` and `cautions`: what is seen on a crop, and what is to be minded."""

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Annotated, Final

import typer

from chamberwatch.cli.growing import completing, options
from chamberwatch.cli.growing.opening import DEFAULT_CONFIG, VIA, ConfigOption
from chamberwatch.cli.growing.printing import date_of, head, indented, pairs, show
from chamberwatch.core.errors import RefusedError
from chamberwatch.core.growing.batch import EntryKind
from chamberwatch.core.growing.sign_words import source_words
from chamberwatch.core.growing.signs import Finding, Seen, Sign, Speaks

if TYPE_CHECKING:
    from pathlib import Path

    from rich.console import RenderableType

_LONGEST_NOTE: Final = 400
_SPEAKS: Final = {
    Speaks.FOR: "The air of the days before speaks for",
    Speaks.AGAINST: "The air speaks against",
    Speaks.UNHEARD: "Nothing was measured that could tell",
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
    from chamberwatch.core.growing.sign_table import SIGNS

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
    from chamberwatch.cli.growing.answering import Before
    from chamberwatch.cli.growing.opening import opened
    from chamberwatch.cli.growing.typed import moment
    from chamberwatch.service.growing.record import Telling

    at, note = said
    if len(note) > _LONGEST_NOTE:
        raise RefusedError(f"The note is longer than {_LONGEST_NOTE} characters; shorten it.")
    with opened(config) as bench:
        growing = bench.growing
        seen = growing.looking.look(batch, sign, moment(at, bench.now, bench.zone) or bench.now)
        kept = " ".join(part for part in (note.strip(), growing.looking.note_of(seen)) if part)
        before = Before.look(bench)
        growing.record.tell(batch, Telling(EntryKind.LOOKED, seen.at, kept, sign=sign), VIA)
        entry = max(each.id for each in growing.record.entries(batch))
        show(*_seen(seen), f"\nKept as entry {entry} of batch {batch}.")
        before.answer()


def _seen(seen: Seen) -> "Iterator[RenderableType]":
    title = f"{seen.species[:1].lower()}{seen.species[1:]}"
    yield head(f"{seen.sign.title} on batch {seen.batch} ({title})")
    last = None
    for finding in seen.findings:
        if finding.speaks is not last:
            yield f"\n{_SPEAKS[finding.speaks]}:"
            last = finding.speaks
        yield from _cause(finding)


def _cause(finding: Finding) -> "Iterator[RenderableType]":
    cause = finding.cause
    yield indented(f"\n{cause.title}: {cause.why}")
    yield pairs(
        (
            ("  air", finding.words),
            ("  do", cause.do),
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
    from chamberwatch.cli.growing.opening import opened

    if by and not seen:
        raise RefusedError("--by NAME goes with --seen ID; give both.")
    with opened(config) as bench:
        if seen:
            bench.growing.cautions.acknowledge(seen, by, VIA)
            print(f"Seen by {' '.join(by.split())}. It comes back when there is more to mind.")
        else:
            from chamberwatch.cli.growing.answering import cautions as standing

            found = standing(bench)
            if not found:
                print("There is nothing to mind that nobody has seen.")
            for caution in found:
                show(
                    head(caution.title),
                    indented(caution.body),
                    pairs(
                        (
                            ("since", date_of(caution.since, bench.zone)),
                            ("from", "\n".join(caution.sources)),
                            ("id", caution.id),
                        ),
                        label=6,
                    ),
                    f"  Seen it: chamberwatch cautions --seen {caution.id} --by NAME\n",
                )
