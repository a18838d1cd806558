"""What stands written in the picture of the last six hours."""

from datetime import datetime, timedelta, tzinfo
from typing import Final

from chamberwatch.core.growing.band import Band
from chamberwatch.core.watch.judgement import Standing, judge
from chamberwatch.core.watch.reading import UNITS, Quantity, Reading
from chamberwatch.core.wording import NAMES, amount, clock_words

LONGEST_TITLE: Final = 22
FRESH: Final = timedelta(minutes=10)
NO_READINGS: Final = "no readings"


def heading(chamber: str, reading: Reading) -> str:
    """Name the chamber and what is drawn of it."""
    name = chamber if len(chamber) <= LONGEST_TITLE else f"{chamber[: LONGEST_TITLE - 1]}…"
    what = "CO₂" if reading.quantity is Quantity.CO2 else NAMES[reading.quantity].lower()
    return f"{name}: {what}"


def beside(reading: Reading, band: Band | None) -> str:
    """Write a value, finer where it would else read as the limit that it lies beyond."""
    rounded, finer = amount(reading.quantity, reading.value), 0
    if band is not None:
        limits = (band.low, band.high, band.harm_low, band.harm_high)
        ends = {amount(reading.quantity, end) for end in limits if end is not None}
        finer = int(rounded in ends and standing(reading, band) is not Standing.WITHIN)
    return amount(reading.quantity, reading.value, finer)


def standing(reading: Reading, band: Band) -> Standing:
    """Tell where a value lies."""
    return judge(reading, "", band).standing


def said(reading: Reading, band: Band | None, now: datetime, zone: tzinfo) -> str:
    """Say where the newest value lies, and when it was read."""
    at = f"{clock_words(reading.time, now, zone)}"
    when = f"at {at}" if now - reading.time <= FRESH else f"last heard at {at}"
    if band is None:
        return when
    return f"{when}, {_WHERE[standing(reading, band)]} {limits(reading, band)}"


_WHERE: Final = {
    Standing.BELOW: "below",
    Standing.WITHIN: "inside",
    Standing.ABOVE: "above",
}


def limits(reading: Reading, band: Band) -> str:
    """Write the band, or the one limit that there is."""
    unit = UNITS[reading.quantity]
    if band.low is not None and band.high is not None:
        return f"the band of {band.low:g} to {band.high:g} {unit}"
    only = (
        band.low
        if band.low is not None
        else band.high
        if band.high is not None
        else band.harm_high
        if band.harm_high is not None
        else band.harm_low
    )
    return "no limit" if only is None else f"the limit of {only:g} {unit}"


def harmful(limit: float, reading: Reading, *, low: bool) -> str:
    """Name a harm limit."""
    return f"harmful {'below' if low else 'above'} {limit:g} {UNITS[reading.quantity]}"
