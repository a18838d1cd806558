"""`tasks`: what can be done today."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from chamberwatch.cli.beside import DEFAULT_CONFIG, ConfigOption
from chamberwatch.cli.growing.printing import head, indented, show

if TYPE_CHECKING:
    from rich.console import RenderableType

    from chamberwatch.cli.growing.opening import Bench
    from chamberwatch.service.growing.duties import TaskNow


def tasks(config: ConfigOption = DEFAULT_CONFIG) -> None:
    """List what can be done with the batches today, what spoils soonest first."""
    from chamberwatch.cli.growing.opening import opened

    with opened(config) as bench:
        found = bench.growing.duties.tasks()
        if found:
            show(*(part for number, each in enumerate(found) for part in _parts(each, number)))
        else:
            show(_nothing(bench))


def _parts(shown: "TaskNow", number: int) -> "Iterator[RenderableType]":
    late = " (overdue)" if shown.overdue else ""
    yield head(f"{chr(10) if number else ''}{shown.title}{late}")
    yield indented(shown.body)


def _nothing(bench: "Bench") -> str:
    from chamberwatch.cli.growing.listing import FIRST

    if not bench.growing.record.batches():
        return FIRST
    ahead = [due for due in bench.growing.duties.dues() if due.due.window.low > bench.now]
    if not ahead:
        return "Nothing to do today, and nothing lies ahead."
    soonest = min(ahead, key=lambda due: due.due.window.low)
    return f"Nothing to do today. What comes first: {soonest.words}"
