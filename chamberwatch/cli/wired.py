"""`wired`: sensors on wires, measured and published; and a look at what answers."""

import json
import logging
import os
import signal
import socket
import threading
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Annotated, Final

import typer

from chamberwatch.cli.beside import DEFAULT_CONFIG, ConfigOption
from chamberwatch.core.errors import Fault, RefusedError, SettingsError

if TYPE_CHECKING:
    from chamberwatch.core.wired_words import Whose
    from chamberwatch.settings import Settings
    from chamberwatch.wired.bus import Opener
    from chamberwatch.wired.looking import Seen

log = logging.getLogger("chamberwatch")

NONE: Final = (
    "There is no sensor on wires. `chamberwatch wired --look` lists what answers; then add a "
    "[[wired]] with its name and kind."
)


def wired(
    look: Annotated[
        bool, typer.Option("--look", help="List the sensors that answer on the wires, and leave.")
    ] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="With --look: print it for programs.")
    ] = False,
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """Measure with the sensors on wires of this machine, and publish what they say.

    Runs beside the daemon until it is stopped. Ends with 1 where nothing answers, with 2 where
    the settings are at fault or name no such sensor.
    """
    from chamberwatch.settings import load

    if look:
        settings = load(config, os.environ) if config.exists() else None
        look_around(settings, as_json=as_json)
        return
    if as_json:
        raise RefusedError("--json goes with --look only; leave it out, or add --look.")
    measure(load(config, os.environ), config)


def measure(settings: "Settings", config: Path) -> None:
    """Measure and publish until a signal comes.

    Raises:
        SettingsError: they name no such sensor.
        ChamberwatchError: it can't start.
    """
    from chamberwatch.cli.plainly import log_plainly
    from chamberwatch.wiring.wired import build, worth_knowing

    if not settings.wired:
        raise SettingsError((Fault(str(config), "wired", "", NONE),))
    log_plainly()
    process = build(settings)
    log.info("Settings read from %s.", config)
    for line in worth_knowing(settings):
        log.warning("%s", line)
    stopping = threading.Event()

    def leave(_signal: int, _frame: FrameType | None) -> None:
        stopping.set()

    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, leave)
    with ExitStack() as held:
        for bus in sorted({each.bus for each in settings.wired}):
            held.enter_context(_alone_on(bus))
        process.run(stopping)
    log.info("Stopped.")


@contextmanager
def _alone_on(bus: int) -> Iterator[None]:
    """Measure on a bus while no other process does.

    A name of the kernel's is held, not a file: it goes with the process, however that ends.

    Raises:
        RefusedError: another process does.
    """
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as name:
        try:
            name.bind(f"\0chamberwatch-wired-{bus}")
        except OSError as error:
            raise RefusedError(
                f"Another `chamberwatch wired` measures on bus {bus}; two would read each other's "
                "answers. Stop it first: sudo systemctl stop chamberwatch-wired."
            ) from error
        yield


# ------------------------------------------------------------------ a look


def look_around(
    settings: "Settings | None", *, as_json: bool = False, opener: "Opener | None" = None
) -> None:
    """List what answers on every bus.

    Args:
        settings: say which of them are in use; None: there are none yet.
        as_json: for programs.
        opener: opens a bus; None: those of this machine.

    Raises:
        RefusedError: there is no bus, or nothing answers.
    """
    rows = list(_rows(settings, opener))
    if as_json:
        print(json.dumps(rows, ensure_ascii=False, indent=2))
    else:
        for row in rows:
            print(row["says"])
    if rows and not any(row["well"] for row in rows):
        raise RefusedError("Mend that, and look again.")
    if not rows:
        raise RefusedError(
            "No SCD4x, SCD30 or SHT4x answers. Look at the plug and at all four wires: 3.3 V, "
            "ground, SDA, SCL."
        )


def _rows(settings: "Settings | None", opener: "Opener | None") -> Iterator[dict[str, object]]:
    from functools import partial

    from chamberwatch.clock import WallClock
    from chamberwatch.core.watch.wired import MAKES, WireError
    from chamberwatch.core.wired_words import device_of, of_a_bus
    from chamberwatch.wired.bus import LockedBus, Shared, buses
    from chamberwatch.wired.looking import look_at
    from chamberwatch.wiring.wired import whose

    numbers = {wired.bus for wired in settings.wired} if settings else set()
    numbers |= {1} if opener else set(buses()) or {1}
    known = [whose(wired) for wired in settings.wired] if settings else []
    for number in sorted(numbers):
        device = device_of(number)
        bus = Shared(device, opener or partial(LockedBus, clock=WallClock()))
        try:
            for seen in look_at(bus):
                name = next((w.name for w in known if _is(w, number, seen)), None)
                yield {
                    "bus": number,
                    "address": seen.address,
                    "kind": seen.kind.value,
                    "serial": seen.serial,
                    "name": name,
                    "well": seen.ill is None,
                    "says": _says(number, seen, MAKES[seen.kind].title, name),
                }
        except WireError as error:
            says = of_a_bus(device, error.ill, error.detail)
            yield {"bus": number, "well": False, "says": says}
        finally:
            bus.close()


def _is(whose: "Whose", bus: int, seen: "Seen") -> bool:
    return (whose.bus, whose.address, whose.kind) == (bus, seen.address, seen.kind)


def _says(bus: int, seen: "Seen", title: str, name: str | None) -> str:
    from chamberwatch.core.wired_words import Whose, begins

    if seen.ill is not None:
        return begins(Whose(name or "?", seen.kind, bus, seen.address), seen.ill, seen.detail)
    serial = (
        f"serial number {seen.serial}"
        if seen.serial
        else "measuring; tells its serial number only while chamberwatch wired is stopped"
    )
    owner = (
        f"it is [[wired]] {name}"
        if name
        else f'to use it, add [[wired]] with a name, kind = "{seen.kind.value}"'
        + (f", bus = {bus}" if bus != 1 else "")
        + f", address = 0x{seen.address:02x}"
    )
    return f"{title} at 0x{seen.address:02x} on bus {bus}, {serial}; {owner}."
