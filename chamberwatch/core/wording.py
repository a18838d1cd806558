"""Every sentence a person receives. Local time exists only here and in the pages."""

from dataclasses import dataclass
from datetime import datetime, tzinfo
from typing import Final

from chamberwatch.core.watch.chamber import Chamber, House
from chamberwatch.core.watch.reading import UNITS, Quantity
from chamberwatch.core.watch.reminder import Call, Evidence, Priority
from chamberwatch.core.watch.rule import PATIENCE

NAMES: Final[dict[Quantity, str]] = {
    Quantity.TEMPERATURE: "Temperature",
    Quantity.HUMIDITY: "Humidity",
    Quantity.CO2: "CO2",
    Quantity.PRESSURE: "Pressure",
    Quantity.BATTERY: "Battery",
}

# A change smaller than this in an hour is called steady: about the noise of a home sensor.
STEADY_PER_H: Final[dict[Quantity, float]] = {
    Quantity.TEMPERATURE: 0.5,
    Quantity.HUMIDITY: 3.0,
    Quantity.CO2: 60.0,
}

PERHAPS_AGAIN: Final = "Perhaps again (we stopped while sending this): "


@dataclass(frozen=True, slots=True)
class Message:
    """What is said: a first line, and the rest."""

    title: str
    body: str


def amount(quantity: Quantity, value: float) -> str:
    """Write a value with its unit, no finer than a home sensor can tell."""
    digits = 1 if quantity in (Quantity.TEMPERATURE, Quantity.BATTERY) else 0
    if quantity is Quantity.PRESSURE:
        return f"{value / 1000:.1f} kPa"
    return f"{value:.{digits}f} {UNITS[quantity]}"


def band_words(quantity: Quantity, low: float | None, high: float | None) -> str:
    """Write a band."""
    unit = UNITS[quantity]
    if low is not None and high is not None:
        return f"band {low:g} to {high:g} {unit}"
    if high is not None:
        return f"limit {high:g} {unit}"
    return f"at least {low:g} {unit}" if low is not None else "no band"


def direction(quantity: Quantity, trend_per_h: float | None) -> str:
    """Say where a value is going; empty where that is not known."""
    if trend_per_h is None:
        return ""
    if abs(trend_per_h) < STEADY_PER_H.get(quantity, 0.0):
        return " and steady"
    return " and rising" if trend_per_h > 0 else " and falling"


def clock_words(time: datetime, now: datetime, zone: tzinfo) -> str:
    """Write a time of day, with the date where it is not today."""
    local, today = time.astimezone(zone), now.astimezone(zone).date()
    return f"{local:%H:%M}" if local.date() == today else f"{local:%H:%M on %-d %B}"


def _what_is(house: House, evidence: Evidence, quantity: Quantity, value: float) -> str:
    sensor = house.sensors.get(evidence.sensor)
    place = "" if sensor is None or sensor.where() == "air" else f" ({sensor.where()})"
    return (
        f"{NAMES[quantity]} {amount(quantity, value)}{direction(quantity, evidence.trend_per_h)}"
        f"{place}, {band_words(quantity, evidence.low, evidence.high)}."
    )


def _aim(call: Call, evidence: Evidence, quantity: Quantity) -> str:
    low, high = evidence.low, evidence.high
    if call in (Call.VENT, Call.DRY_OFF, Call.COOL) and high is not None:
        # Inside by the deadband: only then does the reminder count it as over.
        back = PATIENCE[quantity].deadband if quantity in PATIENCE else 0.0
        return f"below {amount(quantity, high - back)}"
    ends = [end for end in (low, high) if end is not None]
    return f"about {amount(quantity, sum(ends) / len(ends))}" if ends else "its band"


_TITLES: Final[dict[Call, str]] = {
    Call.MIST: "mist now",
    Call.VENT: "vent now",
    Call.WARM: "warm it",
    Call.COOL: "cool it",
    Call.DRY_OFF: "let it dry off",
    Call.CHECK_SENSOR: "look at a sensor",
}

_DO: Final[dict[Call, str]] = {
    Call.MIST: "Mist walls and floor finely, not straight onto the caps, until it reads {aim}.",
    Call.VENT: "Let fresh air in, away from where people sit, until it reads {aim}.",
    Call.WARM: "Bring it gently to {aim}: a warmer room, or a mat outside the cover.",
    Call.COOL: "Bring it {aim}: shade, a cooler room, more fresh air.",
    Call.DRY_OFF: "Leave the bottle alone and vent a little until it reads {aim}; caps that stay "
    "wet blotch.",
}

_HARM: Final[dict[Call, str]] = {
    Call.MIST: "Pins dry out at this; do it first.",
    Call.VENT: "Stems grow long and caps stay small at this; do it first.",
    Call.WARM: "Growth stops at this; do it first.",
    Call.COOL: "This heat hurts the crop; do it first.",
    Call.DRY_OFF: "",
}

VENT_THEN_MIST: Final = " Then mist, since the air is dry as well and fresh air dries it further."


def message(
    house: House,
    chamber: Chamber,
    call: Call,
    evidence: Evidence,
    priority: Priority,
    *,
    then_mist: bool = False,
) -> Message:
    """Write what a reminder about the air says.

    Args:
        house: to name places.
        chamber: which.
        call: what is asked.
        evidence: the reading that speaks.
        priority: of the reminder.
        then_mist: the air is dry as well: vent first, then mist.
    """
    title = f"{chamber.title}: " + ("vent, then mist" if then_mist else _TITLES[call])
    quantity, value = evidence.quantity, evidence.value
    if quantity is None or value is None:
        return Message(title, "Look at the chamber; no value was kept.")
    do = _DO[call].format(aim=_aim(call, evidence, quantity))
    do += VENT_THEN_MIST if then_mist else ""
    harm = _HARM[call] if priority is Priority.HIGH else ""
    sentences = (_what_is(house, evidence, quantity, value), harm, do)
    return Message(title, " ".join(s for s in sentences if s))


def silence(
    chamber: Chamber, sensor: str, heard: datetime | None, now: datetime, zone: tzinfo
) -> Message:
    """Write that a sensor has gone quiet."""
    since = (
        f"Nothing has been heard from {sensor} since {clock_words(heard, now, zone)}."
        if heard is not None
        else f"Nothing has been heard from {sensor} yet."
    )
    return Message(
        f"{chamber.title}: look at sensor {sensor}",
        f"{since} Look at its battery or plug, its distance to the router, and whether the "
        f"broker runs. Until it speaks again, look at the chamber yourself.",
    )


LINK_WORDS: Final[dict[str, str]] = {
    "misted": "I have misted",
    "vented": "I have vented",
    "seen": "Seen",
    "later": "Not for half an hour",
}


def link_line(answering: str, address: str) -> str:
    """Write one link of a message."""
    return f"{LINK_WORDS[answering]}: {address}"
