"""How much, and what will happen, in the words of a person with a spray bottle."""

from datetime import datetime, timedelta, tzinfo
from typing import Final

from chamberwatch.core.air.figure import Figure, Origin
from chamberwatch.core.sentence import begun, within
from chamberwatch.core.watch.counsel import MistAdvice, VentAdvice
from chamberwatch.core.watch.outlook import HoldAnswer
from chamberwatch.core.watch.situation import OUTDOOR_PPM, Limit

_NUMBERS: Final = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
)  # fmt: skip

_SHORT_MIN: Final = 25
"""A shorter while is said in minutes, not as a time of day. [min]"""

_COUNTABLE: Final = 12

# What little dries off within minutes is not worth the way to the tap.
_WORTH_POURING_G: Final = 1.5

_NO_OPENING: Final = 0.05

FIRST_GUESS: Final = (
    "These amounts are a first guess; they get better with every misting you note."
)


FIRST_MINUTES: Final = "The minutes are a first guess; they get better with ventings you note."


def squeezes(count: int) -> str:
    """Write a count of squeezes of a spray bottle."""
    number = _NUMBERS[count] if count < len(_NUMBERS) else str(count)
    return f"{number} squeeze" if count == 1 else f"{number} squeezes"


def grams(value: float) -> str:
    """Write an amount of water, no finer than a spray bottle can be read."""
    if value < 20.0:
        return f"{max(round(value), 1)} g"
    if value < 997.5:
        return f"{5 * round(value / 5)} g"
    return f"{value / 1000:.1f} kg"


def _rate(g_per_h: float) -> str:
    return f"{round(g_per_h)} g an hour" if g_per_h >= 1.0 else "less than 1 g an hour"


def _ppm(value: float) -> str:
    return f"{10 * round(value / 10)} ppm"


def when(time: datetime, now: datetime, zone: tzinfo) -> str:
    """Write a time of day within the next days."""
    local, today = time.astimezone(zone), now.astimezone(zone).date()
    days = (local.date() - today).days
    if days == 0:
        return f"{local:%H:%M}"
    return f"{local:%H:%M} tomorrow" if days == 1 else f"{local:%H:%M on %A}"


def about(time: datetime, now: datetime, zone: tzinfo) -> str:
    """Write a foretold time, down to ten minutes: better a little early than too late."""
    local = time.astimezone(zone)
    over = timedelta(
        minutes=local.minute % 10, seconds=local.second, microseconds=local.microsecond
    )
    return f"about {when(time - over, now, zone)}"


def _lasting(time: datetime, now: datetime, zone: tzinfo) -> str:
    """Write until when something lasts; a short while as such."""
    minutes = round((time - now) / timedelta(minutes=1))
    if minutes < _SHORT_MIN:
        return f"for about {minutes} minutes" if minutes > 2 else "only a minute or two"
    return f"till {about(time, now, zone)}"


def _at_the_end(time: datetime, now: datetime, zone: tzinfo) -> str:
    """Write when something ends; a short while as such."""
    minutes = round((time - now) / timedelta(minutes=1))
    if minutes < _SHORT_MIN:
        return f"in about {minutes} minutes" if minutes > 2 else "at once"
    return f"at {about(time, now, zone)}"


def mist(advice: MistAdvice, now: datetime, zone: tzinfo, *, stale: bool = False) -> str:
    """Say how much to mist and until when it holds.

    Args:
        advice: what to mist.
        now: the time.
        zone: of the clock on the wall.
        stale: the CO2 is too high, so that a smaller opening is no help.
    """
    # Nobody counts to thirty; the weight says the same for a larger sprayer.
    spray = (
        squeezes(advice.squeezes)
        if advice.squeezes <= _COUNTABLE
        else f"about {grams(advice.into_air_g)} of fine spray"
    )
    air = (
        f"{begun(spray)} into the air, not straight onto the caps. It "
        f"should read about {round(advice.reach_pct)} % a quarter of an hour later."
        if advice.squeezes
        else "No need to spray the air."
    )
    return f"{air} {_standing(advice, now, zone, stale=stale)}"


