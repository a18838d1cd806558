"""Where each limit of a chamber's band comes from, and who is not suited by it, in words."""

from typing import Final

from chamberwatch.core.growing.band import Band, Stage
from chamberwatch.core.growing.wants import CO2, NARROWEST_K, Limits, Voice
from chamberwatch.core.sentence import within

_NAMES: Final = {CO2: "CO2"}


def limit_words(quantity: str, limits: Limits, unit: str) -> str:
    """Say what the band of a quantity is, and whose wish it is.

    Such as “humidity 90 to 100 %: pinning, grey oyster, batch 14; ...” with the source.

    Args:
        quantity: temperature, humidity or co2.
        limits: of it.
        unit: of it.
    """
    low, high = limits.low, limits.high
    if low is not None and high is not None and low.batch != high.batch:
        why = [f"{_range(low.low, None)}, {_why(low)}", f"{_range(None, high.high)}, {_why(high)}"]
    else:
        why = [_why(voice) for voice in (low or high,) if voice is not None]
    said = f"{band_range(quantity, limits.band, unit)}: {'; '.join(why)}"
    return said + _widened(limits) + _harm_words(limits, unit)


def _widened(limits: Limits) -> str:
    """Say that the band goes beyond what was asked for, where two limits lie too close."""
    band, low, high = limits.band, limits.low, limits.high
    if low is None or high is None or (band.low, band.high) == (low.low, high.high):
        return ""
    return f". Widened to {NARROWEST_K:g} K: no less can be held at home (common practice)"


def stated_words(quantity: str, stage: Stage, band: Band, unit: str) -> str:
    """Say what the general band of a stated stage is: no batch was ever recorded there.

    Args:
        quantity: temperature, humidity or co2.
        stage: that the chamber is stated to be in.
        band: of the quantity in that stage.
        unit: of the quantity.
    """
    said = f"{band_range(quantity, band, unit)}: stated stage {stage}; {band.source}"
    return said + _harm_words(Limits(band), unit)


def disagreement_words(quantity: str, limits: Limits, unit: str) -> str:
    """Say whom the band of a quantity does not suit, and what to do; empty where it suits all.

    Args:
        quantity: temperature, humidity or co2.
        limits: of it.
        unit: of it.
    """
    low, high = limits.low, limits.high
    said = []
    if low is not None and high is not None and {low, high} <= set(limits.against):
        said.append(
            f"no {_name(quantity)} suits all: {_named(high)} wants "
            f"{_range(None, high.high)} {unit}, {_named(low)} {_range(low.low, None)}; "
            f"{_range(limits.band.low, limits.band.high)} {unit} is the nearest compromise: "
            f"move one of them"
        )
    said += [
        f"{band_range(quantity, limits.band, unit)} does not suit {_named(voice)}, which wants "
        f"{_range(voice.low, voice.high)}: move it elsewhere if you can"
        for voice in limits.against
        if voice not in (low, high)
    ]
    return "; ".join(said)


def whose(limits: Limits) -> str:
    """Name the batches whose wishes the limits of a band are.

    Such as “batch 6 (grey oyster, fruiting)”; empty where none of them is a batch's.
    """
    voices = (limits.low, limits.high, limits.harm_low, limits.harm_high)
    names = dict.fromkeys(_named(voice) for voice in voices if voice is not None)
    return " and ".join(names)


def band_range(quantity: str, band: Band, unit: str) -> str:
    """Write a band, such as “humidity 90 to 100 %”."""
    return f"{_name(quantity)} {_range(band.low, band.high)} {unit}"


def _name(quantity: str) -> str:
    return _NAMES.get(quantity, quantity)


def _named(voice: Voice) -> str:
    sealed = ", sealed" if voice.sealed else ""
    return f"{voice.number} ({within(voice.species)}, {voice.stage}{sealed})"


def _why(voice: Voice) -> str:
    """Name a batch, who says so, and how the limit differs from that."""
    return "; ".join(part for part in (voice.words, voice.note, voice.source) if part)


def _harm_words(limits: Limits, unit: str) -> str:
    """Say where it hurts; whose limit that is only where it is one batch's among others."""
    band = limits.band
    ends = (
        ("below", band.harm_low, limits.harm_low),
        ("above", band.harm_high, limits.harm_high),
    )
    said = [
        f"{word} {_figure(value)} {unit}{f' ({voice.number})' if voice is not None else ''}"
        for word, value, voice in ends
        if value is not None
    ]
    return f". Hurt {' and '.join(said)}" if said else ""


def _range(low: float | None, high: float | None) -> str:
    if low is not None and high is not None:
        return f"{_figure(low)} to {_figure(high)}"
    if high is not None:
        return f"at most {_figure(high)}"
    return f"at least {_figure(low)}"


def _figure(value: float | None) -> str:
    """Write a figure no finer than its source."""
    return "any" if value is None else f"{round(value, 1):g}"
