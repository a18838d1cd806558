"""`import`: what other loggers wrote down, as readings of a sensor."""

import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final
from zoneinfo import ZoneInfo

import typer

from chamberwatch.cli.beside import DEFAULT_CONFIG, ConfigOption, NotThereYetError, beside
from chamberwatch.cli.terminal import going, may_ask
from chamberwatch.core.errors import RefusedError, StorageError, UnknownNameError

if TYPE_CHECKING:
    from rich.table import Table

    from chamberwatch.cli.beside import Beside
    from chamberwatch.clock import WallClock
    from chamberwatch.core.logged.log import Asked, Log, LogReader, Row
    from chamberwatch.core.logged.shape import Shape
    from chamberwatch.core.logged.survey import Survey
    from chamberwatch.core.watch.chamber import House
    from chamberwatch.core.watch.reading import Quantity
    from chamberwatch.files.reading import LogFile
    from chamberwatch.service.importing import Imported
    from chamberwatch.settings import Settings

LABEL: Final = 15
TOLD_EVERY: Final = 500

Told = Callable[[float], None]


@dataclass(frozen=True, slots=True)
class _Plan:
    """What is to be read how, and for whom."""

    file: "LogFile"
    log: "Log"
    sensors: Mapping[str | None, str]
    latest: datetime | None

    def reader(self) -> "LogReader":
        from chamberwatch.core.logged.log import LogReader

        return LogReader(self.log, self.sensors, self.latest)

    def rows(self, reader: "LogReader", survey: "Survey", told: Told) -> Iterator["Row"]:
        """Yield what the rows of the file give, counted."""
        from chamberwatch.core.logged.survey import surveyed

        def numbered() -> Iterator[tuple[int, Sequence[str]]]:
            shape = self.log.shape
            rows = self.file.rows(shape.delimiter, shape.first)
            for count, (line, cells, share) in enumerate(rows):
                if count % TOLD_EVERY == 0:
                    told(share)
                yield line, cells
            told(1.0)

        return surveyed(numbered(), reader, survey)


def import_(  # noqa: PLR0913, PLR0917 - one argument for each option of the command
    file: Annotated[Path, typer.Argument(help="A CSV file of another logger, or of an export.")],
    sensor: Annotated[
        list[str] | None,
        typer.Option(
            help="Whose readings these are, by the settings; NAME=NAME IN THE FILE where it holds "
            "several, once for each."
        ),
    ] = None,
    column: Annotated[
        list[str] | None,
        typer.Option(help="quantity=NAME OF COLUMN; only what is named is then taken."),
    ] = None,
    unit: Annotated[
        list[str] | None, typer.Option(help="quantity=UNIT, such as temperature=°F.")
    ] = None,
    time: Annotated[
        list[str] | None,
        typer.Option(help="Column of the time; given twice, the two are joined with a space."),
    ] = None,
    time_format: Annotated[
        str,
        typer.Option(help="iso, epoch, day-first, month-first, or a format as %m/%d/%Y %H:%M."),
    ] = "",
    zone: Annotated[
        str,
        typer.Option(
            help="Zone of times that carry none: Europe/Lisbon, or hours as -5; without it that "
            "of the site."
        ),
    ] = "",
    decimal: Annotated[str, typer.Option(help="What stands before decimals: . or ,")] = "",
    delimiter: Annotated[str, typer.Option(help="What stands between columns.")] = "",
    skip_lines: Annotated[
        int | None, typer.Option(min=0, help="Lines before the one with the column names.")
    ] = None,
    yes: Annotated[bool, typer.Option("--yes", "-y", help="Store it without asking.")] = False,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Only show and count; change nothing.")
    ] = False,
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """Show what a logged file holds, and store it as old readings; the daemon may be running."""
    from chamberwatch.clock import WallClock
    from chamberwatch.core.logged.columns import AskedColumns
    from chamberwatch.core.logged.log import Asked
    from chamberwatch.settings import load

    columns = AskedColumns(_columns(column), _units(unit), tuple(time or ()))
    asked = Asked(columns, _zone(zone), time_format, _delimiter(delimiter), _decimal(decimal))
    asked = replace(asked, skip_lines=skip_lines)
    settings = load(config, os.environ)
    plan = _planned(settings, WallClock(), file, asked, sensor or [])
    survey = _previewed(plan, ZoneInfo(settings.site.timezone))
    if dry_run:
        _would(config, plan, survey)
    elif yes or _agreed(survey.readings):
        with beside(config, make=True) as on:
            _keep(on, plan)
    else:
        print("Nothing was stored. To store it, add --yes.")


