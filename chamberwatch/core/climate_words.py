"""What is said of the air of a week: how it was, when it was worst, and what to change."""

from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime, timedelta, tzinfo
from typing import Final

from chamberwatch.core.review.change import Hours, Outside, Unheard, outside, unheard
from chamberwatch.core.review.climate import Climate, Freshness, Holding, Share, Spell
from chamberwatch.core.review_words import counted, lasted, length
from chamberwatch.core.sentence import begun
from chamberwatch.core.watch.judgement import Standing
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.wording import amount

NAMES: Final[Mapping[Quantity, str]] = {
    Quantity.TEMPERATURE: "temperature",
    Quantity.HUMIDITY: "humidity",
    Quantity.CO2: "CO2",
}
NOTICED: Final = 0.03
"""A week that is better or worse by less is the same."""
SHORT_HOLD: Final = timedelta(hours=1)
CHANGES: Final = 3
"""More than so many at once nobody changes."""

_BELOW, _ABOVE = Standing.BELOW, Standing.ABOVE

_HOW: Final[Mapping[tuple[Quantity, Standing], str]] = {
    (Quantity.HUMIDITY, _BELOW): "too dry",
    (Quantity.HUMIDITY, _ABOVE): "too wet",
    (Quantity.CO2, _ABOVE): "stale",
    (Quantity.CO2, _BELOW): "fresher than the crop wants",
    (Quantity.TEMPERATURE, _BELOW): "too cold",
    (Quantity.TEMPERATURE, _ABOVE): "too warm",
}

_CURE: Final[Mapping[tuple[Quantity, Standing], str]] = {
    (Quantity.HUMIDITY, _BELOW): (
        "Let more water stand (wet walls, a fuller tray, a cloth that stays wet), close the cover "
        "better, or leave it less of a draught."
    ),
    (Quantity.HUMIDITY, _ABOVE): (
        "Give less water at a time, none in the last hours of the day, and a little more fresh "
        "air: what never dries brings blotch and mould."
    ),
    (Quantity.CO2, _ABOVE): (
        "Open it a little all the time (larger openings, a small fan on a timer) rather than "
        "longer at once, or let fewer blocks fruit together."
    ),
    (Quantity.CO2, _BELOW): "Smaller openings or a shorter time of the fan would do.",
    (Quantity.TEMPERATURE, _BELOW): (
        "A warmer place, a mat outside the cover, or venting when the room is warmest."
    ),
    (Quantity.TEMPERATURE, _ABOVE): (
        "Shade, a cooler place, more room between the blocks, or venting when the room is coolest."
    ),
}

_AT_NIGHT: Final = {
    (Quantity.HUMIDITY, _BELOW): "Make the last visit of the day the one that fills the tray. ",
    (Quantity.CO2, _ABOVE): "Leave it open a little further overnight. ",
}


def how(spell_of: Quantity, side: Standing) -> str:
    """Say what air is that is outside on one side."""
    return _HOW[spell_of, side]


def percent(part: float) -> str:
    """Write a share, and never “100 %” of what was not all, nor “0 %” of what was some."""
    if 0.0 < part < 0.01:
        return "less than 1 %"
    if 0.99 < part < 1.0:
        return "over 99 %"
    return f"{part * 100.0:.0f} %"


# ---------------------------------------------------------------------- how it was


def in_band(share: Share, before: Share | None = None) -> str:
    """Say how much of the time a quantity was within its band, and whether that is better.

    Args:
        share: of the week.
        before: of the week before; None: not known.
    """
    if share.in_band is None:
        return "no band held for it"
    said = f"{percent(share.in_band)} within the band"
    sides = ((share.below, _BELOW), (share.above, _ABOVE))
    parts = [
        f"{percent(count / share.judged)} {how(share.quantity, side)}"
        for count, side in sides
        if count
    ]
    if parts:
        said += f", {', '.join(parts)}"
    return f"{said}{_than_before(share, before)}"


def _than_before(share: Share, before: Share | None) -> str:
    if before is None or before.in_band is None or share.in_band is None:
        return ""
    change = share.in_band - before.in_band
    if abs(change) < NOTICED:
        return "; as the week before"
    word = "better" if change > 0 else "worse"
    return f"; {word} than the week before ({percent(before.in_band)})"


