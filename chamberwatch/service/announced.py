"""What is said on MQTT, as plain values: the watcher itself, each chamber, each reminder.

The same things have the same names as in the API. The shape of every message is written down in
`chamberwatch/data/mqtt-out.schema.json`.
"""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Final
from urllib.parse import quote

from chamberwatch.core.growing.band import Band
from chamberwatch.core.watch.doubt import Doubt
from chamberwatch.core.watch.judgement import Judgement
from chamberwatch.core.watch.reading import UNITS, Place, Quantity
from chamberwatch.core.watch.reminder import ASKING, Reminder
from chamberwatch.service.speaking import in_doubt
from chamberwatch.service.views import ChamberNow, ReminderNow, SensorNow

STATUS: Final = "status"
NO_CHAMBER: Final = "-"
"""Stands for the chamber of what belongs to none; no chamber can have this name."""
JUDGED: Final = (Quantity.TEMPERATURE, Quantity.HUMIDITY, Quantity.CO2)


@dataclass(frozen=True, slots=True)
class Told:
    """One message.

    Attributes:
        topic: without the prefix.
        content: what it says; None: what was kept of it is taken away.
        urgent: the part of it that is said as soon as it changes; the rest once a minute.
    """

    topic: str
    content: Mapping[str, Any] | None
    urgent: object

    def body(self) -> str:
        """Return it as it is sent."""
        if self.content is None:
            return ""
        return json.dumps(self.content, ensure_ascii=False, separators=(",", ":"))


# ------------------------------------------------------------------ the watcher


def at_work(version: str, since: datetime, troubles: tuple[str, ...]) -> Told:
    """Say that the watcher is at work, and how it is."""
    content = {
        "at_work": True,
        "version": version,
        "since": moment(since),
        "well": not troubles,
        "troubles": list(troubles),
    }
    return Told(STATUS, content, (not troubles, troubles))


def gone(version: str, since: datetime | None, *, orderly: bool) -> str:
    """Say that the watcher is not at work; no time is known where it went without a word."""
    content = {
        "at_work": False,
        "version": version,
        "since": moment(since),
        "orderly": orderly,
    }
    return Told(STATUS, content, None).body()


# ------------------------------------------------------------------ a chamber


def chamber(now: ChamberNow) -> Told:
    """Say how a chamber is."""
    worst = speaking(now.judgements, now.sensors)
    bands = _bands(now)
    doubts = [_doubt(sensor.doubt) for sensor in now.sensors if sensor.doubt is not None]
    asked = next((r for r in now.reminders if r.reminder.state in ASKING), None)
    content = {
        "chamber": now.chamber.name,
        "title": now.chamber.title,
        "stage": now.chamber.stage,
        "time": moment(now.time),
        "stale": now.stale,
        "air": _air(now),
        "band": bands,
        "judgements": {quantity.value: _judgement(j) for quantity, j in worst.items()},
        "doubts": doubts,
        "asked": _asked(asked) if asked is not None else None,
    }
    urgent = (
        now.stale,
        tuple((q, j.standing, j.harm) for q, j in worst.items()),
        json.dumps(bands),
        tuple((doubt["sensor"], doubt["kind"]) for doubt in doubts),
        urgent_of(asked.reminder) if asked is not None else None,
    )
    return Told(f"chamber/{now.chamber.name}", content, urgent)


def speaking(
    judgements: Iterable[Judgement], sensors: Iterable[SensorNow]
) -> dict[Quantity, Judgement]:
    """Return for each quantity the judgement of the place that is worst off.

    A sensor that is silent or in doubt has no say.
    """
    heard = {s.sensor.name: s for s in sensors if not s.silent}
    worst: dict[Quantity, Judgement] = {}
    for judgement in judgements:
        quantity = judgement.reading.quantity
        sensor = heard.get(judgement.reading.sensor)
        if sensor is None or in_doubt(sensor.doubt, quantity):
            continue
        known = worst.get(quantity)
        if known is None or (judgement.harm, judgement.by) > (known.harm, known.by):
            worst[quantity] = judgement
    return {quantity: worst[quantity] for quantity in JUDGED if quantity in worst}