# ---------------------------------------------------------------------- what was typed


def _columns(texts: list[str] | None) -> dict["Quantity", str]:
    from chamberwatch.cli.replaying import pair_of
    from chamberwatch.core.watch.reading import Quantity

    return {Quantity(quantity): name for quantity, name in map(pair_of, texts or [])}


def _units(texts: list[str] | None) -> dict["Quantity", str]:
    from chamberwatch.cli.replaying import pair_of
    from chamberwatch.core.watch.reading import Quantity
    from chamberwatch.core.watch.units import fault

    pairs = (pair_of(text, "--unit", "UNIT") for text in texts or [])
    units = {Quantity(quantity): unit for quantity, unit in pairs}
    for quantity, unit in units.items():
        if wrong := fault(quantity, unit):
            raise RefusedError(f"--unit {quantity}={unit}: {wrong}")
    return units


def _zone(text: str) -> tzinfo | None:
    from chamberwatch.cli.replaying import zone_of

    return zone_of(text) if text else None


def _delimiter(text: str) -> str:
    sign = {"tab": "\t", "\\t": "\t"}.get(text, text)
    if len(sign) > 1:
        raise RefusedError(f"--delimiter {text} can't be read; write one sign such as ; or tab.")
    return sign


def _decimal(text: str) -> str:
    if text not in {"", ".", ","}:
        raise RefusedError(f"--decimal {text} can't be read; write . or ,")
    return text


def _sensors(texts: list[str], house: "House", log: "Log") -> dict[str | None, str]:
    """Return to which sensor of ours rows go, by the name in the file; under None: all."""
    known = ", ".join(house.sensors) or "none yet"
    if not texts:
        if log.columns.own:
            return {name: name for name in house.sensors}
        raise RefusedError(f"Say whose readings these are: --sensor NAME. Known: {known}.")
    pairs = [text.partition("=") for text in texts]
    for name, _, _ in pairs:
        if name not in house.sensors:
            raise UnknownNameError(
                f"There is no sensor “{name}”. Known: {known}. Add it in the settings first."
            )
    if len(pairs) > 1 and not all(named for _, _, named in pairs):
        raise RefusedError("Of several sensors say each as --sensor NAME=NAME IN THE FILE.")
    if any(named for _, _, named in pairs) and log.columns.sensor is None:
        raise RefusedError("The file has no column that names sensors; say --sensor NAME alone.")
    return {named or None: name for name, _, named in pairs}


# ---------------------------------------------------------------------- what is understood


def _planned(
    settings: "Settings", clock: "WallClock", path: Path, asked: "Asked", sensors: list[str]
) -> _Plan:
    """Show and return how a file is understood.

    Raises:
        RefusedError: a person has to say more.
    """
    from chamberwatch.cli.growing.printing import head, pairs, show
    from chamberwatch.core.logged import words
    from chamberwatch.core.logged.log import understood
    from chamberwatch.core.logged.shape import LOOKED_AT
    from chamberwatch.files.reading import LogFile
    from chamberwatch.service.judging import AHEAD_AT_MOST

    file, house = LogFile.found(path), settings.house()

    def rows(shape: "Shape") -> Iterator[Sequence[str]]:
        return (cells for _, cells, _ in file.rows(shape.delimiter, shape.first))

    site = ZoneInfo(settings.site.timezone)
    log = understood(file.top(LOOKED_AT), rows, asked, site)
    show(head(str(path)), pairs(words.layout(log, file.letters), LABEL))
    try:
        targets = _sensors(sensors, house, log)
        log = _measured(log, house, set(targets.values()))
    finally:
        show(pairs(words.taken(log), LABEL))
    # The file stays, so nothing is lost by refusing; a row of next year kept as the newest reading
    # would have our own clock taken for wrong.
    latest = clock.now() + AHEAD_AT_MOST
    return _Plan(file, log, targets, latest)