def _standing(advice: MistAdvice, now: datetime, zone: tzinfo, *, stale: bool) -> str:
    visit = when(advice.wanted_until, now, zone)
    put, rate = advice.standing_g, _rate(advice.carried_off_g_per_h)
    if advice.limit is None:
        # Half a gram is much in a small tub, and is said as the least that can be.
        if put <= 0.0:
            if advice.stands_g >= 1.0:
                return f"What stands on the walls and in the tray holds it till {visit}."
            return f"{'That' if advice.squeezes else 'The air by itself'} holds it till {visit}."
        return (
            f"To hold it till {visit}, wet the walls and fill the tray, about {grams(put)}. "
            f"Fresh air carries off {rate}."
        )
    lasts = _lasting(advice.holds_until, now, zone)
    wet = (
        f"Wet the walls and fill the tray all the same, about {grams(put)}."
        if put > 0.0
        else "The walls and the tray have all they can hold."
    )
    if advice.limit is Limit.SURFACE:
        done = "" if 0.0 < put < _WORTH_POURING_G else f"{wet} "
        return (
            f"It can't be held by hand till {visit}: fresh air carries off {rate}, more than the "
            f"wet surface gives. {done}That lasts {lasts}. "
            f"{'A' if stale else 'A smaller opening or a'} larger wet tray would help."
        )
    return (
        f"{wet} That lasts {lasts}, not till {visit}, since fresh air carries off {rate}. "
        "A larger tray would help."
    )


def last_held(held: timedelta) -> str:
    """Say how long the last misting held."""
    return f"Your last misting {held_words(held)}."


def held_words(held: timedelta) -> str:
    """Say how long something held, within a sentence."""
    minutes = round(held / timedelta(minutes=1))
    if minutes < 2:
        return "held hardly a minute"
    if minutes < 90:
        return f"held {minutes} min"
    return f"held about {round(minutes / 30) / 2:g} hours"


def vent(advice: VentAdvice, inlet: Figure, now: datetime, zone: tzinfo) -> str:
    """Say how long to vent, and what comes of it."""
    said = [_opening(advice, inlet)]
    if inlet.origin is Origin.ASSUMED and (advice.minutes or not advice.reachable):
        said.append(
            f"No sensor measures the air that comes in; {_ppm(inlet.value)} is assumed for it."
        )
    if not advice.reachable:
        return " ".join(said)
    back = advice.back_until
    if back is not None and back > now + timedelta(minutes=advice.minutes):
        said.append(f"CO2 is at its limit again {_at_the_end(back, now, zone)}.")
    if advice.needs_per_h is not None:
        said.append(
            f"That is soon: closed, the air changes {advice.has_per_h:.1f} times an hour. This "
            f"crop needs about {advice.needs_per_h:.1f}. Leave a larger opening, or use a fan."
        )
    if advice.minutes and advice.mist is not None:
        amounts = mist(advice.mist, now, zone, stale=True)
        said.append(f"Then mist, since fresh air dries it. {amounts}")
    if advice.minutes and advice.guess:
        said.append(FIRST_MINUTES)
    return " ".join(said)


def _opening(advice: VentAdvice, inlet: Figure) -> str:
    if not advice.reachable:
        if inlet.value >= advice.from_ppm:
            return (
                f"Venting would not help: the air that comes in has {_ppm(inlet.value)} itself. "
                "Air the room first, then the chamber."
            )
        # What the crop adds to the air that comes in, beside what that has more than outdoor air.
        crop = advice.floor_ppm - inlet.value > inlet.value - OUTDOOR_PPM.value
        why = (
            "the crop gives off too much for so small an opening. Open it wider, or use a fan."
            if crop
            else "the air that comes in is too stale. Air the room first, then the chamber."
        )
        return f"Venting can't bring it below {_ppm(advice.floor_ppm)}: {why}"
    if advice.full_minutes is not None:
        return _opening_shorter(advice)
    if not advice.minutes:
        return f"No need to vent: CO2 is at about {_ppm(advice.reach_ppm)}."
    minutes = "a minute" if advice.minutes == 1 else f"{advice.minutes} minutes"
    return (
        f"Open it for {minutes}, not into a room where people sit or sleep. CO2 falls to about "
        f"{_ppm(advice.reach_ppm)}, humidity to about {round(advice.humidity_pct)} % at "
        f"{round(advice.temperature_c)} °C{_harmed(advice)}."
    )


def _harmed(advice: VentAdvice) -> str:
    if advice.harm_pct is None:
        return ""
    return f", which harms the crop if it lasts (below {round(advice.harm_pct)} %)"


