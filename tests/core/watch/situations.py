"""Chambers as they stand, ready to be reckoned with."""

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Final

from hypothesis import strategies as st

from chamberwatch.core.air.figure import Figure, Origin
from chamberwatch.core.air.knowledge import assumed
from chamberwatch.core.air.psychrometrics import AirState, air_state
from chamberwatch.core.watch.device import Supply
from chamberwatch.core.watch.situation import OUTDOOR_PPM, Situation
from tests.make import NOON, TENT

BAND: Final = (80.0, 95.0)


def room(temperature_c: float = 20.0, humidity_pct: float = 45.0) -> AirState:
    """Return the air of a heated room."""
    return air_state(temperature_c, humidity_pct)


def situation(
    humidity_pct: float = 76.0,
    co2_ppm: float | None = None,
    standing_g: float = 0.0,
    leak_per_h: float = 1.0,
    source_g_per_h: float | None = None,
    volume_m3: float = 0.5,
) -> Situation:
    """Return a tent at 20 °C in a room at 20 °C and 45 %, 12:00."""
    known = assumed(volume_m3, leak_per_h)
    source = (
        None if source_g_per_h is None else Figure(source_g_per_h, 0.0, 9.0, Origin.MEASURED, 3)
    )
    return Situation(
        chamber=replace(TENT, volume_l=1000.0 * volume_m3),
        known=replace(known, source_g_per_h=source),
        air=air_state(20.0, humidity_pct),
        room=room(),
        room_measured=True,
        co2_ppm=co2_ppm,
        inlet_ppm=OUTDOOR_PPM,
        standing_g=standing_g,
        supply=Supply(),
        humidity=BAND,
        co2_limit_ppm=1000.0,
        now=NOON,
    )


def inlet(ppm: float) -> Figure:
    """Return air that comes in as a sensor in the room has it. [ppm]."""
    return Figure(ppm, ppm - 50.0, ppm + 50.0, Origin.MEASURED, 1)


def today(hour: int, minute: int = 0) -> datetime:
    """Return a time of the day on which all this happens."""
    return NOON.replace(hour=hour, minute=minute)


SITUATIONS: Final = st.builds(
    situation,
    humidity_pct=st.floats(40.0, 100.0),
    co2_ppm=st.none() | st.floats(380.0, 9000.0),
    standing_g=st.floats(0.0, 100.0),
    leak_per_h=st.floats(0.01, 20.0),
    source_g_per_h=st.none() | st.floats(0.0, 5.0),
    volume_m3=st.floats(0.005, 4.0),
)
AIRS: Final = st.builds(air_state, st.floats(5.0, 30.0), st.floats(20.0, 100.0))
INLETS: Final = st.just(OUTDOOR_PPM) | st.floats(400.0, 2500.0).map(inlet)
BANDS: Final = st.sampled_from([(80.0, 95.0), (60.0, 80.0), (90.0, 100.0)])
LATER: Final = st.floats(0.0, 48.0).map(lambda hours: NOON + timedelta(hours=hours))
ANY: Final = st.builds(
    lambda stood, inside, around, coming, band: replace(
        stood, air=inside, room=around, inlet_ppm=coming, humidity=band
    ),
    SITUATIONS,
    AIRS,
    AIRS,
    INLETS,
    BANDS,
)
"""Whatever may come."""
