"""Invented houses to be looked at: calm, dry, silent, crowded, empty."""

from dataclasses import replace
from datetime import timedelta

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.core.watch.chamber import Chamber, Sensor
from chamberwatch.core.watch.reading import Place, Quantity
from chamberwatch.core.watch.reminder import Call, Priority, State
from chamberwatch.service.views import ReminderNow
from tests.make import ROOM, at
from tests.web.air_fakes import dry_known_tent, known_tent
from tests.web.desk_fakes import (
    AIR,
    DRY,
    HOUSE_AIR,
    IN_ROOM,
    MIST,
    MIST_NOW,
    MISTED,
    MOIST,
    Played,
    calm_tent,
    chamber_now,
    dry_tent,
    health,
    sensor_now,
)

Q = Quantity


def usual() -> Played:
    """Return a tent of four shelves in its second week, too dry on top and stale."""
    played = Played()
    tent = Chamber(
        "tent", "Tent", Stage.FRUITING, 600.0, ("top", "second", "third", "bottom"), "room"
    )
    top = Sensor("tent-top", "tent", shelf="top")
    core = Sensor("block-3", "tent", Place.CORE, shelf="third")
    wall = Sensor("back-wall", "tent", Place.SURFACE, shelf="bottom")
    dry = {Q.TEMPERATURE: 18.4, Q.HUMIDITY: 76.2, Q.CO2: 840.0, Q.BATTERY: 2.93}
    heard = [
        sensor_now(top, played.clock, dry),
        sensor_now(core, played.clock, {Q.TEMPERATURE: 20.9}, timedelta(seconds=40)),
        sensor_now(wall, played.clock, {Q.TEMPERATURE: 17.1}, timedelta(seconds=40)),
    ]
    deeds = [
        MISTED,
        Action(3, "tent", Deed.VENTED, at(-180), "", at(-180), "link"),
        Action(2, "tent", Deed.HARVESTED, at(-1500), "third shelf, 310 g", at(-1500), "page"),
    ]
    played.put(chamber_now(tent, heard, AIR, actions=deeds))
    played.put(chamber_now(ROOM, [sensor_now(IN_ROOM, played.clock, HOUSE_AIR)]))
    played.history.remember(MIST_NOW)
    return played


def crowded() -> Played:
    """Return twelve shelves with long names, every kind of trouble, three chambers and a room."""
    played = Played()
    names = tuple(f"shelf {n} with a long name" for n in range(1, 13))
    tent = Chamber(
        "big",
        "The big shelving tent behind the cellar stairs",
        Stage.FRUITING,
        1900.0,
        names,
        "room",
    )
    sensors = [
        sensor_now(
            Sensor("a-sensor-with-a-very-long-name-01", "big", shelf=names[0]),
            played.clock,
            {Q.TEMPERATURE: 31.2, Q.HUMIDITY: 61.0, Q.CO2: 2650.0, Q.PRESSURE: 100_900.0},
        ),
        sensor_now(
            Sensor("second", "big", shelf=names[0]),
            played.clock,
            {Q.TEMPERATURE: 12.6, Q.HUMIDITY: 79.7},
        ),
        sensor_now(Sensor("five", "big", shelf=names[4]), played.clock, MOIST, timedelta(hours=5)),
        sensor_now(Sensor("eight", "big", shelf=names[7]), played.clock, {}, None),
        sensor_now(
            Sensor("block", "big", Place.CORE, shelf=names[10]),
            played.clock,
            {Q.TEMPERATURE: 36.4},
        ),
        sensor_now(Sensor("free", "big"), played.clock, {Q.HUMIDITY: 99.0, Q.TEMPERATURE: 24.4}),
    ]
    played.put(chamber_now(tent, sensors, AIR))
    tub = Chamber("tub", "Lidded tub", Stage.COLONISATION, 60.0)
    played.put(
        chamber_now(
            tub,
            [
                sensor_now(
                    Sensor("tub", "tub"), played.clock, {Q.TEMPERATURE: 22.5, Q.HUMIDITY: 93.0}
                )
            ],
            AIR,
        )
    )
    played.put(chamber_now(ROOM, [sensor_now(IN_ROOM, played.clock, HOUSE_AIR)]))
    played.put(chamber_now(Chamber("cellar", "Cellar"), [sensor_now(IN_ROOM, played.clock, DRY)]))
    base = replace(MIST, chamber="big")
    for reminder, title, body in (
        (
            replace(base, id=11, call=Call.VENT, priority=Priority.HIGH),
            "The big shelving tent: vent now, then mist",
            "CO2 2650 ppm, harm above 2000 ppm. Open the zip for ten minutes, then mist.",
        ),
        (
            replace(base, id=12, state=State.ACKNOWLEDGED, call=Call.COOL),
            "The big shelving tent: cool",
            "31.2 °C on shelf 1.",
        ),
        (
            replace(base, id=13, state=State.SHELVED, shelved_until=at(30)),
            "The big shelving tent: mist",
            "",
        ),
        (
            replace(base, id=14, state=State.RETURNED, active=False, call=Call.WARM),
            "The big shelving tent: warm",
            "12.6 °C on shelf 1; inside again since.",
        ),
        (
            replace(base, id=15, call=Call.CHECK_SENSOR, subject="five", priority=Priority.LOW),
            "Sensor five: look at it",
            "Nothing heard from it for five hours. Look at its battery.",
        ),
    ):
        played.history.remember(ReminderNow(reminder, title, body))
    played.history.state = health(
        played.clock,
        well=False,
        troubles=("The broker can't be reached at 127.0.0.1:1883. Start it, or mend mqtt.host.",),
        broker_connected=False,
    )
    return played


def silent() -> Played:
    """Return a tent whose only sensor fell silent two hours ago."""
    played = calm_tent()
    heard = sensor_now(
        Sensor("tent-top", "tent", shelf="top"),
        played.clock,
        MOIST,
        timedelta(hours=2, minutes=10),
    )
    played.put(chamber_now(played.history.rooms["tent"].chamber, [heard], AIR))
    room = sensor_now(IN_ROOM, played.clock, HOUSE_AIR, timedelta(hours=3))
    played.put(chamber_now(ROOM, [room]))
    return played


def unheard() -> Played:
    """Return a tent whose sensors have never said anything."""
    played = Played()
    tent = Chamber("tent", "Tent", Stage.FRUITING, 500.0, ("top", "bottom"), "room")
    played.put(
        chamber_now(
            tent, [sensor_now(Sensor("tent-top", "tent", shelf="top"), played.clock, {}, None)]
        )
    )
    played.put(chamber_now(ROOM))
    return played


def empty() -> Played:
    """Return a house in which nothing was declared."""
    return Played()


SCENES = {
    "usual": usual,
    "dry": dry_tent,
    "calm": calm_tent,
    "crowded": crowded,
    "silent": silent,
    "unheard": unheard,
    "empty": empty,
    "known": known_tent,
    "known-dry": dry_known_tent,
}