def _opening_shorter(advice: VentAdvice) -> str:
    """Say how long to open it where humidity can't be spared, and what it costs."""
    if not advice.minutes:
        return (
            f"Leave it closed: CO2 is inside its limit with about {_ppm(advice.reach_ppm)}, and "
            "fresh air would dry it further."
        )
    minutes = "a minute" if advice.minutes == 1 else f"{advice.minutes} minutes"
    cost = round(advice.costs_pct)
    costs = f"costs {cost} % humidity, down to" if cost >= 1 else "costs hardly any humidity:"
    said = (
        f"Open it for {minutes} only, not into a room where people sit or sleep. That brings CO2 "
        f"to about {_ppm(advice.reach_ppm)} and {costs} about {round(advice.humidity_pct)} % at "
        f"{round(advice.temperature_c)} °C{_harmed(advice)}."
    )
    if advice.enough:
        return f"{said} Longer would dry the crop more than fresh air helps it."
    return f"{said} It stays a little too high for now: the air is too dry to open it for longer."


_NO_WATER_G: Final = 0.5
"""Less than this on walls and in trays is none."""

_NONE_STANDS: Final = "since no water is known to stand on walls and tray"

_ENDS: Final = {
    Limit.WATER: "then the water on walls and tray is used up",
    Limit.SURFACE: "then fresh air carries off more than the wet surface gives",
    Limit.CO2: "then the CO2 is at its limit",
}


def hold(answer: HoldAnswer, now: datetime, zone: tzinfo, *, amounts_above: bool = False) -> str:
    """Answer “will it hold till then?”.

    Args:
        answer: to be put into words.
        now: the time.
        zone: for times of day.
        amounts_above: how much to mist has just been said, and is only pointed to.
    """
    asked = when(answer.asked_until, now, zone)
    if answer.limit is None:
        co2 = "" if answer.co2_ppm is None else f" and {_ppm(answer.co2_ppm)}"
        yes = f"Yes, it holds till {asked}: about {round(answer.humidity_pct)} %{co2} then."
        return " ".join([yes, *_besides(answer)])
    if answer.until > now:
        why = f"it lasts {_lasting(answer.until, now, zone)}, {_end(answer, answer.limit)}"
    elif answer.limit is Limit.CO2:
        why = "the CO2 is at its limit now"
    else:
        why = "the humidity is below its band now"
    said = [
        f"No, not till {asked}: {why}.",
        *_of_co2(answer, now),
        *_of_humidity(answer, now, zone, amounts_above=amounts_above),
    ]
    return " ".join([*said, *_besides(answer)])


def _end(answer: HoldAnswer, limit: Limit) -> str:
    """Say what is at its end; water that was never there isn't used up."""
    if limit is Limit.WATER and answer.mist is not None and answer.mist.stands_g < _NO_WATER_G:
        return _NONE_STANDS
    return _ENDS[limit]


def _of_humidity(
    answer: HoldAnswer, now: datetime, zone: tzinfo, *, amounts_above: bool
) -> list[str]:
    if answer.mist is None:
        return []
    stale = answer.co2_high or answer.limit is Limit.CO2
    said = [f"To hold the humidity: {within(mist(answer.mist, now, zone, stale=stale))}"]
    if not answer.mist.squeezes:
        water = _standing(answer.mist, now, zone, stale=stale)
        said = [f"The air needs no spray. {water}"]
    if amounts_above:
        said = ["How much to mist stands above."]
    if answer.openings_share is not None and answer.openings_share >= _NO_OPENING:
        said.append(
            "With all of it wet and openings that let in about "
            f"{round(100 * answer.openings_share)} % of the air they let in now, it would hold."
        )
    return said


def _of_co2(answer: HoldAnswer, now: datetime) -> list[str]:
    if answer.room_stale and (answer.co2_high or answer.limit is Limit.CO2):
        return ["The air that comes in is too stale for the CO2. Air the room first."]
    if answer.co2_high:
        said_already = answer.limit is Limit.CO2 and answer.until <= now
        return ["Vent first." if said_already else "Vent first: the CO2 is at its limit already."]
    if answer.load_share is not None:
        return [_load(answer.load_share)]
    return []


def _besides(answer: HoldAnswer) -> list[str]:
    """Return what the answer leaves out, or what it holds at that is no better."""
    said: list[str] = []
    if answer.too_wet:
        what = "That is wetter than" if answer.holds else "The humidity stays above"
        said.append(f"{what} its band: put down no more water, and vent a little now and then.")
    if answer.co2_left_out:
        said.append("CO2 can't be foretold yet: what the crop gives off is not known.")
    return said


def _load(share: float) -> str:
    if share >= 0.9:
        return "Vent just before you leave, and the CO2 very nearly holds."
    if share < 0.1:
        return "The CO2 can't hold by itself: vent before you leave and when you are back."
    return (
        f"For the CO2 to hold by itself, the openings would have to be {1 / share:.1f} times as "
        "large. Else vent before you leave and when you are back."
    )
