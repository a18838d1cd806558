"""What the faces show: plain values, ready to be drawn or written as JSON."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, time, timedelta

from chamberwatch.core.air.condensation import Margin
from chamberwatch.core.air.psychrometrics import AirState
from chamberwatch.core.air.uncertainty import Spread
from chamberwatch.core.backups import BackupStand
from chamberwatch.core.self_check import SelfCheck
from chamberwatch.core.watch.action import Action
from chamberwatch.core.watch.chamber import Chamber, Sensor
from chamberwatch.core.watch.counsel import MistAdvice, VentAdvice
from chamberwatch.core.watch.device import Device
from chamberwatch.core.watch.doubt import Doubt
from chamberwatch.core.watch.effect import Effect
from chamberwatch.core.watch.judgement import Judgement
from chamberwatch.core.watch.outlook import Foreseen, HoldAnswer
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.core.watch.reminder import Call, Priority, Reminder
from chamberwatch.core.watch.situation import Situation


@dataclass(frozen=True, slots=True)
class SensorNow:
    """One sensor as it was last heard.

    Attributes:
        sensor: which.
        readings: the newest of each quantity, however old.
        heard_ago: age of the newest; None if it was never heard.
        silent: it has not been heard for longer than it may be.
        doubt: why it is not to be believed, None where it is.
    """

    sensor: Sensor
    readings: Mapping[Quantity, Reading]
    heard_ago: timedelta | None
    silent: bool
    doubt: Doubt | None = None


@dataclass(frozen=True, slots=True)
class ReminderNow:
    """A live reminder with the words of this moment.

    Attributes:
        reminder: which.
        title: what is asked for.
        body: why, what to aim at, and how much.
        closing: its value is back inside its band; it only waits to be sure, and asks for nothing.
        amounts: of which deeds the body says how much.
    """

    reminder: Reminder
    title: str
    body: str
    closing: bool = False
    amounts: frozenset[Call] = frozenset()


@dataclass(frozen=True, slots=True)
class DeedDone:
    """What a person did, and what came of it; None: nothing is known of that."""

    action: Action
    effect: Effect | None


@dataclass(frozen=True, slots=True)
class CounselNow:
    """What can be reckoned of a chamber at this moment.

    Attributes:
        situation: what it was reckoned from: the chamber's ways, the room, the water that stands.
        mist: how much to mist now; None where humidity isn't judged.
        vent: how long to vent now; None where CO2 isn't measured or judged.
        hold: whether it holds until the next visit; None where humidity isn't judged.
        last_held: how long the last misting held whose end is known.
        mist_words: the first in words; empty where there is none.
        vent_words: the second in words.
        hold_words: the third in words.
    """

    situation: Situation
    mist: MistAdvice | None
    vent: VentAdvice | None
    hold: HoldAnswer | None
    last_held: timedelta | None
    mist_words: str
    vent_words: str
    hold_words: str


@dataclass(frozen=True, slots=True)
class HoldNow:
    """The answer to “will it hold?”, the same in words, and how the humidity would go.

    Attributes:
        answer: what follows.
        words: the same in words.
        as_it_is: the humidity till then, if nobody does anything; empty where it isn't drawn.
        misted: the humidity if it is misted as the answer says; empty where it says nothing.
    """

    answer: HoldAnswer
    words: str
    as_it_is: tuple[Foreseen, ...] = ()
    misted: tuple[Foreseen, ...] = ()


@dataclass(frozen=True, slots=True)
class ChamberNow:
    """One chamber at this moment.

    Attributes:
        chamber: which.
        time: of the newest reading shown in `air`; None if nothing was heard.
        temperature_c: of the sensor that speaks for the chamber. [°C]
        humidity_pct: paired with it. [%]
        co2_ppm: newest. [ppm]
        pressure_pa: measured, or of the site's altitude. [Pa]
        air: derived state, None without a pair of temperature and humidity.
        stale: nothing heard lately; the numbers are old and must look old.
        judgements: newest reading of each sensor and quantity that has a band.
        sensors: all of the chamber's sensors.
        reminders: live ones (not normal), gravest first.
        actions: last few deeds, newest first.
        spread: how far the air may be off, from the accuracy of its sensor; None without `air`.
        margin: of the coldest surface; None where it can't be told.
        counsel: amounts and forecasts; None where nothing can be reckoned.
        devices: what works in it on timers of its own.
        effects: what came of `actions`, by their ids, where that is known.
    """

    chamber: Chamber
    time: datetime | None
    temperature_c: float | None
    humidity_pct: float | None
    co2_ppm: float | None
    pressure_pa: float
    air: AirState | None
    stale: bool
    judgements: tuple[Judgement, ...]
    sensors: tuple[SensorNow, ...]
    reminders: tuple[ReminderNow, ...]
    actions: tuple[Action, ...]
    spread: Spread | None = None
    margin: Margin | None = None
    counsel: CounselNow | None = None
    devices: tuple[Device, ...] = ()
    effects: Mapping[int, Effect] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class SeriesPoint:
    """One row of an answer about readings. Raw rows have count 1 and least = mean = most."""

    time: datetime
    sensor: str | None
    count: int
    least: float
    mean: float
    most: float


@dataclass(frozen=True, slots=True)
class SeriesPage:
    """Some rows, and from where to ask for more (None: that was all)."""

    chamber: str
    quantity: str
    unit: str
    points: tuple[SeriesPoint, ...]
    next_from: datetime | None


@dataclass(frozen=True, slots=True)
class Health:
    """How the watcher itself is doing.

    Attributes:
        well: all of the below is as it should be.
        troubles: what isn't, in plain words with the cure.
        started: when the daemon started.
        now: its clock.
        broker_connected: whether the link to the broker stands.
        last_message_ago: age of the last message of any kind.
        readings: how many are kept.
        rejects: how many messages could not be taken in, ever.
        waiting_for_clock: readings that wait to be dated.
        undatable: readings that can never be dated.
        outbox_waiting: messages that wait because their address can't be reached.
        version: of chamberwatch.
        checks: what it found when it looked itself over.
        undelivered: those of the troubles that are about messages.
        backup: what is known of the last backup, and when one is made each night, if one is.
    """

    well: bool
    troubles: tuple[str, ...]
    started: datetime
    now: datetime
    broker_connected: bool
    last_message_ago: timedelta | None
    readings: int
    rejects: int
    waiting_for_clock: int
    undatable: int
    outbox_waiting: int
    version: str
    checks: tuple[SelfCheck, ...] = ()
    undelivered: tuple[str, ...] = ()
    backup: tuple[BackupStand, time | None] = (BackupStand(), None)


@dataclass(frozen=True, slots=True)
class AddressNow:
    """One address that is told, and how well it can be reached.

    Attributes:
        name: of the address; the address itself may hold a secret.
        links: messages to it carry links.
        pictures: messages to it can carry a picture.
        went: when a message last went out.
        failed: when one last did not.
        reason: why it did not, in words.
        failing_since: when the first failed of those since the last that went out; None: it is
            well, as far as is known.
        waiting: messages that wait because it can't be reached.
        away_until: nobody is there to hear until then; None: somebody is.
        least: nothing of less priority is sent there.
    """

    name: str
    links: bool
    pictures: bool
    went: datetime | None
    failed: datetime | None
    reason: str
    failing_since: datetime | None
    waiting: int
    away_until: datetime | None = None
    least: Priority = Priority.LOW


@dataclass(frozen=True, slots=True)
class Tried:
    """How a test message went: to whom, whether it went, why not, and whether with a picture."""

    address: str
    ok: bool
    reason: str
    picture: bool
