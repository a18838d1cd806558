"""`health`: what is unwell, and how everything is."""

import os
import shutil
import sys
import textwrap
from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, Final

import typer

from chamberwatch.cli.beside import DEFAULT_CONFIG, ConfigOption

if TYPE_CHECKING:
    from chamberwatch.service.wellness import Report

WIDEST: Final = 100
"""Longer lines are hard to read."""
LABEL: Final = 10
UNWELL: Final = 1


def health(
    json_: Annotated[bool, typer.Option("--json", help="For programs.")] = False,
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """Say what is unwell and what to do about it; beside the daemon, or without it.

    Ends with 0 where all is well, with 1 where something isn't, and with 2 where the settings are
    at fault.
    """
    from chamberwatch.settings import load
    from chamberwatch.wiring.health import report_beside

    report = report_beside(load(config, os.environ))
    if json_:
        from chamberwatch.web.health_shapes import EverythingOut

        print(EverythingOut.of(report).model_dump_json(indent=2))
    else:
        width = None
        if sys.stdout.isatty():
            width = min(WIDEST, shutil.get_terminal_size().columns)
        print("\n".join(said(report, width)))
    raise typer.Exit(UNWELL if report.unwell else 0)


def said(report: "Report", width: int | None) -> Iterator[str]:
    """Yield a report line by line.

    Args:
        report: what to say.
        width: of the terminal; None: it goes elsewhere, and nothing is wrapped.
    """
    from chamberwatch.core.health import fact

    if report.unwell:
        names = ", ".join(dict.fromkeys(name for name, _ in report.unwell))
        yield f"Not well: {names}."
    elif report.sensors:
        yield "All is well."
    else:
        yield "Nothing is wrong, and nothing is watched yet: add a sensor."
    for name, words in report.unwell:
        yield from _wrapped(f"- {name}: {words}", width, "", "  ")
    yield ""
    for line in report.lines:
        yield from _wrapped(fact(line), width, f"{line.name:<{LABEL}}", " " * LABEL)


def _wrapped(words: str, width: int | None, first: str, others: str) -> list[str]:
    if width is None:
        return [first + words]
    # Paths and addresses must stay whole, to be copied.
    return textwrap.wrap(
        words,
        width,
        initial_indent=first,
        subsequent_indent=others,
        break_long_words=False,
        break_on_hyphens=False,
    )
