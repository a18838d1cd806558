"""Sensors on wires, joined to the broker: a process of its own, apart from the daemon.

Nothing of the daemon is touched here, neither its database nor its name at the broker, so that
whatever a bus does, the daemon only sees a sensor that is silent.
"""

import logging
import os
import threading
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import groupby
from typing import Final

from chamberwatch.clock import WallClock
from chamberwatch.core import wired_words as words
from chamberwatch.core.air.psychrometrics import pressure_at_altitude_pa
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.wired import MAKES, WiredKind
from chamberwatch.core.wired_words import Whose, device_of
from chamberwatch.mqtt import topics
from chamberwatch.mqtt.sensor_link import SensorLink
from chamberwatch.mqtt.troubles import PASSWORD, BrokerAddress
from chamberwatch.service.handing_over import HandingOver
from chamberwatch.service.measuring import Bus, Measuring, Plugged, Wire
from chamberwatch.service.ports import Clock
from chamberwatch.settings import SensorSettings, Settings, WiredSettings
from chamberwatch.systemd import tell_systemd, watch_every_s
from chamberwatch.wired.bus import LockedBus, Opener, Shared
from chamberwatch.wired.scd4x import Scd4x
from chamberwatch.wired.scd30 import Scd30
from chamberwatch.wired.sht4x import Sht4x
from chamberwatch.wired.tuning import Tuning, reckons_with

log = logging.getLogger(__name__)

LOOK_S: Final = 0.5
LAST_S: Final = 3.0
"""So long what is left is still handed over at the end."""

UNITS: Final = {
    Quantity.TEMPERATURE: (None, "°C"),
    Quantity.HUMIDITY: (None, "%"),
    Quantity.CO2: (None, "ppm"),
}
"""In which a sensor of the settings has to read what is said here."""


def whose(wired: WiredSettings) -> Whose:
    """Return which sensor is meant, in the words of the core."""
    kind = WiredKind(wired.kind)
    address = wired.address if wired.address is not None else MAKES[kind].addresses[0]
    return Whose(wired.name, kind, wired.bus, address)


def topic_of(settings: Settings, wired: WiredSettings) -> str:
    """Return the topic it speaks on: its own, that of the sensor of its name, or a fitting one."""
    if wired.topic is not None:
        return wired.topic
    namesake = next((s for s in settings.sensor if s.name == wired.name), None)
    if namesake is not None and not set(namesake.topic) & {"+", "#"}:
        return namesake.topic
    return f"wired/{wired.name}"


def tuning_of(settings: Settings, wired: WiredSettings) -> Tuning:
    """Return what a CO2 sensor is set to."""
    pressure_pa = pressure_at_altitude_pa(settings.site.altitude_m)
    return Tuning(pressure_pa, wired.self_calibration, wired.self_heating_k)


def wire_to(settings: Settings, wired: WiredSettings, bus: Shared) -> Wire:
    """Return what leads to a sensor."""
    its = whose(wired)
    match its.kind:
        case WiredKind.SCD4X:
            return Scd4x(bus, its.address, tuning_of(settings, wired))
        case WiredKind.SCD30:
            return Scd30(bus, its.address, tuning_of(settings, wired))
        case WiredKind.SHT4X:
            return Sht4x(bus, its.address)


def address_for(settings: Settings) -> BrokerAddress:
    """Return where the broker is, and as whom the sensors enter it."""
    mqtt = settings.mqtt
    own = mqtt.wired_username is not None
    secret = mqtt.wired_password if own else mqtt.password
    return BrokerAddress(
        mqtt.host,
        mqtt.port,
        mqtt.wired_username if own else mqtt.username,
        secret.get_secret_value() if secret else None,
        mqtt.tls,
        mqtt.client_id,
        mqtt.ca_file,
    )


def own_words(settings: Settings) -> Callable[[str], str]:
    """Return what names the settings that we enter with, where they are not the daemon's."""
    if settings.mqtt.wired_username is None:
        return str

    def told(trouble: str) -> str:
        return trouble.replace("mqtt.username", "mqtt.wired_username").replace(
            PASSWORD, "the password (CHAMBERWATCH_WIRED_PASSWORD)"
        )

    return told


# ------------------------------------------------------------------ worth knowing


def worth_knowing(settings: Settings) -> Iterator[str]:
    """Yield what is no fault of the settings, and may still surprise."""
    for wired in settings.wired:
        yield from _of_co2(settings, wired)
        topic = topic_of(settings, wired)
        readers = [s for s in settings.sensor if topics.matches(s.topic, topic)]
        if not readers:
            yield (
                f"{wired.name}: nobody takes in {topic} yet. Say whose it is under Set-up, or "
                f"add a [[sensor]] with this topic."
            )
        for sensor in readers:
            yield from _misfits(wired, sensor)


