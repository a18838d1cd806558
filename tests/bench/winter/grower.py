"""Somebody with a job, a bed and a tent: when they are there, what they hear, what they do."""

import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Final

from chamberwatch.core.air.tent import mist, wet
from chamberwatch.core.watch.action import Amounts, Deed
from chamberwatch.core.watch.reminder import Call
from chamberwatch.service.books import OutKind
from chamberwatch.service.views import CounselNow
from tests.bench.winter.air import Air, Room, Sensing, Told
from tests.bench.winter.engine import TENT, Engine
from tests.bench.winter.episodes import (
    Message,
)

DAY_MIN: Final = 1440
WORDS_HOLD_MIN: Final = 45
"""Later than this after a message its amounts are of other air: the page is looked at."""

LOW_PCT: Final = 80.0
STALE_PPM: Final = 1000.0
DRIED_PCT: Final = 93.0
"""Until it reads less than this damp air is let out, as the message asks."""


@dataclass(frozen=True)
class Habits:
    """How somebody lives. Minutes of the day.

    Attributes:
        wake: gets up.
        bed: goes to bed.
        leave: leaves for work, Monday to Friday.
        back: comes back.
        away_share: share of weekends that are spent elsewhere.
        logs_share: share of deeds that are told to the service.
        hears_share: how likely a message of high priority wakes them.
        looks: visits a day of their own accord: after waking, on coming home, before bed.
        stale_ppm: at a visit, air worse than this is let out.
        dry_pct: at a visit, air drier than this is misted.
    """

    wake: int
    bed: int
    leave: int
    back: int
    away_share: float
    logs_share: float
    hears_share: float
    looks: int
    stale_ppm: float
    dry_pct: float

    @classmethod
    def drawn(cls, chance: random.Random) -> "Habits":
        return cls(
            wake=round(chance.uniform(360, 450)),
            bed=round(chance.uniform(1315, 1405)),
            leave=round(chance.uniform(455, 530)),
            back=round(chance.uniform(980, 1100)),
            away_share=chance.uniform(0.0, 0.5),
            logs_share=chance.uniform(0.5, 1.0),
            hears_share=chance.uniform(0.5, 0.9),
            looks=chance.choice((2, 3, 3)),
            stale_ppm=chance.uniform(850.0, 1000.0),
            dry_pct=LOW_PCT,
        )


@dataclass(frozen=True, slots=True)
class Day:
    """One day: when they wake and go to bed, and while they are out. Minutes of the whole."""

    wake: int
    bed: int
    out: tuple[tuple[int, int], ...]
    visits: tuple[int, ...]


