"""`batch`: the life of a batch, from the start on. Its other commands are in the neighbours."""

from typing import Annotated

import typer

from chamberwatch.cli.beside import DEFAULT_CONFIG, ConfigOption
from chamberwatch.cli.growing import completing, options
from chamberwatch.cli.growing.listing import list_batches, show_batch
from chamberwatch.cli.growing.mending import correct, correct_start, withdraw
from chamberwatch.cli.growing.telling import add_tellings

batch = typer.Typer(
    no_args_is_help=True,
    help="Tell what becomes of the batches, from the start of a bag to its end, and look at "
    "them.\n\n"
    "A chamberwatch that runs takes over what was told here within half a minute.",
    epilog="A whole life: start, white, opened, pinned, harvested, soaked, pinned, harvested, "
    "spent.",
)


@batch.command()
def start(  # noqa: PLR0913, PLR0917 - one argument for each option of the command
    species: Annotated[
        str,
        typer.Argument(
            metavar="SPECIES",
            help="Its name, as `chamberwatch species` lists it.",
            autocompletion=completing.species_names,
        ),
    ],
    chamber: options.Chamber = "",
    shelf: options.Shelf = "",
    outside: options.Outside = False,
    container: options.Container = "bag",
    count: options.Count = 1,
    wet: options.Wet = "",
    dry: options.Dry = "",
    moisture: options.Moisture = "",
    substrate: options.Substrate = "",
    strain: options.Strain = "",
    spawn: options.Spawn = "",
    parent: options.Parent = "",
    at: options.At = "",
    note: options.Note = "",
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """Start a batch: what moves and is opened together."""
    from chamberwatch.cli.growing import typed
    from chamberwatch.cli.growing.answering import Before
    from chamberwatch.cli.growing.opening import VIA, opened
    from chamberwatch.cli.growing.printing import show
    from chamberwatch.cli.growing.wording import odd_place_words
    from chamberwatch.core.growing.batch import Container, Start

    with opened(config, make=True) as bench:
        begun = Start(
            species=typed.species_name(species, bench.growing.table),
            container=typed.container(container),
            count=count,
            substrate=substrate.strip(),
            strain=strain.strip(),
            spawn=spawn.strip(),
            wet_g=typed.weight(wet),
            dry_g=typed.weight(dry),
            moisture_pct=typed.percent(moisture),
            parent=typed.number("--parent", parent),
        )
        named = typed.place(chamber, shelf, outside)
        place = named or typed.first_place(bench.house, begun.container is Container.LOG)
        when = typed.moment(at, bench.now, bench.zone)
        before = Before.look(bench)
        new = bench.growing.record.start(begun, place, when, note, VIA)
        before.begun(new)
        if odd := odd_place_words(new, bench):
            show(odd)


batch.command("list")(list_batches)
batch.command("show")(show_batch)
add_tellings(batch)
batch.command()(correct)
batch.command("correct-start")(correct_start)
batch.command()(withdraw)
