"""What was understood of a file, in words."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, tzinfo
from typing import Final

from chamberwatch.core.logged.log import Log
from chamberwatch.core.logged.numbers import COMMA
from chamberwatch.core.logged.survey import Survey
from chamberwatch.core.logged.times import EPOCH, Order, Twice
from chamberwatch.core.sentence import listed
from chamberwatch.core.watch.reading import in_words
from chamberwatch.core.wording import amount

_SIGNS: Final[Mapping[str, str]] = {"\t": "tabs", ";": "“;”", ",": "“,”", "|": "“|”"}
_ORDERS: Final[Mapping[str, str]] = {
    Order.YEAR_FIRST: "the year first",
    Order.DAY_FIRST: "the day first",
    Order.MONTH_FIRST: "the month first",
    EPOCH: "seconds since 1970",
    "": "in an order that can't be told",
}

Lines = Iterator[tuple[str, str]]


def layout(log: Log, letters: str) -> Lines:
    """Yield how a file is laid out, as labels and words; `letters`: the name of its letters."""
    sign = _SIGNS.get(log.shape.delimiter, f"“{log.shape.delimiter}”")
    before = "a comma" if log.decimal == COMMA else "a point"
    above = log.shape.first
    rows = f"rows from line {above + 1} on"
    yield "laid out", f"columns parted by {sign}, {before} before decimals, {rows}, {letters}"
    names = listed([f"“{log.shape.names[place]}”" for place in log.columns.times])
    written = _ORDERS.get(log.form.written, f"as {log.form.written}")
    clocks = f", on the clocks of {log.form.zone} where no zone is named"
    yield "time", f"{names}, {written}{'' if log.form.written == EPOCH else clocks}"


def taken(log: Log) -> Lines:
    """Yield which columns are taken as what, and which are not, and why."""
    for column in log.columns.values:
        name = log.shape.names[column.place]
        yield in_words(column.quantity), f"“{name}” in {column.unit}"
    for name, why in log.columns.left_out:
        yield "left out", f"“{name}”: {why}"


def found(survey: Survey, zone: tzinfo) -> Lines:
    """Yield what a file comes to."""
    if survey.first is not None and survey.last is not None:
        first, last = (at.astimezone(zone) for at in (survey.first, survey.last))
        yield "span", f"{first:%Y-%m-%d %H:%M} to {last:%Y-%m-%d %H:%M}, on the site's clock"
    for quantity, figures in survey.figures.items():
        least, mean, most = (
            amount(quantity, value, finer=1)
            for value in (figures.least, figures.mean, figures.most)
        )
        count = f"{figures.count:,} {'reading' if figures.count == 1 else 'readings'}"
        yield in_words(quantity), f"{count}, {least} to {most}, mean {mean}"
    for sensor, of_it in survey.sensors.items():
        yield "goes to", f"sensor {sensor}: {of_it:,} of them"


def troubles(survey: Survey, twice: Twice, zone: tzinfo) -> Lines:
    """Yield what can't be taken, and what is to be known of the rest."""
    if survey.unread:
        yield "can't be read", f"{_rows(survey.unread)}{_first(survey.unread, survey.faults)}"
        yield from _each(survey.faults)
    if survey.refused:
        values = "1 value" if survey.refused == 1 else f"{survey.refused:,} values"
        yield "can't be right", f"{values}{_first(survey.refused, survey.rejects)}"
        yield from _each(survey.rejects)
        if survey.refused > survey.readings:
            yield "", "That is most of them: look at the units, and say them with --unit."
    for name, count in survey.others.items():
        yield "left out", f"{_rows(count)} of “{name}”, which is not asked for"
    yield from _changes(twice, zone)


def _rows(count: int) -> str:
    return "1 row" if count == 1 else f"{count:,} rows"


def _first(count: int, kept: Sequence[tuple[int, str]]) -> str:
    return f"; the first {len(kept)}:" if count > len(kept) else ":"


def _each(kept: Sequence[tuple[int, str]]) -> Lines:
    for line, reason in kept:
        yield "", f"line {line}: {reason}"


def _changes(twice: Twice, zone: tzinfo) -> Lines:
    if twice.days:
        days = listed([f"{day:%Y-%m-%d}" for day in sorted(twice.days)])
        told = f"{_rows(twice.first)} taken for its first coming, {twice.second:,} for its second"
        cure = "" if twice.second else ". If the clock was not put back, say its --zone in hours"
        yield "clock", f"on {days} an hour came twice: {told}, by their order{cure}."
    if twice.skipped:
        never = (
            f"{_rows(twice.skipped)} of an hour that {zone} skipped. The logger may not follow "
        )
        yield "clock", f"{never}summer time: then say its hours from UTC, such as --zone +1."


def example(when: datetime, zone: tzinfo) -> str:
    """Write the time of a row that is shown."""
    return f"{when.astimezone(zone):%Y-%m-%d %H:%M:%S}"
