"""What the CO2 of a record teaches: air changes while closed and while vented, and the source."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from statistics import fmean, linear_regression, median
from typing import Final

from chamberwatch.core.air.figure import Figure, Origin
from chamberwatch.core.air.knowledge import Knowledge, pooled
from chamberwatch.core.air.vent import changes_from_step, co2_g_per_m3_per_ppm
from chamberwatch.core.watch.found import Exchange, Kind
from chamberwatch.core.watch.ledger import Minute
from chamberwatch.core.watch.record import Record, Stood, during

FITS: Final = 8
"""So many of the last fits count."""

VENTINGS: Final = 6
_LEAST_PER_H: Final = 0.02
_LEAST_G_PER_H: Final = 0.001
_ROOM_NEAR: Final = timedelta(minutes=40)

_WINDOW: Final = timedelta(minutes=15)
_WINDOWS: Final = 40
_FEWEST_WINDOWS: Final = 4
_QUICK: Final = 8
"""So many minutes of a quarter of an hour show what a fan that switches carried off; four hide it.
"""

_SHARED: Final = 0.1
"""No source is surer than a tenth, however well its windows agree: they share their sensors."""

_STIRRED: Final = timedelta(minutes=8)
"""So long around a venting the CO2 tells of that, with the lag of its sensor."""

_GAP: Final = timedelta(minutes=6)


def closed_leak(record: Record, before: Figure) -> Figure | None:
    """Return the air changes of the closed chamber from its CO2, less what fans gave. [1/h].

    A stretch in which a fan switched, or of which that isn't known, says nothing of leakage.
    """
    rates: list[float] = []
    lows: list[float] = []
    highs: list[float] = []
    fanned = any(s.minute.supply.air_changes_per_h for s in record.minutes)
    for fit in [e for e in record.exchanges if not e.vented and e.per_h is not None][-FITS:]:
        fans = _steady_fans_per_h(record, fit) if fanned else 0.0
        if fit.per_h is None or fans is None:
            continue
        rate = max(fit.per_h - fans, _LEAST_PER_H)
        rates.append(rate)
        if fit.low is not None and fit.high is not None:
            lows.append(max(fit.low - fans, _LEAST_PER_H) / rate)
            highs.append(max(fit.high - fans, _LEAST_PER_H) / rate)
    if not rates:
        return None
    pool = pooled(rates, before)
    # No surer than the best of the fits behind it, however well they agree: what they share (the
    # inlet, the sensor's lag) does not average out.
    return replace(
        pool,
        low=min(pool.low, pool.value * max(lows, default=1.0)),
        high=max(pool.high, pool.value * min(highs, default=1.0)),
    )


def _steady_fans_per_h(record: Record, fit: Exchange) -> float | None:
    """Return what fans gave all through a stretch, None where they switched or it isn't known."""
    within = {
        s.minute.supply.air_changes_per_h for s in during(record.minutes, fit.start, fit.end)
    }
    return within.pop() if len(within) == 1 else None


