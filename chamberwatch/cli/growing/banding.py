"""`band`: what the air of a chamber must be now, and whose wish each limit is."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated

import typer

from chamberwatch.cli.beside import DEFAULT_CONFIG, ConfigOption
from chamberwatch.cli.growing import completing
from chamberwatch.cli.growing.printing import head, indented, show
from chamberwatch.core.growing.band import HOME_BANDS, Stage
from chamberwatch.core.growing.band_words import disagreement_words, limit_words, stated_words
from chamberwatch.core.growing.wants import Following, Grown
from chamberwatch.core.sentence import begun, within
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.core.watch.reading import UNITS, Quantity

if TYPE_CHECKING:
    from rich.console import RenderableType


def band(
    chamber: Annotated[
        str,
        typer.Argument(
            metavar="CHAMBER",
            help="Name of the chamber; without it, all of them.",
            autocompletion=completing.chambers,
        ),
    ] = "",
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """Show what the air of a chamber must be now, and which batch each limit follows."""
    from chamberwatch.cli.growing.opening import opened

    with opened(config) as bench:
        asked = [bench.house.chamber(chamber)] if chamber else bench.house.chambers.values()
        found = [each for each in asked if chamber or each.stage is not None]
        if not found:
            print("No chamber is declared in which anything grows; give one a stage.")
            return
        show(*(part for number, each in enumerate(found) for part in _parts(each, number)))


def _parts(chamber: Chamber, number: int) -> "Iterator[RenderableType]":
    yield head(f"{chr(10) if number else ''}{chamber.title} ({chamber.name})")
    said = list(_sentences(chamber))
    for sentence in said:
        yield indented(f"{begun(sentence)}.")


def _sentences(chamber: Chamber) -> Iterator[str]:
    following, stage = chamber.following, chamber.stage
    if stage is None:
        yield "a room: its air is not judged"
    elif following is None:
        yield from _stated(stage)
    else:
        yield from _followed(following)


def _stated(stage: Stage) -> Iterator[str]:
    for quantity, limits in HOME_BANDS.get(stage, {}).items():
        yield stated_words(quantity, stage, limits, UNITS[Quantity(quantity)])


def _followed(following: Following) -> Iterator[str]:
    if not following.grown:
        yield "nothing grows in it now, so its air is not judged"
        return
    for quantity, limits in following.limits.items():
        yield limit_words(quantity, limits, UNITS[Quantity(quantity)])
    for quantity, limits in following.disagreements.items():
        yield disagreement_words(quantity, limits, UNITS[Quantity(quantity)])
    sealed = [each for each in following.grown if each.sealed]
    if sealed:
        yield f"sealed, so only temperature is asked for: {', '.join(map(_named, sealed))}"


def _named(grown: Grown) -> str:
    return f"batch {grown.batch} ({within(grown.species.title)})"
