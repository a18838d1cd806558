"""Invented houses to be looked at: calm, dry, silent, crowded, empty."""

from dataclasses import replace
from datetime import time, timedelta

from chamberwatch.core import health as lines
from chamberwatch.core.air.condensation import Margin
from chamberwatch.core.air.figure import Origin
from chamberwatch.core.backups import BackupStand
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Batch, Container
from chamberwatch.core.self_check import SelfCheck
from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.core.watch.chamber import Chamber, Sensor
from chamberwatch.core.watch.course import Points
from chamberwatch.core.watch.reading import Place, Quantity
from chamberwatch.core.watch.reminder import Call, Priority, State
from chamberwatch.service.views import ReminderNow
from tests.make import ROOM, at
from tests.web.air_fakes import dry_known_tent, known_tent
from tests.web.batch_fakes import standing_batch, with_batches
from tests.web.desk_fakes import (
    AIR,
    DRY,
    HOUSE_AIR,
    IN_ROOM,
    MIST,
    MIST_NOW,
    MISTED,
    MOIST,
    ZONE,
    Played,
    calm_tent,
    chamber_now,
    dry_tent,
    health,
    sensor_now,
)

Q = Quantity
B = Container


def hours(
    end: float, swing: float, since: float = 360.0, gap: tuple[float, float] = (0.0, 0.0)
) -> Points:
    """Return a line that swings and falls towards its end, with a gap in it (minutes ago)."""
    points = []
    for ago in range(int(since), 2, -5):
        if gap[1] < ago < gap[0]:
            continue
        # A misting every hour and a half: up at once, down slowly.
        share = (ago % 90) / 90.0
        points.append((at(-ago), end + swing * (share - 0.06)))
    return tuple(points)


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
    played.strips.lines = {
        ("tent-top", Q.HUMIDITY): hours(76.2, 15.0),
        ("tent-top", Q.TEMPERATURE): hours(18.4, 0.6),
        ("tent-top", Q.CO2): hours(840.0, 120.0),
        ("block-3", Q.TEMPERATURE): hours(20.9, 0.5),
    }
    return with_batches(played, *grown())


def grown() -> tuple[Batch, ...]:
    """Return batches of every form, as they may stand in the usual tent."""
    white = standing_batch(11, "grey-oyster", Stage.COLONISATION, "third", 17)
    return (
        standing_batch(5, "king-oyster", Stage.RESTING, "top", 10),
        standing_batch(6, "grey-oyster", Stage.FRUITING, "second", 5),
        standing_batch(8, "pink-oyster", Stage.PINNING, "second", 2),
        standing_batch(9, "lions-mane", Stage.COLONISATION, "third", 8),
        standing_batch(10, "shiitake", Stage.COLONISATION, "third", 8, B.JAR, 4),
        replace(white, white_at=at(-2900)),
        standing_batch(12, "grey-oyster", Stage.FRUITING, "bottom", 1, B.BUCKET),
    )


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
    crowd(played, names)
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


def crowd(played: Played, shelves: tuple[str, ...]) -> None:
    """Fill the big tent and the tub, every container and stage among them."""
    kinds = ("grey-oyster", "golden-oyster", "chestnut", "shiitake", "reishi")
    stages = [s for s in Stage if s not in (Stage.SPENT, Stage.CONTAMINATED)]
    boxes = list(Container)
    standing = [
        standing_batch(
            100 + n,
            kinds[n % len(kinds)],
            stages[n % len(stages)],
            shelves[n % 7],
            n,
            boxes[n % len(boxes)],
            1 + n % 3,
            "big",
        )
        for n in range(28)
    ]
    more = [
        standing_batch(200 + n, kinds[0], stages[n], shelves[7], 46, boxes[n], 1, "big")
        for n in range(5)
    ]
    loose = [
        standing_batch(301, "button", Stage.CASE_RUN, None, 3, Container.TRAY, 1, "big"),
        standing_batch(302, "reishi", Stage.ANTLER, None, 12, Container.JAR, 2, "tub"),
        standing_batch(303, "reishi", Stage.CONK, None, 2, Container.LOG, 1, "tub"),
    ]
    with_batches(played, *standing, *more, *loose)
    played.strips.lines = {
        ("second", Q.HUMIDITY): hours(79.7, 18.0, gap=(200.0, 90.0)),
        ("free", Q.HUMIDITY): hours(99.0, 2.0, since=14.0),
        ("five", Q.HUMIDITY): tuple((at(-ago), 88.0) for ago in range(358, 300, -5)),
        ("tub", Q.TEMPERATURE): hours(22.5, 1.0, since=45.0),
    }


def wet() -> Played:
    """Return a tub with wet walls, a tent of which nobody can tell, and nothing in either."""
    played = calm_tent()
    unsure = Margin(16.2, 0.2, 0.5, Origin.ASSUMED, wet=False)
    played.put(replace(played.history.now("tent"), margin=unsure))
    tub = Chamber("tub", "Lidded tub", Stage.FRUITING, 60.0)
    heard = sensor_now(Sensor("tub", "tub"), played.clock, {Q.TEMPERATURE: 18.2, Q.HUMIDITY: 98.0})
    made = chamber_now(tub, [heard], AIR)
    sure = Margin(15.0, -1.2, 0.4, Origin.ASSUMED, wet=True)
    played.put(replace(made, margin=sure))
    return with_batches(played)


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


def unwell() -> Played:
    """Return a tent with a full disk, no stick, a phone out of reach and a lost sensor."""
    played = dry_tent()
    full = SelfCheck("disk", False, "Only 3 MB are free at /var/lib/chamberwatch. Make room.")
    sound = SelfCheck("database", True, "/var/lib/chamberwatch/chamberwatch.db opens.")
    waits = "A message to phone has not gone out yet: tried since 09:12; no answer."
    stick = BackupStand(
        "/mnt/chamberwatch/chamberwatch-20260117-021000.db",
        at(-3 * 1440),
        23_000_000,
        "The folder /mnt/chamberwatch is not there. Plug the stick in.",
        at(-1440),
    )
    backup = (stick, time(3, 10))
    told = lines.backup(*backup, None, (at(0), ZONE)).troubles
    lost = replace(played.history.rooms["tent"].sensors[0], silent=True)
    tent = played.history.rooms["tent"]
    played.put(replace(tent, sensors=(lost, *tent.sensors[1:])))
    played.history.state = health(
        played.clock,
        well=False,
        troubles=(full.words, waits, *told),
        undelivered=(waits,),
        outbox_waiting=1,
        checks=(full, sound),
        backup=backup,
    )
    return played


SCENES = {
    "usual": usual,
    "dry": dry_tent,
    "calm": calm_tent,
    "crowded": crowded,
    "silent": silent,
    "unheard": unheard,
    "empty": empty,
    "wet": wet,
    "known": known_tent,
    "known-dry": dry_known_tent,
}
