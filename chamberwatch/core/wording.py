"""Every sentence a person receives. Local time exists only here and in the pages."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, tzinfo
from typing import Final

from chamberwatch.core.air.condensation import Margin
from chamberwatch.core.air.figure import Origin
from chamberwatch.core.air.uncertainty import DEW_POINT_DECIMALS, decimals_for
from chamberwatch.core.sentence import within
from chamberwatch.core.watch.chamber import Chamber, House
from chamberwatch.core.watch.doubt import Doubt, Doubted
from chamberwatch.core.watch.reading import UNITS, Place, Quantity
from chamberwatch.core.watch.reminder import Call, Evidence, Priority

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


def amount(quantity: Quantity, value: float, finer: int = 0) -> str:
    """Write a value with its unit, no finer than a home sensor can tell, or `finer` by so many."""
    digits = (1 if quantity in (Quantity.TEMPERATURE, Quantity.BATTERY) else 0) + finer
    if quantity is Quantity.PRESSURE:
        return f"{value / 1000:.1f} kPa"
    return f"{value:.{digits}f} {UNITS[quantity]}"


def beside_limits(quantity: Quantity, value: float, evidence: Evidence) -> str:
    """Write a value, finer where it would else read as the limit that it lies beyond.

    Args:
        quantity: which.
        value: of it.
        evidence: the limits.
    """
    digits = 1 if quantity is Quantity.TEMPERATURE else 0
    shown, low, high = round(value, digits), evidence.low, evidence.high
    hidden = (low is not None and value < low <= shown) or (
        high is not None and shown <= high < value
    )
    return amount(quantity, value, finer=int(hidden))


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
    if sensor is not None and of_core(house, evidence) and evidence.high is not None:
        shelf = f" ({sensor.shelf})" if sensor.shelf is not None else ""
        return (
            f"The core of a block{shelf} is at {amount(quantity, value)}"
            f"{direction(quantity, evidence.trend_per_h)}; the crop is hurt above "
            f"{evidence.high:g} {UNITS[quantity]}."
        )
    place = named(house, evidence, quantity).removeprefix(NAMES[quantity])
    return (
        f"{NAMES[quantity]} {beside_limits(quantity, value, evidence)}"
        f"{direction(quantity, evidence.trend_per_h)}"
        f"{place}, {band_words(quantity, evidence.low, evidence.high)}."
    )


_LOW_SIDE: Final = frozenset({Call.MIST, Call.WARM})


def whose(chamber: Chamber, call: Call, quantity: Quantity) -> str:
    """Say whose wish the limit is that a call speaks for; empty where none was recorded."""
    limits = chamber.following.limits.get(quantity) if chamber.following is not None else None
    voice = None if limits is None else limits.low if call in _LOW_SIDE else limits.high
    if voice is None:
        return ""
    return f" for {voice.number} ({within(voice.species)}, {voice.stage})"


def of_core(house: House, evidence: Evidence) -> bool:
    """Tell whether a reading is of the core of a block."""
    sensor = house.sensors.get(evidence.sensor)
    return sensor is not None and sensor.place is Place.CORE


def _aim(chamber: Chamber, call: Call, evidence: Evidence, quantity: Quantity) -> str:
    low, high = evidence.low, evidence.high
    if call in (Call.VENT, Call.DRY_OFF, Call.COOL) and high is not None:
        # Inside by the deadband: only then does the reminder count it as over.
        patience = chamber.patience_for(quantity)
        back = patience.deadband if patience is not None else 0.0
        return f"below {amount(quantity, high - back)}"
    ends = [end for end in (low, high) if end is not None]
    return f"about {amount(quantity, sum(ends) / len(ends))}" if ends else "its band"


_TITLES: Final[dict[Call, str]] = {
    Call.MIST: "mist now",
    Call.VENT: "vent now",
    Call.WARM: "warm it",
    Call.COOL: "cool it",
    Call.DRY_OFF: "let it dry off",
    Call.AIR_ROOM: "air the room",
    Call.CHECK_SENSOR: "look at a sensor",
    Call.CHECK_ALL: "look at the power and the broker",
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

# At night a phone shows the title alone: it must tell harm from what can wait.
_AT_STAKE: Final[dict[Call, str]] = {
    Call.MIST: "pins dry out",
    Call.VENT: "the crop wants air",
    Call.WARM: "growth stops",
    Call.COOL: "heat hurts the crop",
    Call.DRY_OFF: "",
}

# A block makes its own heat, and what is packed closely can't lose it.
COOL_CORE: Final = (
    "Bring it {aim}, and do it first: move the blocks apart and into a cooler room, and let fresh "
    "air pass between them."
)

VENT_THEN_MIST: Final = " Then mist, since the air is dry as well and fresh air dries it further."
MIST_AFTER: Final = "See the other reminder first: it says whether to vent, and how much to mist."


def inside(evidence: Evidence) -> bool:
    """Tell whether a value is inside its band; not where there is no value or no band."""
    low, high = evidence.low, evidence.high
    if evidence.value is None or (low is None and high is None):
        return False
    return (low is None or low <= evidence.value) and (high is None or evidence.value <= high)


def message(  # noqa: PLR0913 - each is a part of what is said
    house: House,
    chamber: Chamber,
    call: Call,
    evidence: Evidence,
    priority: Priority,
    *,
    then_mist: bool = False,
    amounts: str = "",
) -> Message:
    """Write what a reminder about the air says.

    Args:
        house: to name places.
        chamber: which.
        call: what is asked.
        evidence: the reading that speaks.
        priority: of the reminder.
        then_mist: the air is dry as well: vent first, then mist.
        amounts: what to do, how much and what will happen, where that could be reckoned.
    """
    title = f"{chamber.title}: " + ("vent, then mist" if then_mist else _TITLES[call])
    at_stake = _AT_STAKE[call] if priority is Priority.HIGH else ""
    quantity, value = evidence.quantity, evidence.value
    if quantity is None or value is None:
        return Message(title, "Look at the chamber; no value was kept.")
    if inside(evidence):
        return _closing(house, chamber, evidence, quantity, value)
    core = call is Call.COOL and of_core(house, evidence)
    do = amounts or (COOL_CORE if core else _DO[call]).format(
        aim=_aim(chamber, call, evidence, quantity)
    )
    do += VENT_THEN_MIST if then_mist and not amounts else ""
    harm = _HARM[call] if priority is Priority.HIGH and not core else ""
    what = _what_is(house, evidence, quantity, value)
    if not of_core(house, evidence):
        what = f"{what.removesuffix('.')}{whose(chamber, call, quantity)}."
    sentences = (what, harm, do)
    title += f" ({at_stake})" if at_stake else ""
    return Message(title, " ".join(s for s in sentences if s))


def _closing(
    house: House, chamber: Chamber, evidence: Evidence, quantity: Quantity, value: float
) -> Message:
    """Write that a value is back, but not yet for long enough or by enough to be sure."""
    said = f"{named(house, evidence, quantity)} {amount(quantity, value)}"
    return Message(
        f"{chamber.title}: {lower(quantity)} is back inside its band",
        f"{said}, inside its band again; this closes by itself if it stays so.",
    )


def mist_after(chamber: Chamber) -> Message:
    """Write the part of the misting where the air is to be vented first."""
    return Message(f"{chamber.title}: mist after venting", MIST_AFTER)


def named(house: House, evidence: Evidence, quantity: Quantity) -> str:
    """Name a quantity and, where it is not mid-air, the place."""
    sensor = house.sensors.get(evidence.sensor)
    place = "" if sensor is None or sensor.where() == "air" else f" ({sensor.where()})"
    return f"{NAMES[quantity]}{place}"


def lower(quantity: Quantity) -> str:
    """Name a quantity within a sentence."""
    name = NAMES[quantity]
    return name if name.isupper() else name.lower()


SURFACE_FROM: Final[dict[Origin, str]] = {
    Origin.MEASURED: "by a sensor of their own",
    Origin.DECLARED: "as declared",
    Origin.ASSUMED: "reckoned from the room through the cover",
}


def wet_surfaces(
    chamber: Chamber,
    since: datetime | None,
    margin: Margin | None,
    now: datetime,
    zone: tzinfo,
) -> Message:
    """Write that the surfaces of a chamber have been wet for too long.

    Args:
        chamber: which.
        since: when they became wet.
        margin: of the coldest surface at this moment; None where it can't be told.
        now: the time.
        zone: for times of day.
    """
    long = "for a while" if since is None else f"since {clock_words(since, now, zone)}"
    feel = ""
    if margin is not None and not margin.certain:
        feel = "Feel them first, since this is as fine as the sensors can tell. "
    return Message(
        _dry_off_title(chamber),
        f"The walls have been wet {long} ({_margin_words(margin)}): caps that stay wet blotch. "
        f"{feel}Vent a little, leave the bottle alone until the walls are dry, and wipe what "
        f"stands on the caps' side.",
    )


def dried(chamber: Chamber, since: datetime | None, now: datetime, zone: tzinfo) -> Message:
    """Write that surfaces were wet for too long, and are not any more."""
    long = "for a while" if since is None else f"since {clock_words(since, now, zone)}"
    return Message(
        _dry_off_title(chamber),
        f"The walls had been wet {long}; that is over. Look over the caps "
        f"that sat against them. If this happens often, mist less at a time, and not in the last "
        f"hours of the day.",
    )


def _dry_off_title(chamber: Chamber) -> str:
    return f"{chamber.title}: {_TITLES[Call.DRY_OFF]}"


def _margin_words(margin: Margin | None) -> str:
    if margin is None:
        return "their margin to the dew point can't be told just now"
    digits = decimals_for(margin.spread_k, DEW_POINT_DECIMALS)
    # Adding 0 makes a rounded -0.0 a plain 0.0.
    value = round(margin.margin_k, digits) + 0.0
    return (
        f"their margin to the dew point is {value:.{digits}f} K ± {margin.spread_k:.{digits}f}, "
        f"{SURFACE_FROM[margin.origin]}"
    )


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


MAY: Final[dict[Doubted, str]] = {
    Doubted.SILENT: "silent",
    Doubted.IMPOSSIBLE: "says what can't be true",
    Doubted.STUCK: "may be stuck",
    Doubted.WET: "may be wet",
    Doubted.JUMPING: "leaps up and down",
    Doubted.DISAGREEING: "disagrees with another",
    Doubted.LOW_BATTERY: "battery low",
}


def doubt(chamber: Chamber, held: Doubt) -> Message:
    """Write that a sensor is not to be believed."""
    return Message(f"{chamber.title}: look at sensor {held.sensor}", held.words)


def believed(chamber: Chamber, evidence: Evidence, now: datetime, zone: tzinfo) -> Message:
    """Write that a sensor was in doubt, and is not any more."""
    since = clock_words(evidence.since, now, zone) if evidence.since is not None else "a while ago"
    return Message(
        f"{chamber.title}: look at sensor {evidence.sensor}",
        f"{evidence.sensor} was in doubt from {since} on and gives good readings again. "
        f"If this happens often, check it or replace it.",
    )


def with_doubt(said: Message, evidence: Evidence, doubts: Mapping[str, Doubt]) -> Message:
    """Add to a message about the air that its sensor is in doubt, where it is."""
    held = doubts.get(evidence.sensor)
    if held is None or held.kind in (Doubted.SILENT, Doubted.LOW_BATTERY):
        return said
    name, may = evidence.sensor, MAY[held.kind]
    if evidence.quantity in held.quantities:
        note = f"Only sensor {name} says so, and it {may}: look at it first."
    elif held.kind is Doubted.DISAGREEING and evidence.quantity is not Quantity.CO2:
        note = f"Sensor {name} says so, and it {may}: look at both first."
    else:
        return said
    return replace(said, body=f"{said.body} {note}")


LINK_WORDS: Final[dict[str, str]] = {
    "misted": "I have misted",
    "vented": "I have vented",
    "refilled": "I have refilled",
    "seen": "Seen",
    "later": "Not for half an hour",
}


def link_line(answering: str, address: str) -> str:
    """Write one link of a message."""
    return f"{LINK_WORDS[answering]}: {address}"
