"""`passcode`: sets, changes and takes away what one logs in with, straight in the database."""

import sys
from typing import TYPE_CHECKING, Annotated

import typer

from chamberwatch.cli.beside import DEFAULT_CONFIG, ConfigOption, beside
from chamberwatch.core.errors import RefusedError

if TYPE_CHECKING:
    from chamberwatch.service.admission import Admission


def passcode(
    config: ConfigOption = DEFAULT_CONFIG,
    remove: Annotated[
        bool,
        typer.Option("--remove", help="Take it away; only where web.host is this machine alone."),
    ] = False,
) -> None:
    """Set the passcode that opens the pages: asked for twice, or one line from a pipe."""
    from chamberwatch.service.admission import Admission
    from chamberwatch.web.hashing import Argon2

    # A start that lets the network in waits for the passcode, so this can't wait for a start.
    with beside(config, make=True, renew=True) as on:
        admission = Admission(on.books, on.clock, Argon2())
        if remove:
            _remove(admission, near=on.settings.web.near)
            return
        changed = admission.choose(_typed())
    print("The passcode was changed." if changed else "The passcode is set.")
    if changed:
        print("Everybody is logged out; tokens of programs go on working.")
    print("It holds at once, also for a chamberwatch that is running.")


def _remove(admission: "Admission", *, near: bool) -> None:
    if not near:
        raise RefusedError(
            "web.host lets the network in, and that needs a passcode. Set web.host to 127.0.0.1 "
            "first, restart chamberwatch, and then remove it; or set another passcode."
        )
    if admission.remove():
        print("The passcode was removed: whoever uses this machine can open the pages.")
    else:
        print("No passcode was set; nothing was changed.")


def _typed() -> str:
    """Return a passcode: typed twice without showing, or the one line that a pipe holds.

    Raises:
        RefusedError: the two differ, or the pipe holds no line or more than one.
    """
    if sys.stdin.isatty():
        first = typer.prompt("New passcode", hide_input=True)
        again = typer.prompt("The same once more", hide_input=True)
        if first != again:
            raise RefusedError("The two are not the same; nothing was changed.")
        return str(first)
    lines = sys.stdin.read().splitlines()
    if len(lines) != 1:
        raise RefusedError(
            f"From a pipe the passcode is its one line, and there were {len(lines)}. Nothing was "
            "changed."
        )
    return lines[0]