def _measured(log: "Log", house: "House", sensors: set[str]) -> "Log":
    """Leave out what none of the sensors measures by its settings."""
    known = {quantity for name in sensors for quantity in house.sensors[name].quantities}
    if log.columns.own or not known:
        return log
    stays = tuple(column for column in log.columns.values if column.quantity in known)
    why = "the sensor doesn't report it; add it under its reads in the settings first"
    left = tuple((log.shape.names[c.place], why) for c in log.columns.values if c not in stays)
    columns = replace(log.columns, values=stays, left_out=(*log.columns.left_out, *left))
    return replace(log, columns=columns)


def _previewed(plan: _Plan, zone: ZoneInfo) -> "Survey":
    """Show what the file holds, and return what it comes to.

    Raises:
        RefusedError: a person has to say more, or there is nothing to take.
    """
    from chamberwatch.cli.growing.printing import head, pairs, show
    from chamberwatch.core.logged import words
    from chamberwatch.core.logged.survey import Survey

    log = plan.log
    if log.unsure:
        raise RefusedError("\n".join(log.unsure))
    if not log.columns.values:
        raise RefusedError(
            "No column holds what a sensor here measures. Say which does: --column "
            "'temperature=NAME', with --unit where its unit isn't plain."
        )
    survey, reader = Survey(), plan.reader()
    with going("reading") as told:
        for _ in plan.rows(reader, survey, told):
            pass
    troubles = words.troubles(survey, reader.times.twice, log.form.zone)
    show(pairs([*words.found(survey, zone), *troubles], LABEL))
    if None in plan.sensors and len(survey.named) > 1:
        names = ", ".join(survey.named)
        raise RefusedError(
            f"The file holds rows of several: {names}. Say which are whose: --sensor "
            f"'{plan.sensors[None]}={next(iter(survey.named))}'."
        )
    if not survey.readings:
        raise RefusedError("Nothing of it can be stored; look at the reasons above.")
    show(head("First rows"), _examples(survey, zone))
    return survey


def _examples(survey: "Survey", zone: ZoneInfo) -> "Table":
    from chamberwatch.cli.growing.printing import NONE, table
    from chamberwatch.core.logged.words import example
    from chamberwatch.core.watch.reading import in_words
    from chamberwatch.core.wording import amount

    quantities = list(survey.figures)
    rows = []
    for readings in survey.examples:
        by = {reading.quantity: reading.value for reading in readings}
        cells = [amount(q, by[q], finer=1) if q in by else NONE for q in quantities]
        rows.append([example(readings[0].time, zone), readings[0].sensor, *cells])
    return table(["time", "sensor", *map(in_words, quantities)], rows)


def _agreed(readings: int) -> bool:
    return may_ask() and typer.confirm(f"Store these {readings:,} readings?")


# ---------------------------------------------------------------------- what is done


def _would(config: Path, plan: _Plan, survey: "Survey") -> None:
    from chamberwatch.service.importing import Imported

    try:
        with beside(config) as on:
            would = _compared(on, plan)
    except NotThereYetError:
        would = Imported(survey.readings, 0, survey.refused)
    print(
        f"{would.new} readings would be new, {would.known} are there already, {would.rejects} "
        "would be counted as rejects. Nothing was stored."
    )


def _compared(on: "Beside", plan: _Plan) -> "Imported":
    from chamberwatch.core.logged.survey import Survey
    from chamberwatch.service.correcting import Corrector
    from chamberwatch.service.importing import Importing

    importing = Importing(on.books, on.clock, Corrector(on.settings.house()))
    with going("comparing") as told:
        return importing.would(plan.rows(plan.reader(), Survey(), told))


def _keep(on: "Beside", plan: _Plan) -> None:
    from chamberwatch.core.logged.survey import Survey
    from chamberwatch.service.correcting import Corrector
    from chamberwatch.service.importing import Importing, Source

    importing = Importing(on.books, on.clock, Corrector(on.settings.house()))
    source = Source(plan.file.path.name, plan.file.digest(), plan.log.columns.own)
    try:
        with going("storing") as told:
            importing.keep(plan.rows(plan.reader(), Survey(), told), source)
    except StorageError as error:
        raise StorageError(
            f"{error} {importing.done.new} readings were stored before; give the same command "
            "again and it goes on from there."
        ) from error
    done = importing.done
    print(
        f"{done.new} readings stored, {done.known} were there already, {done.rejects} counted as "
        "rejects."
    )
    if done.new:
        print(
            "The chamberwatch that runs sums them up for charts: a month of them takes about ten "
            "minutes, a year two hours."
        )
