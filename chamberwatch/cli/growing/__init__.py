"""The growing record on the command line: telling it, and asking what follows."""

import typer

from chamberwatch.cli.growing.banding import band
from chamberwatch.cli.growing.batching import batch
from chamberwatch.cli.growing.planning import rotation
from chamberwatch.cli.growing.seeing import cautions, see
from chamberwatch.cli.growing.tasking import tasks
from chamberwatch.cli.growing.yielding import yields


def add_growing(app: typer.Typer) -> None:
    """Add the commands about what grows."""
    app.add_typer(batch, name="batch")
    app.command()(tasks)
    app.command("yield")(yields)
    app.command()(rotation)
    app.command()(see)
    app.command()(band)
    app.command()(cautions)
