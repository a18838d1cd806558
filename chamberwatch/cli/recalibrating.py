"""`calibrate` and `recalibrate`: checks of sensors, straight into the database of the settings."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from chamberwatch.cli.beside import DEFAULT_CONFIG, ConfigOption, beside
from chamberwatch.cli.terminal import going
from chamberwatch.core.errors import RefusedError
from chamberwatch.core.watch.reading import UNITS, Quantity

if TYPE_CHECKING:
    from chamberwatch.core.air.calibration import SaltReading
    from chamberwatch.core.watch.checked import Check
    from chamberwatch.service.calibrating import Calibrating, SensorCalibrations

VIA: Final = "command line"


def calibrate(  # noqa: PLR0913, PLR0917 - one argument for each option of the command
    sensor: Annotated[str, typer.Argument(help="Name of the sensor.")],
    config: ConfigOption = DEFAULT_CONFIG,
    salt: Annotated[
        list[str] | None,
        typer.Option(help="SALT=READ@TEMPERATURE, such as NaCl=77.1@20.4; one or two of them."),
    ] = None,
    co2_fresh_air: Annotated[
        float | None, typer.Option(help="What it said in fresh air, in ppm.")
    ] = None,
    fresh_air_ppm: Annotated[
        float | None, typer.Option(help="What fresh air holds; 430 where it isn't given.")
    ] = None,
    reference_temperature: Annotated[
        str | None, typer.Option(help="REFERENCE=READ, such as 20.0=20.6, in °C.")
    ] = None,
    offset: Annotated[
        str | None,
        typer.Option(help="QUANTITY=OFFSET, such as humidity=-1.5; 0 withdraws a correction."),
    ] = None,
    who: Annotated[str, typer.Option(help="Who did it.")] = "",
    at: Annotated[
        str, typer.Option(help="ISO 8601 time from which it holds; without it, from now on.")
    ] = "",
) -> None:
    """Record a check of a sensor; without one, show what is in force and what it sent last."""
    checks = [
        *([_salts(salt)] if salt else ()),
        *([_fresh_air(co2_fresh_air, fresh_air_ppm)] if co2_fresh_air is not None else ()),
        *([_reference(reference_temperature)] if reference_temperature else ()),
        *([_offset(offset)] if offset else ()),
    ]
    if len(checks) > 1:
        raise RefusedError("That is more than one check; record them one after the other.")
    if not checks and fresh_air_ppm is not None:
        raise RefusedError("--fresh-air-ppm goes with --co2-fresh-air READ; give both.")
    with _opened(config) as calibrating:
        if checks:
            _record(calibrating, sensor, checks[0], who, _time("--at", at))
        else:
            _show(calibrating.of(sensor))


def recalibrate(
    config: ConfigOption = DEFAULT_CONFIG,
    sensor: Annotated[
        str | None, typer.Option(help="Only this sensor; without it, all of them.")
    ] = None,
    since: Annotated[
        str, typer.Option(help="Only readings from this ISO 8601 time on; without it, all.")
    ] = "",
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Only count; change nothing.")
    ] = False,
) -> None:
    """Bring the calibrations to readings that are kept already; the daemon may go on running."""
    from chamberwatch.service.calibrating import Again

    again = Again(sensor, _time("--since", since), dry_run)
    with _opened(config) as calibrating:
        calibrating.must_know(sensor)
        with going("readings") as told:
            done = calibrating.recalibrate(again, told)
    changed = "would change" if dry_run else "changed"
    print(f"{done.looked} readings looked at, {done.changed} {changed}.")
    if done.gone_before is not None:
        print(
            f"Readings of before {done.gone_before:%Y-%m-%d} were dropped as old "
            "(database.keep_raw); what was summed up of them stays as it was."
        )


@contextmanager
def _opened(config: Path) -> Iterator["Calibrating"]:
    """Open what takes in checks of sensors."""
    from chamberwatch.service.calibrating import Calibrating
    from chamberwatch.service.correcting import Corrector

    with beside(config) as on:
        house = on.settings.house()
        with on.books.read() as book:
            on.board.remember(book.readings.newest(), ())
        calibrating = Calibrating(on.books, on.clock, house, on.board, Corrector(house))
        calibrating.refresh()
        yield calibrating


def _record(
    calibrating: "Calibrating", sensor: str, check: "Check", who: str, at: datetime | None
) -> None:
    from chamberwatch.service.calibrating import Told

    if not who.strip():
        raise RefusedError("Say who did it: --who NAME.")
    recorded = calibrating.record(Told(sensor, check, who, at, VIA))
    print(recorded.finding.words)
    print("A running chamberwatch takes it over with its next commit, within a minute as a rule.")
    if at is not None:
        print(
            f"For readings kept since then: chamberwatch recalibrate --sensor {sensor} "
            f"--since {at.isoformat()}"
        )


def _show(found: "SensorCalibrations") -> None:
    for quantity, reading in found.newest.items():
        raw = reading.value if reading.raw is None else reading.raw
        print(
            f"{quantity}: sent {raw:g} {UNITS[quantity]} at {reading.time:%Y-%m-%d %H:%M} UTC, "
            f"counts as {reading.value:g} {UNITS[quantity]}."
        )
    for held in found.calibrations:
        in_force = " In force." if found.in_force.get(held.quantity) == held else ""
        print(
            f"{held.at:%Y-%m-%d %H:%M} UTC, {held.quantity}: slope {held.slope:.4g}, offset "
            f"{held.offset:+.4g} {UNITS[held.quantity]}, by {held.who} ({held.how}).{in_force}"
        )
    if not found.calibrations:
        print(f"No calibration of {found.sensor.name} was recorded.")


# ---------------------------------------------------------------------- what was typed


def _salts(texts: list[str]) -> "Check":
    from chamberwatch.core.watch.checked import SaltCheck

    return SaltCheck(tuple(map(_salt, texts)))


def _salt(text: str) -> "SaltReading":
    from chamberwatch.core.air.calibration import Salt, SaltReading

    name, told, rest = text.partition("=")
    read, _, temperature = rest.partition("@")
    form = f"--salt {text} can't be read; write SALT=READ@TEMPERATURE like NaCl=77.1@20.4."
    if not told:
        raise RefusedError(form)
    known = {salt.casefold(): salt for salt in Salt}
    if name.casefold() not in known:
        raise RefusedError(f"--salt {text}: there is no salt “{name}”; take {', '.join(Salt)}.")
    return SaltReading(known[name.casefold()], _number(temperature, form), _number(read, form))


def _fresh_air(read: float, fresh: float | None) -> "Check":
    from chamberwatch.core.watch.checked import FreshAirCheck

    return FreshAirCheck(read) if fresh is None else FreshAirCheck(read, fresh)


def _reference(text: str) -> "Check":
    from chamberwatch.core.watch.checked import ReferenceCheck

    reference, _, read = text.partition("=")
    form = f"--reference-temperature {text} can't be read; write REFERENCE=READ like 20.0=20.6."
    return ReferenceCheck(_number(read, form), _number(reference, form))


def _offset(text: str) -> "Check":
    from chamberwatch.core.watch.checked import ByHand

    quantity, _, value = text.partition("=")
    form = f"--offset {text} can't be read; write QUANTITY=OFFSET like humidity=-1.5."
    if quantity not in set(Quantity):
        raise RefusedError(
            f"{form} There is no quantity “{quantity}”; take one of {', '.join(Quantity)}."
        )
    return ByHand(Quantity(quantity), 1.0, _number(value, form))


def _number(text: str, form: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise RefusedError(form) from None


def _time(option: str, text: str) -> datetime | None:
    if not text:
        return None
    try:
        time = datetime.fromisoformat(text)
    except ValueError:
        time = None
    if time is None or time.tzinfo is None:
        raise RefusedError(
            f"{option} {text} can't be read; write a time with its zone, such as "
            "2026-01-20T18:00:00Z."
        )
    return time.astimezone(UTC)