def source(record: Record, known: Knowledge) -> Figure | None:
    """Return the CO2 that is given off. [g/h].

    From the latest fits of the closed chamber, else from the balance of calm stretches: what the
    air gained, and what fresh air carried off (the constant-injection case of ASTM D6245, from
    memory).
    """
    rates = [
        max(e.source_g_per_h, _LEAST_G_PER_H)
        for e in record.exchanges
        if not e.vented and e.source_g_per_h is not None
    ][-FITS // 2 :]
    leak = known.leak_per_h
    if not rates:
        return _balanced_source(record, known)
    pool = pooled(rates, leak)
    # It is the product of an air change and a step of CO2, and no surer than the first.
    return replace(
        pool,
        low=min(pool.low, pool.value * leak.low / leak.value),
        high=max(pool.high, pool.value * leak.high / leak.value),
    )


def _balanced_source(record: Record, known: Knowledge) -> Figure | None:
    windows = list(_calm_windows(record))[-_WINDOWS:]
    if len(windows) < _FEWEST_WINDOWS:
        return None
    leak = known.leak_per_h

    def at(leak_per_h: float) -> float:
        return max(median(w.given_g_per_h(leak_per_h, known.volume_m3) for w in windows), 0.0)

    value, ends = at(leak.value), (at(leak.low), at(leak.high))
    # Below the CO2 of the room a faster leak means less of a source.
    return Figure(
        value,
        low=min(*ends, value * (1.0 - _SHARED)),
        high=max(*ends, value * (1.0 + _SHARED)),
        origin=Origin.ASSUMED if leak.origin is Origin.ASSUMED else Origin.MEASURED,
        count=len(windows),
    )


@dataclass(frozen=True, slots=True)
class _Calm:
    """A quarter of an hour without a venting.

    Attributes:
        excess_ppm: CO2 beyond that of the room. [ppm]
        change_ppm_per_h: of the CO2. [ppm/h]
        by_fans_ppm_per_h: what fans carried off. [ppm/h]
        temperature_c: mean. [°C]
    """

    excess_ppm: float
    change_ppm_per_h: float
    by_fans_ppm_per_h: float
    temperature_c: float

    def given_g_per_h(self, leak_per_h: float, volume_m3: float) -> float:
        carried = leak_per_h * self.excess_ppm + self.by_fans_ppm_per_h
        grams = co2_g_per_m3_per_ppm(self.temperature_c) * volume_m3
        return (self.change_ppm_per_h + carried) * grams


def _calm_windows(record: Record) -> Iterator[_Calm]:
    """Yield each quarter of an hour that no venting touches and in which both sensors spoke."""
    vents = [
        (f.start - _STIRRED, f.end + _STIRRED) for f in record.found if f.kind is Kind.VENTING
    ]
    window: list[Minute] = []
    for stood in record.minutes:
        minute = stood.minute
        spoke = minute.co2_ppm is not None and minute.room_co2_ppm is not None
        # Asked last: a week has many ventings, and most rooms no sensor of CO2.
        if not spoke or any(start <= minute.time <= end for start, end in vents):
            window = []
            continue
        if window and minute.time - window[-1].time > _GAP:
            window = []
        window.append(minute)
        if minute.time - window[0].time >= _WINDOW:
            if _shows_fans(window):
                yield _calm(window)
            window = []


def _shows_fans(window: Sequence[Minute]) -> bool:
    """Tell whether fans were steady, or the sensor quick enough to show them switch."""
    steady = len({m.supply.air_changes_per_h for m in window}) == 1
    return steady or len(window) >= _QUICK


def _calm(window: Sequence[Minute]) -> _Calm:
    hours = [(m.time - window[0].time) / timedelta(hours=1) for m in window]
    ppm = [m.co2_ppm or 0.0 for m in window]
    excess = [one - (m.room_co2_ppm or 0.0) for one, m in zip(ppm, window, strict=True)]
    fans = [m.supply.air_changes_per_h * e for m, e in zip(window, excess, strict=True)]
    # A line fitted by least squares weighs the change at each moment by this parabola. What is
    # carried off must be weighed alike, or a fan that switches spoils the balance.
    weights = [h * (hours[-1] - h) for h in hours]
    return _Calm(
        excess_ppm=fmean(excess, weights),
        change_ppm_per_h=linear_regression(hours, ppm).slope,
        by_fans_ppm_per_h=fmean(fans, weights),
        temperature_c=fmean(m.temperature_c for m in window),
    )


def vents_per_h(record: Record, leak_per_h: float, rise_ppm_per_h: float = 0.0) -> list[float]:
    """Return the air changes of each venting beyond leakage and fans. [1/h].

    Args:
        record: what there is.
        leak_per_h: of the closed chamber. [1/h]
        rise_ppm_per_h: what the crop adds meanwhile; without it a long venting that comes near
            its end value looks slower than it is. [ppm/h]
    """
    rates: list[float] = []
    for vent in record.found:
        if vent.kind is not Kind.VENTING:
            continue
        if vent.co2_before_ppm is None or vent.co2_after_ppm is None:
            continue
        inlet = _room_co2(record.minutes, vent.start)
        minutes = vent.amount or (vent.end - vent.start) / timedelta(minutes=1)
        if inlet is None or minutes <= 0.0:
            continue
        rate = changes_from_step(
            vent.co2_before_ppm, vent.co2_after_ppm, inlet, minutes, rise_ppm_per_h
        )
        beside = leak_per_h + _fans_at(record.minutes, vent.start)
        if rate is not None and rate > beside:
            rates.append(rate - beside)
    return rates[-VENTINGS:]


def _fans_at(minutes: Sequence[Stood], at: datetime) -> float:
    near = [s.minute for s in during(minutes, at - _GAP, at + _GAP + timedelta.resolution)]
    return fmean(m.supply.air_changes_per_h for m in near) if near else 0.0


def _room_co2(minutes: Sequence[Stood], at: datetime) -> float | None:
    near = [s.minute.room_co2_ppm for s in during(minutes, at - _ROOM_NEAR, at + _ROOM_NEAR)]
    values = [value for value in near if value is not None]
    return sum(values) / len(values) if values else None