class Diary:
    """All days, drawn beforehand. Day 0 is a Monday."""

    def __init__(self, habits: Habits, chance: random.Random, days: int) -> None:
        self._habits = habits
        self._away = False
        self.days = [self._drawn(chance, day) for day in range(days + 1)]

    def _drawn(self, chance: random.Random, day: int) -> Day:
        habits, zero, weekday = self._habits, day * DAY_MIN, day % 7

        def about(minute: float, spread: float) -> int:
            return zero + round(chance.gauss(minute, spread))

        if weekday == 5:
            self._away = chance.random() < habits.away_share
        late = 45 if weekday >= 5 else 0
        wake, bed = about(habits.wake + late, 12), min(about(habits.bed, 15), zero + 1438)
        out: list[tuple[int, int]] = []
        if weekday < 5:
            out.append((about(habits.leave, 8), about(habits.back, 25)))
        elif self._away:
            left = about(570, 30) if weekday == 5 else zero
            out.append((left, zero + DAY_MIN if weekday == 5 else about(1140, 60)))
        else:
            begin = about(840, 90)
            out.append((begin, begin + round(chance.uniform(60, 240))))
        looks = [wake + 25, out[-1][1] + 15 if weekday < 5 else about(1080, 20), bed - 20]
        visits = looks if habits.looks == 3 else [looks[0], looks[1]]
        return Day(wake, bed, tuple(out), tuple(visits))

    def at_home(self, minute: int) -> bool:
        """Tell whether they are in the house."""
        return not any(a <= minute < b for a, b in self.days[minute // DAY_MIN].out)

    def awake(self, minute: int) -> bool:
        """Tell whether they are up."""
        day = self.days[minute // DAY_MIN]
        return day.wake <= minute < day.bed

    def visits(self, minute: int) -> bool:
        """Tell whether they look at the tent of their own accord now."""
        return minute in self.days[minute // DAY_MIN].visits and self.at_home(minute)


@dataclass
class Heard:
    """A message that is to be followed, and from when on it can be."""

    message: Message
    ready: int | None = None


@dataclass(frozen=True, slots=True)
class Did:
    """What was done, for the day's log."""

    minute: int
    words: str


class Grower:
    """Hears, looks, and does what is said."""

    def __init__(
        self,
        habits: Habits,
        diary: Diary,
        chance: random.Random,
        engine: Engine,
        air: Air,
        sensing: Sensing,
        room: Room,
    ) -> None:
        self._habits, self._diary, self._chance = habits, diary, chance
        self._engine, self._air, self._sensing, self._room = engine, air, sensing, room
        self._heard: list[Heard] = []
        self._sees: list[tuple[int, int]] = []
        self._shown: tuple[int, Told] | None = None
        self._mist_after_vent = False
        self._drying = False
        self._warmed_until = -1
        self.did: list[Did] = []

    # ------------------------------------------------------------ hearing

    def hear(self, minute: int, messages: Sequence[Message]) -> None:
        """Take messages in; a newer one about the same takes the place of the older."""
        for message in messages:
            if message.kind is OutKind.FORECAST:
                # It asks for water that lasts till the morning, whatever the air is like now.
                message = replace(message, call=Call.MIST)
            if message.call is None or message.kind in (OutKind.RETURNED, OutKind.SUMMARY):
                continue
            self._forget(message.call)
            heard = Heard(message)
            out = self._diary.awake(minute) and not self._diary.at_home(minute)
            # At work one can't do anything, but many tap that they have seen it.
            if message.grave and out and self._chance.random() < self._habits.logs_share:
                self._sees.append((minute + self._chance.randint(3, 25), message.reminder))
            asleep = not self._diary.awake(minute) and self._diary.at_home(minute)
            if asleep and message.grave and self._chance.random() < self._habits.hears_share:
                heard.ready = minute + self._chance.randint(4, 12)
            self._heard.append(heard)

    def pass_minute(self, minute: int, told: Told | None) -> None:
        """Do what there is to do in this minute."""
        for due, reminder in [each for each in self._sees if each[0] <= minute]:
            self._sees.remove((due, reminder))
            self._engine.see(reminder)
        if told is not None:
            self._shown = minute, told
        if minute == self._warmed_until:
            self._room.shift_k = 0.0
        if minute <= self._air.open_until:
            if self._drying and told is not None and told.humidity_pct < DRIED_PCT:
                self._air.open_until = minute
            return
        self._drying = False
        if self._mist_after_vent:
            self._mist_after_vent = False
            self._mist(minute, "then misted")
        elif self._diary.at_home(minute):
            self._at_home(minute)

    def _at_home(self, minute: int) -> None:
        """Follow a message whose time has come, or look in."""
        if self._diary.awake(minute):
            for heard in self._heard:
                if heard.ready is None:
                    heard.ready = minute + min(round(self._chance.lognormvariate(1.7, 0.6)), 40)
        due = next((h for h in self._heard if h.ready is not None and h.ready <= minute), None)
        if due is not None:
            self._heard.remove(due)
            self._follow(minute, due.message)
        elif self._diary.visits(minute):
            self._visit(minute)

    # ------------------------------------------------------------ deeds

    def _follow(self, minute: int, message: Message) -> None:
        late = minute - message.minute > WORDS_HOLD_MIN
        told = self._reading(minute)
        if message.call is Call.MIST:
            ahead = message.kind is OutKind.FORECAST
            if ahead or not late or told is None or told.humidity_pct < LOW_PCT:
                self._mist(minute, "misted as told")
        elif message.call is Call.VENT:
            if not late or told is None or (told.co2_ppm or 0.0) > STALE_PPM:
                self._vent(minute, "vented as told")
        elif message.call is Call.DRY_OFF:
            self._open(minute, 8.0, "vented to dry it off", None)
            self._drying = True
        elif message.call is Call.CHECK_SENSOR:
            self._sensing.mended(minute)
            self._note(minute, "saw to the sensor")
        elif message.call in (Call.WARM, Call.COOL):
            self._room.shift_k = 2.0 if message.call is Call.WARM else -2.0
            self._warmed_until = minute + 12 * 60
            self._note(minute, f"{message.call}: moved the heating")

    def _visit(self, minute: int) -> None:
        """Look in: let stale air out, mist what is dry."""
        told = self._reading(minute)
        if told is None:
            self._note(minute, "looked in; the sensor says nothing")
            return
        if (told.co2_ppm or 0.0) > self._habits.stale_ppm:
            self._vent(minute, "vented at a visit")
        elif told.humidity_pct < self._habits.dry_pct:
            self._mist(minute, "misted at a visit")

    def _reading(self, minute: int) -> Told | None:
        if self._shown is None or minute - self._shown[0] > 10:
            return None
        return self._shown[1]

    def _page(self) -> CounselNow | None:
        return self._engine.counsel.now(TENT, self._engine.clock.now())

    def _mist(self, minute: int, words: str) -> None:
        """Mist what was said a short while ago, else what the page says now."""
        now, board = self._engine.clock.now(), self._engine.board
        advised, page = board.advised(TENT, Call.MIST), None
        fresh = advised is not None and not advised.taken
        if advised is not None and fresh and now - advised.at <= timedelta(minutes=45):
            sprayed, onto_walls = advised.into_air_g or 0.0, advised.standing_g or 0.0
        else:
            page = self._page()
            if page is None or page.mist is None:
                sprayed, onto_walls = 10.0, 0.0
            else:
                sprayed, onto_walls = page.mist.into_air_g, page.mist.standing_g
        amounts = Amounts(into_air_g=sprayed, standing_g=onto_walls) if page else None
        self._forget(Call.MIST)
        spec, off = self._air.spec, self._chance.uniform(0.75, 1.3)
        self._air.state = wet(mist(self._air.state, spec, sprayed * off), spec, onto_walls * off)
        self._sensing.misted(minute)
        self._note(minute, f"{words}: {sprayed:.0f} g into the air, {onto_walls:.0f} g onto walls")
        self._log(Deed.MISTED, amounts)

    def _vent(self, minute: int, words: str) -> None:
        page = self._page()
        advice = page.vent if page is not None else None
        if advice is None:
            self._open(minute, 5.0, words, None)
            return
        if not advice.reachable or advice.minutes == 0:
            self._note(minute, f"{words}: no use, the room is as stale")
            return
        if advice.needs_per_h is not None:
            more = max(advice.needs_per_h - advice.has_per_h, 0.0)
            self._air.slot_per_h = min(
                self._air.slot_per_h + more * self._chance.uniform(0.8, 1.2), 1.5
            )
            words += f", and left a slot ({self._air.slot_per_h:.2f} /h)"
        self._mist_after_vent = advice.mist is not None
        self._open(minute, float(advice.minutes), words, Amounts(vent_minutes=advice.minutes))

    def _open(self, minute: int, minutes: float, words: str, amounts: Amounts | None) -> None:
        lasting = max(round(minutes * self._chance.uniform(0.8, 1.25)), 1)
        self._air.open_until = minute + lasting
        self._forget(Call.VENT, Call.DRY_OFF)
        self._note(minute, f"{words}: {lasting} min")
        self._log(Deed.VENTED, amounts)

    def _forget(self, *calls: Call) -> None:
        """Drop the messages that a deed has answered."""
        self._heard = [h for h in self._heard if h.message.call not in calls]

    def _log(self, deed: Deed, amounts: Amounts | None) -> None:
        if self._chance.random() < self._habits.logs_share:
            self._engine.logbook.act(TENT, deed, None, "", "link", amounts)

    def _note(self, minute: int, words: str) -> None:
        self.did.append(Did(minute, words))