def _of_co2(settings: Settings, wired: WiredSettings) -> Iterator[str]:
    kind = WiredKind(wired.kind)
    make, pressure_pa = MAKES[kind], pressure_at_altitude_pa(settings.site.altitude_m)
    if make.pressures_pa is None:
        return
    if wired.self_calibration:
        yield (
            f"{wired.name}: it calibrates itself, and so takes the least CO2 of some days for "
            "outdoor air. In a chamber that never stands open it will read too little; take "
            "self_calibration out."
        )
    corrected = reckons_with(make, pressure_pa)
    topic = topic_of(settings, wired)
    for sensor in settings.sensor:
        if not topics.matches(sensor.topic, topic) or sensor.corrects_pressure == corrected:
            continue
        if corrected:
            yield (
                f"{wired.name}: it is told the altitude and reckons with it, and {sensor.name} "
                "corrects it once more; take corrects_pressure = false out."
            )
        else:
            yield (
                f"{wired.name}: an {make.title} can't reckon with {settings.site.altitude_m:g} m; "
                f"set corrects_pressure = false for {sensor.name}, and it is done here."
            )


def _misfits(wired: WiredSettings, sensor: SensorSettings) -> Iterator[str]:
    """Yield why a sensor of the settings does not understand what is said on the wires."""
    kind = WiredKind(wired.kind)
    says = MAKES[kind].believed
    if sensor.payload != "json":
        yield f'{wired.name}: {sensor.name} does not understand it; set payload = "json".'
        return
    for quantity, read in sensor.reads.items():
        if quantity not in says:
            yield f"{wired.name}: it does not measure {quantity}, which {sensor.name} reads."
        elif read.at != f"/{quantity}" or read.unit not in UNITS[quantity]:
            yield (
                f'{wired.name}: {sensor.name} has to read {quantity} at = "/{quantity}", unit = '
                f'"{UNITS[quantity][1]}".'
            )
    if sensor.time is None or sensor.time.at != "/time":
        yield (
            f'{wired.name}: give {sensor.name} a [sensor.time] with at = "/time", so that each '
            "reading is kept exactly once, at its own time."
        )


# ------------------------------------------------------------------ the process


@dataclass(frozen=True, slots=True)
class WiredProcess:
    """What measures and what hands over.

    Attributes:
        buses: each in a thread of its own.
        handing: what waits for the broker.
        link: to the broker.
        clock: the time.
    """

    buses: Sequence[Bus]
    handing: HandingOver
    link: SensorLink
    clock: Clock

    def run(self, stopping: threading.Event) -> None:
        """Measure and hand over, until stopped."""
        threads = [
            threading.Thread(target=bus.run, args=(stopping,), name="bus", daemon=True)
            for bus in self.buses
        ]
        self.link.start()
        for thread in threads:
            thread.start()
        tell_systemd("READY=1")
        every_s = watch_every_s(os.environ, os.getpid())
        fed_s = self.clock.monotonic()
        while not self.clock.wait(stopping, LOOK_S):
            self.handing.turn()
            # Every bus has to be looked at, or one that hangs would hide another.
            lives = [bus.look() for bus in self.buses]
            live = all(lives) and all(thread.is_alive() for thread in threads)
            if live and self.clock.monotonic() - fed_s >= every_s:
                fed_s = self.clock.monotonic()
                tell_systemd("WATCHDOG=1")
        self._end()

    def _end(self) -> None:
        tell_systemd("STOPPING=1")
        never, end_s = threading.Event(), self.clock.monotonic() + LAST_S
        while self.handing.left() and self.link.connected() and self.clock.monotonic() < end_s:
            self.handing.turn()
            self.clock.wait(never, LOOK_S / 5)
        self.link.stop()
        if left := self.handing.left():
            log.warning("%s", words.unsent(left))


def build(settings: Settings, opener: Opener | None = None) -> WiredProcess:
    """Join the sensors of the settings and the broker.

    Args:
        settings: with at least one [[wired]].
        opener: opens a bus; None: those of this machine.

    Raises:
        BrokerError: the broker's address can't be one.
    """
    clock = WallClock()
    link = SensorLink(address_for(settings), clock, own_words(settings))
    handing = HandingOver(link, clock)
    buses = []
    for number, entries in groupby(sorted(settings.wired, key=_bus), key=_bus):
        bus = Shared(device_of(number), opener or partial(LockedBus, clock=clock))
        sensors = [
            Measuring(
                Plugged(whose(e), topic_of(settings, e), e.every.total_seconds()),
                wire_to(settings, e, bus),
                handing.take,
                clock,
            )
            for e in entries
        ]
        buses.append(Bus(bus.device, sensors, clock))
    return WiredProcess(buses, handing, link, clock)


def _bus(wired: WiredSettings) -> int:
    return wired.bus
