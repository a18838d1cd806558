"""One grower's winter, a minute at a time."""

import random
from array import array
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Final

from chamberwatch.core.air.tent import RoomAir, TentState
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.service.books import OutKind
from tests.bench.winter.air import Air, Climate, Fault, Hidden, Room, RoomSensing, Sensing, Told
from tests.bench.winter.baselines import deadband, raw
from tests.bench.winter.engine import Engine, house_of
from tests.bench.winter.episodes import (
    RULES_LOW,
    Message,
    Truth,
    accuracy,
    delay_min,
)
from tests.bench.winter.grower import Diary, Did, Grower, Habits
from tests.bench.winter.scoring import (
    Score,
    score,
)

START: Final = datetime(2026, 11, 2, tzinfo=UTC)
"""A Monday."""

DAY_MIN: Final = 1440
EARLY_LOOK_MIN: Final = 90
EARLY: Final = timedelta(minutes=30)
"""One grower in three asks to be told so long before a limit."""


@dataclass
class Season:
    """What came of it.

    Attributes:
        truth: the true air.
        readings: what was heard of it, None where nothing was.
        messages: of the engine.
        words: of each message.
        did: what the grower did.
    """

    truth: Truth
    readings: dict[Quantity, Sequence[float | None]]
    messages: list[Message]
    words: list[str]
    did: list[Did]

    def scores(self) -> tuple[Score, Score, Score]:
        """Return the scores of the engine, of the raw threshold, and of the deadband alone."""
        heard = (self.messages, raw(self.readings), deadband(self.readings))
        engine, crossed, banded = (score(self.truth, messages) for messages in heard)
        return engine, crossed, banded


def live(seed: int, days: int) -> Season:
    """Live a winter; the same seed leads to the same."""
    # Each part of the world has a chance of its own, so that what is done changes no weather.
    chances = [random.Random(f"{seed} {part}") for part in range(7)]  # noqa: S311 - no secret
    room, hidden = Room(Climate.drawn(chances[0]), chances[0]), Hidden.drawn(chances[1])
    air, around = Air(hidden, chances[2]), RoomSensing(chances[4])
    sensing = Sensing(chances[3], air.state)
    habits = Habits.drawn(chances[5])
    diary = Diary(habits, chances[5], days)
    early = EARLY if seed % 3 == 0 else None
    house = house_of(hidden.spec.volume_m3, room_sensor=around.there, early=early)
    engine = Engine(house, START)
    grower = Grower(habits, diary, chances[6], engine, air, sensing, room)
    columns = [array("d") for _ in range(3)]
    faults = array("b")
    heard: list[list[float | None]] = [[], [], []]
    messages: list[Message] = []
    words: list[str] = []
    for minute in range(days * DAY_MIN):
        outside = room.pass_minute(at_home=diary.at_home(minute), awake=diary.awake(minute))
        state = air.pass_minute(minute, outside)
        told = sensing.pass_minute(minute, state)
        fresh = [
            (_held_against(message, air, outside, engine), said)
            for message, said in engine.pass_minute(minute, told, around.pass_minute(outside))
        ]
        grower.hear(minute, [message for message, _ in fresh])
        grower.pass_minute(minute, told)
        messages += [message for message, _ in fresh]
        words += [said for _, said in fresh]
        faults.append(_fault(sensing, minute, state, told))
        true = (state.humidity_pct, state.co2_ppm, state.temperature_c)
        shown = (told.humidity_pct, told.co2_ppm, told.temperature_c) if told else (None,) * 3
        for column, value in zip(columns, true, strict=True):
            column.append(value)
        for line, read in zip(heard, shown, strict=True):
            line.append(read)
    judged = (Quantity.HUMIDITY, Quantity.CO2, Quantity.TEMPERATURE)
    return Season(
        Truth(dict(zip(judged, columns, strict=True)), faults),
        dict(zip(judged, heard, strict=True)),
        messages,
        words,
        grower.did,
    )


def _held_against(message: Message, air: Air, outside: RoomAir, engine: Engine) -> Message:
    """Add to what was foretold what would have come, had nobody done anything."""
    if message.kind not in (OutKind.FORECAST, OutKind.EARLY):
        return message
    minutes = EARLY_LOOK_MIN
    if message.kind is OutKind.FORECAST:
        minutes = round(engine.until_visit() / timedelta(minutes=1))
    low = RULES_LOW
    dries = air.dries_in(outside, minutes, low.limit, delay_min(low))
    return replace(
        message,
        until=message.minute + minutes if message.kind is OutKind.FORECAST else None,
        dries=None if dries is None else message.minute + dries,
    )


def _fault(sensing: Sensing, minute: int, state: TentState, told: Told | None) -> int:
    """Return what is wrong with the sensor; a wet one in air that is as wet says the truth."""
    fault = sensing.fault(minute)
    if fault == Fault.WET and told is not None:
        off = abs(told.humidity_pct - state.humidity_pct)
        if off <= accuracy(Quantity.HUMIDITY, state.humidity_pct):
            return Fault.NONE
    return fault
