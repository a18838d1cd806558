"""`replay`: a logged file as messages to the broker."""

import itertools
import os
import sys
import threading
from datetime import timedelta, timezone, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import typer

from chamberwatch.cli.terminal import going
from chamberwatch.core.errors import RefusedError
from chamberwatch.core.watch.reading import Quantity

if TYPE_CHECKING:
    from chamberwatch.sim.publisher import Publisher
    from chamberwatch.sim.replay import Columns

CONFIRMED_S: Final = 60.0
TOLD: Final = 5


def replay(  # noqa: PLR0913, PLR0917 - one argument for each option of the command
    file: Annotated[Path, typer.Argument(help="A CSV file with a line of column names.")],
    topic: Annotated[str, typer.Option(help="Topic of the messages.")],
    column: Annotated[
        list[str],
        typer.Option(
            help="quantity=NAME OF COLUMN; may be given several times. Quantities: "
            + ", ".join(Quantity)
            + ". Units are those that the settings of the sensor state."
        ),
    ],
    time: Annotated[
        list[str] | None,
        typer.Option(help="Column of the time; given twice, the two are joined with a space."),
    ] = None,
    time_format: Annotated[
        str, typer.Option(help="iso, epoch (seconds), or a format such as %m/%d/%Y %H:%M.")
    ] = "iso",
    zone: Annotated[
        str, typer.Option(help="Zone of times that carry none: Europe/Lisbon, or hours as -5.")
    ] = "UTC",
    skip_lines: Annotated[
        int, typer.Option(min=0, help="Lines before the one with the column names.")
    ] = 0,
    delimiter: Annotated[str, typer.Option(help="What stands between columns.")] = ",",
    speed: Annotated[
        float | None, typer.Option(min=0.001, help="Times faster than life; without it, at once.")
    ] = None,
    host: Annotated[str, typer.Option(help="The broker.")] = "127.0.0.1",
    port: Annotated[int, typer.Option(help="Its port.")] = 1883,
    username: Annotated[
        str | None,
        typer.Option(help="Its user; the password comes from CHAMBERWATCH_MQTT_PASSWORD."),
    ] = None,
) -> None:
    """Publish a logged file as JSON messages: {"time": ..., "temperature": ...}."""
    from chamberwatch.sim.replay import Columns

    columns = Columns(
        topic=topic,
        columns=dict(pair_of(text) for text in column),
        time_columns=tuple(time or ["time"]),
        time_format=time_format,
        zone=zone_of(zone),
        skip_lines=skip_lines,
        delimiter=delimiter,
    )
    publisher = _publisher(host, port, username)
    raise typer.Exit(_send(file, columns, publisher, speed))


def pair_of(text: str, option: str = "--column", of: str = "NAME") -> tuple[str, str]:
    """Return the quantity that was typed, and what was typed for it.

    Raises:
        RefusedError: it can't be read.
    """
    quantity, _, name = text.partition("=")
    if quantity not in set(Quantity) or not name:
        raise RefusedError(
            f"{option} {text} can't be read; write quantity={of}, with one of "
            f"{', '.join(Quantity)}."
        )
    return quantity, name


def zone_of(text: str) -> tzinfo:
    """Return a zone by its name, or by its hours from UTC.

    Raises:
        RefusedError: there is none.
    """
    try:
        if text.lstrip("+-").replace(".", "", 1).isdigit():
            return timezone(timedelta(hours=float(text)))
        return ZoneInfo(text)
    except (ZoneInfoNotFoundError, ValueError):
        raise RefusedError(f"There is no zone {text}; write one such as Europe/Lisbon.") from None


def _publisher(host: str, port: int, username: str | None) -> "Publisher":
    from chamberwatch.sim.publisher import Publisher

    return Publisher(
        host,
        port,
        client_id=f"chamberwatch-replay-{os.getpid()}",
        username=username,
        password=os.environ.get("CHAMBERWATCH_MQTT_PASSWORD"),
    )


def _send(file: Path, columns: "Columns", publisher: "Publisher", speed: float | None) -> int:
    from chamberwatch.sim.replay import Tally, count_rows, read_log
    from chamberwatch.sim.replay import replay as send

    tally, stopping = Tally(), threading.Event()
    total = count_rows(file, columns)
    publisher.connect()
    try:
        with going(file.name) as told:
            rows = itertools.count(1)
            send(
                read_log(file, columns, tally),
                publisher,
                tally,
                speed=speed,
                wait=stopping.wait,
                progress=lambda: told(next(rows) / max(total, 1)),
            )
            publisher.drain(CONFIRMED_S)
    finally:
        publisher.close()
    for fault in tally.faults[:TOLD]:
        print(fault, file=sys.stderr)
    print(f"{tally.sent} messages sent, {tally.unread} rows could not be read.")
    return 0 if tally.sent else 1