def span_words(share: Share) -> str:
    """Say between which values a quantity was, and its mean."""
    q = share.quantity
    return f"{amount(q, share.least)} to {amount(q, share.most)}, mean {amount(q, share.mean)}"


def spell(found: Spell, zone: tzinfo) -> str:
    """Say what a spell was: what, from when, how long, how far.

    Args:
        found: the spell.
        zone: of the site.
    """
    q = found.quantity
    low = found.side is _BELOW
    reached = f"{'down' if low else 'up'} to"
    if found.harm:
        reached = f"harmfully {'low' if low else 'high'}:"
    ends = "from" if low else "up to"
    return (
        f"{begun(how(q, found.side))} for {lasted(found.lasted)}, from {_day(found.start, zone)}; "
        f"{NAMES[q]} {reached} {amount(q, found.extreme)}, band {ends} {amount(q, found.limit)}."
    )


def _day(time: datetime, zone: tzinfo) -> str:
    local = time.astimezone(zone)
    return f"{local:%A} {local:%H:%M}"


def holding(found: Holding) -> str:
    """Say how many mistings there were and how long they held."""
    if not found.found:
        return "No misting shows in the readings."
    said = f"{counted(found.found, 'misting')} found"
    if found.unrecorded == found.found:
        said += ", not recorded" if found.found == 1 else ", none of them recorded"
    elif found.unrecorded:
        said += f", {found.unrecorded} of them not recorded"
    if found.typical is None:
        return f"{said}; of none is known how long it held."
    if len(found.held) == 1:
        return f"{said}; the one whose end is known held {lasted(found.held[0])}."
    return (
        f"{said}; one typically held {lasted(found.typical)} ({lasted(found.held[0])} to "
        f"{lasted(found.held[-1])})."
    )


def freshness(found: Freshness) -> str:
    """Say how the air changed."""
    vented = (
        f"{counted(found.ventings, 'venting')} found" if found.ventings else "No venting found"
    )
    if found.closed_per_h is None:
        return f"{vented}. The closed chamber's air changes could not be told from the CO2."
    times = f"{found.closed_per_h:.1f} times an hour"
    if found.fits == 1:
        return f"{vented}. Closed, its air changed {times} (one stretch of the record)."
    return (
        f"{vented}. Closed, its air changed about {times} ({found.closed_low:.1f} to "
        f"{found.closed_high:.1f}, from {found.fits} stretches)."
    )


# ---------------------------------------------------------------------- what to change


def changes(climate: Climate, known: timedelta) -> tuple[str, ...]:
    """Return what to change, the most needed first; empty: keep on like this.

    Args:
        climate: of the week.
        known: how much of the week is over.
    """
    said = [*_gaps(unheard(climate, known)), *(_change(o) for o in outside(climate))]
    return tuple(said[:CHANGES])


def _gaps(found: Iterable[Unheard]) -> Iterator[str]:
    for each in found:
        yield (
            f"The {NAMES[each.quantity]} is missing for {lasted(each.missing)}. Look at the "
            "sensor's power and its way to the router; nobody is told of what isn't measured."
        )


def _change(found: Outside) -> str:
    key = (found.quantity, found.side)
    at = hours_words(found.hours) if found.hours else "at no hours in particular"
    opening = f"{begun(_HOW[key])} {percent(found.share)} of the time, {at}. "
    at_night = _AT_NIGHT.get(key, "") if found.hours and found.hours.at_night else ""
    return f"{opening}{_held(found)}{at_night}{_CURE[key]}"


def _held(found: Outside) -> str:
    dry = found.quantity is Quantity.HUMIDITY and found.side is _BELOW
    if not dry or found.held is None or found.held >= SHORT_HOLD:
        return ""
    return f"A misting typically held only {length(found.held)}. "


def hours_words(hours: Hours) -> str:
    """Write some hours of the clock."""
    return f"mostly from {hours.start:02d}:00 to {hours.end or 24:02d}:00"
