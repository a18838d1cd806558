"""What is shown and asked where somebody looks: how far a long job is, and whether to go on."""

import signal
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Final

import typer

from chamberwatch.core.errors import RefusedError

BROKEN_OFF: Final = 130
"""What shells have for a command that Ctrl-C ended."""


def may_ask() -> bool:
    """Tell whether somebody sees a question and can answer it."""
    return sys.stdin.isatty() and sys.stdout.isatty()


@contextmanager
def stoppable() -> Iterator[threading.Event]:
    """Yield what is set by Ctrl-C: a long job then ends in order, and says what became of it."""
    stopping = threading.Event()
    before = signal.signal(signal.SIGINT, lambda *_: stopping.set())
    try:
        yield stopping
    except RefusedError as error:
        if not stopping.is_set():
            raise
        print(error, file=sys.stderr)
        raise typer.Exit(BROKEN_OFF) from None
    finally:
        signal.signal(signal.SIGINT, before)


@contextmanager
def going(what: str, *, shown: bool = True) -> Iterator[Callable[[float], None]]:
    """Show how far a job is, 0 to 1, as `going_through` does."""
    with going_through(shown=shown) as told:
        yield lambda share: told(what, share)


@contextmanager
def going_through(*, shown: bool = True) -> Iterator[Callable[[str, float], None]]:
    """Show how far each part of a job is, 0 to 1.

    Beside what is printed, and not at all where nobody looks.

    Args:
        shown: False where what is printed would come between.
    """
    from rich.console import Console
    from rich.progress import Progress

    console = Console(stderr=True)
    with Progress(
        console=console,
        transient=True,
        disable=not (shown and console.is_terminal),
        redirect_stdout=False,  # what is printed stays as it is
    ) as bars:
        tasks = {}

        def told(what: str, share: float) -> None:
            if what not in tasks:
                tasks[what] = bars.add_task(what, total=1.0)
            bars.update(tasks[what], completed=share)

        yield told
