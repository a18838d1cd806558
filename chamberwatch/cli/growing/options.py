"""Arguments and options that several commands about growing take."""

from typing import Annotated, Final

import typer

from chamberwatch.cli.growing import completing

_AT: Final = (
    "When: a day such as 2026-11-20, or a local time such as “2026-11-20 18:30”; without it, now."
)

Living = Annotated[
    int,
    typer.Argument(metavar="BATCH", help="Its number.", autocompletion=completing.living),
]
Every = Annotated[
    int,
    typer.Argument(metavar="BATCH", help="Its number.", autocompletion=completing.every),
]
EntryNumber = Annotated[
    int, typer.Argument(metavar="ENTRY", help="Its number, as `batch show` lists it.")
]
At = Annotated[str, typer.Option("--at", metavar="TIME", help=_AT)]
Note = Annotated[str, typer.Option("--note", help="Free words, kept with it.")]
Chamber = Annotated[
    str,
    typer.Option(
        "--in", metavar="CHAMBER", help="Where it stands.", autocompletion=completing.chambers
    ),
]
Shelf = Annotated[
    str, typer.Option("--shelf", help="The shelf there.", autocompletion=completing.shelves)
]
Outside = Annotated[
    bool,
    typer.Option("--outside", help="It stands in no chamber: outdoors, or where nobody measures."),
]
Flush = Annotated[
    int | None, typer.Option("--flush", min=1, help="Of which flush; the one under way by itself.")
]
StageName = Annotated[
    str, typer.Option("--stage", help="Which stage.", autocompletion=completing.stages)
]

# What was started.
Container = Annotated[
    str,
    typer.Option(
        "--container", help="bag, jar, bucket, tray or log.", autocompletion=completing.containers
    ),
]
Count = Annotated[int, typer.Option("--count", min=1, help="How many bags, jars, ... it is of.")]
Wet = Annotated[
    str, typer.Option("--wet", metavar="WEIGHT", help="Filled, all together, such as 5.2kg.")
]
Dry = Annotated[
    str,
    typer.Option("--dry", metavar="WEIGHT", help="Dry substrate in all of them, if weighed."),
]
Moisture = Annotated[
    str,
    typer.Option("--moisture", metavar="PERCENT", help="Water in what was filled, such as 65."),
]
Substrate = Annotated[str, typer.Option("--substrate", help="Such as “wheat straw”.")]
Strain = Annotated[str, typer.Option("--strain", help="The strain, where you know it.")]
Spawn = Annotated[str, typer.Option("--spawn", help="Where the spawn is from: “grain spawn”.")]
Parent = Annotated[
    str,
    typer.Option(
        "--parent",
        metavar="BATCH",
        help="The batch that the spawn was taken from.",
        autocompletion=completing.every,
    ),
]
