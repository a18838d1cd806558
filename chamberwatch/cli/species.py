"""`species`: what each species wants of its air, and who says so."""

import difflib
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import fields
from typing import TYPE_CHECKING, Annotated, Final

import typer

from chamberwatch.cli.beside import DEFAULT_CONFIG, ConfigOption
from chamberwatch.core.errors import UnknownNameError

if TYPE_CHECKING:
    from collections.abc import Callable

    from rich.console import Console
    from rich.table import Table

    from chamberwatch.core.growing.band import Stage
    from chamberwatch.core.growing.species import Species, SpeciesTable, Stated, View, Wants

_JUDGED: Final = (
    ("temperature", "temperature_c", "temperature_harm_c", " °C"),
    ("humidity", "humidity_pct", "humidity_harm_pct", " %"),
    ("CO2", "co2_ppm", "co2_harm_ppm", " ppm"),
)
_WHOLE: Final = (
    ("flushes", "flushes", ""),
    ("days between", "days_between", ""),
    ("efficiency", "efficiency_pct", " %"),
    ("water", "water_pct", " %"),
)
_SEALED: Final = "  sealed bags keep their own humidity and CO2: neither is judged"
_LABEL: Final = 12
_VALUE: Final = 17

Row = tuple[str, str, str]


def species(
    name: Annotated[str, typer.Argument(help="Name of a species; without it, all of them.")] = "",
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """List the species, or show what one of them wants in each stage, with the sources."""
    from rich.console import Console

    from chamberwatch.settings import load_species

    table = load_species(config)
    # What stands in a file may hold brackets; it is printed as it is.
    console = Console(markup=False, highlight=False, emoji=False)
    with console.capture() as said:
        if name:
            _show(console, table, _named(table, name))
        else:
            _list(console, table)
    # Cells are filled up with blanks, which only disturb where the words are taken further.
    print("\n".join(line.rstrip() for line in said.get().splitlines()))


def _named(table: "SpeciesTable", name: str) -> "Species":
    """Return a species.

    Raises:
        UnknownNameError: there is none of that name.
    """
    close = difflib.get_close_matches(name, table.species, n=1, cutoff=0.6)
    if name not in table.species and close:
        raise UnknownNameError(f"There is no species “{name}”. Did you mean {close[0]}?")
    return table.get(name)


# ---------------------------------------------------------------------- all of them


def _list(console: "Console", table: "SpeciesTable") -> None:
    from rich.table import Table

    shown = Table(box=None, padding=(0, 1, 0, 0), header_style="bold")
    shown.add_column("\nspecies", no_wrap=True)
    shown.add_column("\nlatin")
    for head in ("white\ndays", "fruits\n°C", "at\n%", "CO2\nppm", "\nflushes", "yield\n%"):
        shown.add_column(head, no_wrap=True)
    for one in table.species.values():
        mine = " *" if one.name in table.own else ""
        shown.add_row(f"{one.name}{mine}\n{one.title}", one.latin, *_columns(one))
    console.print(shown)
    console.print(
        "\nYield: biological efficiency, fresh mushrooms over dry substrate, all flushes. "
        "`chamberwatch species NAME` shows every stage, and who says so."
    )
    if table.own:
        console.print("* with figures of your own, from species.toml.")


def _columns(one: "Species") -> Iterator[str]:
    from chamberwatch.core.growing.band import Stage

    fruiting = one.stages.get(Stage.FRUITING) or one.stages.get(Stage.CONK)
    growing = one.stages.get(Stage.COLONISATION)
    yield _range(growing.days if growing else None)
    for figure in ("temperature_c", "humidity_pct", "co2_ppm"):
        yield _range(getattr(fruiting, figure) if fruiting else None)
    yield _range(one.flushes)
    yield _range(one.efficiency_pct)


def _range(stated: "Stated | None") -> str:
    return _words(stated.used) if stated else "-"


def _words(view: "View", unit: str = "") -> str:
    """Write a range: 10-21 °C, up to 1000 ppm, from 5000 ppm, 24 °C."""
    if view.low is None:
        return f"up to {view.high:g}{unit}"
    if view.high is None:
        return f"from {view.low:g}{unit}"
    both = f"{view.low:g}" if view.low == view.high else f"{view.low:g}-{view.high:g}"
    return f"{both}{unit}"


# ---------------------------------------------------------------------- one of them


def _show(console: "Console", table: "SpeciesTable", one: "Species") -> None:
    from chamberwatch.core.growing.band import Stage

    console.print(f"{one.title} ({one.name}), {one.latin}", style="bold")
    for wants in one.stages.values():
        console.print(f"\n{wants.stage.capitalize()}", style="bold")
        console.print(_grid(_judged(one, wants)))
        if wants.stage is Stage.COLONISATION:
            console.print(_SEALED)
        beside = list(_beside(wants))
        if beside:
            console.print("  shown, never alarmed on:")
            console.print(_grid(beside))
    console.print("\nThe crop", style="bold")
    console.print(_grid(_crop(one)))
    told = [("pick", one.pick_when)] if one.pick_when else []
    console.print(_grid([*told, *(("note", note) for note in one.notes)]))
    _print_sources(console, table, one)


def _grid(rows: Iterable[tuple[str, ...]], label: int = _LABEL) -> "Table":
    """Return rows of a label, of values where there are three columns, and of words that wrap."""
    from rich.table import Table

    lines = list(rows)
    grid = Table.grid(padding=(0, 1, 0, 0))
    grid.add_column(width=label + 2, no_wrap=True)
    if lines and len(lines[0]) == len(("label", "value", "words")):
        grid.add_column(width=_VALUE)
    grid.add_column()
    for first, *others in lines:
        grid.add_row(f"  {first}", *others)
    return grid


def _judged(species: "Species", wants: "Wants") -> Iterator[Row]:
    for label, figure, harm, unit in _JUDGED:
        yield from _views(label, getattr(wants, figure), unit)
        yield from _home_limit(species, wants.stage, label.lower(), unit)
        yield from _harm(getattr(wants, harm), unit)
    yield from _views("days", wants.days, "")


def _home_limit(species: "Species", stage: "Stage", quantity: str, unit: str) -> Iterator[Row]:
    """Say where a chamber at home is judged by another limit than the source's."""
    from chamberwatch.core.growing.band import Stage
    from chamberwatch.core.growing.wants import Grown, voice

    sealed = stage is Stage.COLONISATION
    said = voice(Grown(0, species, stage, sealed), quantity, {})
    if said is None or not said.note:
        return
    # No CO2 limit is judged on the low side.
    low = None if unit == " ppm" else said.low
    ends = "-".join(f"{end:g}" for end in (low, said.high) if end is not None)
    yield "  at home", f"{'< ' if low is None else ''}{ends}{unit}", said.note.partition("; ")[2]


def _views(label: str, stated: "Stated | None", unit: str) -> Iterator[Row]:
    return _lines(label, stated, lambda view: _words(view, unit))


def _harm(stated: "Stated | None", unit: str) -> Iterator[Row]:
    return _lines("  harm", stated, lambda view: f"{_beyond(view)}{unit}")


def _lines(label: str, stated: "Stated | None", words: "Callable[[View], str]") -> Iterator[Row]:
    """Yield a row for each view, the one that is used first, and why it is that one."""
    if stated is None:
        return
    for number, view in enumerate(stated.views):
        yield label if number == 0 else "  or", words(view), _said(view)
    if stated.reason:
        yield "", "", f"first because: {stated.reason}"


def _beyond(view: "View") -> str:
    if view.low is None:
        return f"above {view.high:g}"
    return f"below {view.low:g}" if view.high is None else f"outside {view.low:g}-{view.high:g}"


def _said(view: "View") -> str:
    by = f"{view.source}, {view.mark}" if view.source else str(view.mark)
    return f"{by}: {view.note}" if view.note else by


def _beside(wants: "Wants") -> Iterator[Row]:
    yield from _views("air changes", wants.air_changes_per_h, " /h")
    dark = wants.light_lux and wants.light_lux.high == 0.0
    for label, value, words in _views("light", wants.light_lux, " lx"):
        yield label, "none needed" if dark and value == "0 lx" else value, words
    if wants.light_note:
        yield "", "", wants.light_note


def _crop(one: "Species") -> Iterator[Row]:
    for label, figure, unit in _WHOLE:
        yield from _views(label, getattr(one, figure), unit)
    if one.soaked:
        yield "soak", "between flushes", "common practice"


def _print_sources(console: "Console", table: "SpeciesTable", one: "Species") -> None:
    keys = set(_sources(one, table.sources))
    used = [(key, title) for key, title in table.sources.items() if key in keys]
    if used:
        console.print("\nSources", style="bold")
        console.print(_grid(used, max(len(key) for key, _ in used)))


def _sources(one: "Species", known: Mapping[str, str]) -> Iterator[str]:
    """Yield the keys of the sources of a species: of its figures, and named in its notes."""
    holders: list[Species | Wants] = [one, *one.stages.values()]
    for holder in holders:
        for part in fields(holder):
            yield from (view.source for view in getattr(getattr(holder, part.name), "views", ()))
    said = " ".join((*one.notes, *(wants.light_note for wants in one.stages.values())))
    yield from (key for key in known if re.search(rf"(?<!\w){re.escape(key)}(?!\w)", said))