def _air(now: ChamberNow) -> dict[str, Any]:
    air, spread = now.air, now.spread
    return {
        "temperature_c": _fine(now.temperature_c),
        "humidity_pct": _fine(now.humidity_pct),
        "co2_ppm": _fine(now.co2_ppm),
        "dew_point_c": _fine(air.dew_point_c) if air else None,
        "vpd_kpa": _kilo(air.vpd_pa) if air else None,
        "plus_minus": {
            "temperature_k": _fine(spread.temperature_k),
            "humidity_pct": _fine(spread.humidity_pct),
            "dew_point_k": _fine(spread.dew_point_k),
            "vpd_kpa": _kilo(spread.vpd_pa),
            "co2_ppm": _fine(spread.co2_ppm),
        }
        if spread is not None
        else None,
    }


def _bands(now: ChamberNow) -> dict[str, Any]:
    bands = ((quantity, now.chamber.band(quantity, Place.AIR)) for quantity in JUDGED)
    return {quantity.value: _band(quantity, band) for quantity, band in bands if band is not None}


def _band(quantity: Quantity, band: Band) -> dict[str, Any]:
    return {
        "low": band.low,
        "high": band.high,
        "harm_low": band.harm_low,
        "harm_high": band.harm_high,
        "unit": UNITS[quantity],
    }


def _judgement(judgement: Judgement) -> dict[str, Any]:
    reading = judgement.reading
    return {
        "sensor": reading.sensor,
        "where": judgement.where,
        "value": reading.value,
        "unit": UNITS[reading.quantity],
        "time": moment(reading.time),
        "standing": judgement.standing,
        "by": round(judgement.by, 6),
        "harm": judgement.harm,
    }


def _doubt(doubt: Doubt) -> dict[str, Any]:
    return {
        "sensor": doubt.sensor,
        "kind": doubt.kind.value,
        "since": moment(doubt.since),
        "words": doubt.words,
    }


def _asked(shown: ReminderNow) -> dict[str, Any]:
    reminder = shown.reminder
    return {
        "id": reminder.id,
        "call": reminder.call,
        "priority": reminder.priority.word,
        "state": reminder.state,
        "since": moment(reminder.since),
        "title": shown.title,
        "body": shown.body,
    }


# ------------------------------------------------------------------ a reminder


def topic_of(reminder: Reminder) -> str:
    """Return where a reminder is told: by chamber and call, so that a lamp can know it before."""
    levels = [
        "reminder",
        reminder.chamber or NO_CHAMBER,
        reminder.call.value.replace("'", "").replace(" ", "-"),
    ]
    if reminder.subject:
        levels.append(quote(reminder.subject, safe=""))
    return "/".join(levels)


def urgent_of(reminder: Reminder) -> tuple[object, ...]:
    """Return what of a reminder is told as soon as it changes."""
    return (
        reminder.id,
        reminder.state,
        reminder.active,
        reminder.priority,
        reminder.episode,
        reminder.shelved_until,
    )


def reminder(shown: ReminderNow) -> Told:
    """Say how a reminder stands."""
    own = shown.reminder
    content = {
        "id": own.id,
        "chamber": own.chamber,
        "call": own.call,
        "subject": own.subject,
        "state": own.state,
        "active": own.active,
        "priority": own.priority.word,
        "since": moment(own.since),
        "moved": moment(own.moved),
        "shelved_until": moment(own.shelved_until),
        "title": shown.title,
        "body": shown.body,
    }
    return Told(topic_of(own), content, urgent_of(own))


def taken_away(own: Reminder) -> Told:
    """Take away what was told of a reminder that is of no use to anybody any more."""
    return Told(topic_of(own), None, urgent_of(own))


# ------------------------------------------------------------------ values


def moment(time: datetime | None) -> str | None:
    """Write a time as the API does: ISO 8601 in UTC with Z."""
    if time is None:
        return None
    return time.astimezone(UTC).isoformat().replace("+00:00", "Z")


def _fine(value: float | None) -> float | None:
    return None if value is None else round(value, 3)


def _kilo(pascals: float) -> float:
    return round(pascals / 1000.0, 4)
