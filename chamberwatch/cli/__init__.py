"""The command line. Each command imports what it needs, so that `--help` is quick."""

import sys
from typing import Annotated

import typer

from chamberwatch import __version__
from chamberwatch.cli.backing_up import backup, restore
from chamberwatch.cli.beside import DEFAULT_CONFIG, ConfigOption
from chamberwatch.cli.exporting import export
from chamberwatch.cli.growing import add_growing
from chamberwatch.cli.health import health
from chamberwatch.cli.hearing import listen
from chamberwatch.cli.holding import hold
from chamberwatch.cli.importing import import_
from chamberwatch.cli.moving import move_database
from chamberwatch.cli.passcode import passcode
from chamberwatch.cli.recalibrating import calibrate, recalibrate
from chamberwatch.cli.replaying import replay
from chamberwatch.cli.reviewing import review
from chamberwatch.cli.species import species
from chamberwatch.cli.token import calendar, token
from chamberwatch.cli.trying import try_message
from chamberwatch.cli.wired import wired
from chamberwatch.core.errors import ChamberwatchError, SettingsError

app = typer.Typer(
    name="chamberwatch",
    no_args_is_help=True,
    pretty_exceptions_enable=False,  # their frames would show local values, secrets among them
    help="Watches the air of a small mushroom chamber, and says when to mist, vent, "
    "wait or look at the sensor.",
    epilog="A reminder, never a safety device; local codes and licensed practice come first.",
)

BAD_SETTINGS = 2
FAILED = 1


def _show_version(wanted: bool) -> None:
    if wanted:
        print(f"chamberwatch {__version__}")
        raise typer.Exit


@app.callback()
def _options(
    version: Annotated[
        bool,
        typer.Option(
            "--version", callback=_show_version, is_eager=True, help="Print the version and leave."
        ),
    ] = False,
) -> None:
    pass


@app.command()
def run(config: ConfigOption = DEFAULT_CONFIG) -> None:
    """Watch the chambers: the daemon that runs for years."""
    from chamberwatch.cli.running import run_daemon

    run_daemon(config)


@app.command()
def check(config: ConfigOption = DEFAULT_CONFIG) -> None:
    """Read the settings file and report every fault of it, each with its cure; then look around.

    Clock, disk, broker, database and backups are looked at too; what is wrong with them is no
    fault of the file.
    """
    from chamberwatch.cli.running import check_settings

    raise typer.Exit(check_settings(config))


@app.command()
def demo(
    pace: Annotated[
        float, typer.Option(min=1.0, max=3600.0, help="How many times faster than life.")
    ] = 60.0,
    for_: Annotated[
        str, typer.Option("--for", help="End by itself after this long, such as 90s or 10 min.")
    ] = "",
    to: Annotated[
        str, typer.Option(help="Send the messages to this address too (an apprise address).")
    ] = "",
    port: Annotated[
        int, typer.Option(min=0, max=65535, help="Port of the page; 0 takes any free one.")
    ] = 8642,
    seed: Annotated[int, typer.Option(help="Another number makes another week.")] = 1,
) -> None:
    """Show the whole job on a simulated tent: broker, sensors, daemon, page, messages."""
    from chamberwatch.cli.showing import Wishes, run_demo

    run_demo(Wishes(pace=pace, for_=for_, to=to, port=port, seed=seed))


app.command()(replay)
app.command()(listen)
app.command()(hold)
app.command()(review)
app.command()(wired)
app.command()(health)
app.command()(backup)
app.command()(restore)
app.command()(calibrate)
app.command()(recalibrate)
app.command()(export)
app.command("import")(import_)
app.command()(species)
app.command("try-message")(try_message)
app.command()(passcode)
app.command()(move_database)
app.add_typer(token, name="token")
app.command()(calendar)
add_growing(app)


def main() -> None:
    """Run the command line; every error of ours ends in one clear text."""
    try:
        app()
    except SettingsError as error:
        print(error, file=sys.stderr)
        sys.exit(BAD_SETTINGS)
    except ChamberwatchError as error:
        print(error, file=sys.stderr)
        sys.exit(FAILED)
