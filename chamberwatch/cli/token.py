"""`token` and `calendar`: what programs and calendars come in with."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from chamberwatch.cli.beside import DEFAULT_CONFIG, ConfigOption, beside

if TYPE_CHECKING:
    from chamberwatch.service.tokens import Tokens

BIGGEST: Final = 2**63 - 1

token = typer.Typer(
    no_args_is_help=True, help="Tokens: what programs send to use the API once a passcode is set."
)


@contextmanager
def _opened(config: Path) -> Iterator["Tokens"]:
    from chamberwatch.service.tokens import Tokens

    with beside(config, make=True) as on:
        yield Tokens(on.books, on.clock)


@token.command()
def new(
    name: Annotated[str, typer.Argument(help="The program that will use it.")],
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """Make a token; it is printed once, alone on standard output."""
    with _opened(config) as tokens:
        made, secret = tokens.make(name)
    print(
        f"Token {made.id}, for {made.name}. It can't be read again; send it as\n"
        "Authorization: Bearer TOKEN",
        file=sys.stderr,
    )
    print(secret)


@token.command("list")
def list_tokens(config: ConfigOption = DEFAULT_CONFIG) -> None:
    """List all tokens, without their secrets. Times are UTC."""
    with _opened(config) as tokens:
        found = tokens.all()
    for each in found:
        used = (
            f"last used {each.used:%Y-%m-%d}, after {each.used:%H}:00"
            if each.used
            else "never used"
        )
        gone = f", revoked {each.revoked:%Y-%m-%d %H:%M}" if each.revoked else ""
        print(f"{each.id}: {each.name}, made {each.made:%Y-%m-%d}, {used}{gone}")
    if not found:
        print("No program has a token. Make one: chamberwatch token new NAME")


@token.command()
def revoke(
    number: Annotated[int, typer.Argument(min=1, max=BIGGEST, help="As token list names it.")],
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """Take a token back: from now on it opens nothing."""
    with _opened(config) as tokens:
        gone = tokens.revoke(number)
    print(f"Token {gone.id} ({gone.name}) opens nothing from now on.")


def calendar(
    config: ConfigOption = DEFAULT_CONFIG,
    new_address: Annotated[
        bool,
        typer.Option("--new-address", help="Make another; the former leads nowhere from then on."),
    ] = False,
) -> None:
    """Print the address of the calendar, which phones read without logging in."""
    from chamberwatch.web.calendar_address import calendar_path, new_calendar_path

    with beside(config, make=True) as on:
        path = new_calendar_path(on.books) if new_address else calendar_path(on.books)
        web = on.settings.web
    print(f"{web.address or f'http://localhost:{web.port}'}{path}")
