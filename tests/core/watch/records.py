"""What is remembered of a tent, made up minute by minute."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from typing import Final

from chamberwatch.core.air.knowledge import assumed
from chamberwatch.core.air.tent import vapour_g_per_m3
from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.core.watch.device import NO_DEVICES, Supply
from chamberwatch.core.watch.found import Exchange, Found, Kind
from chamberwatch.core.watch.ledger import Minute
from chamberwatch.core.watch.record import Record, Stood
from tests.make import at

KNOWN: Final = assumed(0.5, 1.0)
ROOM_VAPOUR: Final = vapour_g_per_m3(20.0, 45.0)


def stood(
    number: float,
    humidity_pct: float = 80.0,
    standing_g: float = 0.0,
    co2: float | None = None,
    room_co2: float | None = None,
    supply: Supply = NO_DEVICES,
) -> Stood:
    """Return a minute after noon at 20 °C in a room at 20 °C and 45 %."""
    vapour = vapour_g_per_m3(20.0, humidity_pct)
    air = Minute(at(number), humidity_pct, 20.0, vapour, ROOM_VAPOUR, room_co2, co2, supply)
    return Stood(air, standing_g)


def misting(start: float, end: float, held_min: float | None = None, **more: object) -> Found:
    """Return a misting, so many minutes after noon."""
    held = None if held_min is None else timedelta(minutes=held_min)
    found = Found(1, "tent", Kind.MISTING, at(start), at(end), held=held)
    return replace(found, **more)  # type: ignore[arg-type]


def venting(start: float, end: float, before: float, after: float) -> Found:
    """Return a venting, so many minutes after noon. [ppm]."""
    return Found(
        2,
        "tent",
        Kind.VENTING,
        at(start),
        at(end),
        co2_before_ppm=before,
        co2_after_ppm=after,
    )


def fit(
    per_h: float | None,
    low: float | None = None,
    high: float | None = None,
    *,
    vented: bool = False,
    source_g_per_h: float | None = None,
) -> Exchange:
    """Return a fit over the hour after noon. [1/h]."""
    return Exchange(
        1, "tent", at(0), at(60), vented, per_h, low, high, source_g_per_h=source_g_per_h
    )


def record(
    minutes: Sequence[Stood] = (),
    found: Sequence[Found] = (),
    exchanges: Sequence[Exchange] = (),
    actions: Sequence[Action] = (),
) -> Record:
    """Return what there is to learn from."""
    return Record(minutes, found, exchanges, {a.id: a for a in actions})


def misted(grams: float | None) -> Action:
    """Return a misting somebody noted."""
    return Action(9, "tent", Deed.MISTED, at(0), "", at(0), "page", grams)
