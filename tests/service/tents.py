"""Simulated tents whose ways are hidden, looked after by somebody who does what messages say."""

import math
import random
import statistics
import threading
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

from chamberwatch.core.air.tent import (
    CO2_G_PER_M3_PPM,
    RoomAir,
    TentSpec,
    TentState,
    live,
    mist,
    respiration_g_per_h,
    state_of,
    wet,
)
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.watch.action import Deed
from chamberwatch.core.watch.chamber import Chamber, House, Sensor
from chamberwatch.core.watch.counsel import MistAdvice, VentAdvice
from chamberwatch.core.watch.reminder import Call
from chamberwatch.service.board import Board
from chamberwatch.service.books import OutState
from chamberwatch.service.counselling import Counselling
from chamberwatch.service.doubting import Doubting
from chamberwatch.service.finding import Finding
from chamberwatch.service.intake import Intake, IntakeParts
from chamberwatch.service.knowing import Knowing
from chamberwatch.service.logbook import Logbook
from chamberwatch.service.ports import Arrival
from chamberwatch.service.rounds import Rounds, RoundsParts
from chamberwatch.service.telling import Teller
from chamberwatch.storage.book import open_books
from tests.fakes import Broker, HandClock, PlainReader
from tests.make import ALL_AIR

START = datetime(2026, 1, 20, 7, 40, tzinfo=UTC)
COMMIT_EVERY = timedelta(minutes=2)
LOW_PCT = 80.0


@dataclass(frozen=True)
class Hidden:
    """What the advice is not told."""

    spec: TentSpec
    leak_per_h: float
    vent_per_h: float
    room: RoomAir

    @classmethod
    def drawn(cls, chance: random.Random) -> "Hidden":
        """Draw a tent: leakage, spray, wet surface, what runs off, the crop, the room.

        The crop is drawn by where the CO2 of the closed tent would settle, 200 to 900 ppm above
        the room, so that about half of the tents must be vented.
        """
        volume, leak = chance.uniform(0.25, 0.7), chance.uniform(0.4, 2.0)
        area = chance.uniform(0.3, 1.2) * volume ** (2 / 3)
        source = chance.uniform(200.0, 900.0) * leak * volume * CO2_G_PER_M3_PPM
        block = chance.uniform(0.5, 2.0)
        spec = TentSpec(
            volume_m3=volume,
            wet_area_m2=area,
            film_most_g=area * chance.uniform(90.0, 150.0),
            fruit_kg=max((source - 0.05 * block) / 0.29, 0.05),
            block_kg=block,
            spray_to_air=chance.uniform(0.2, 0.6),
        )
        room = RoomAir(
            chance.uniform(18.0, 21.0), chance.uniform(35.0, 50.0), chance.uniform(480.0, 650.0)
        )
        return cls(spec, leak, chance.uniform(8.0, 25.0), room)


@dataclass
class Misted:
    """What a message foretold of a misting, and what came."""

    at: datetime
    told: datetime
    advice: MistAdvice
    humidity_soon_pct: float | None = None
    ended: datetime | None = None
    disturbed: bool = False
    below: int = 0

    def foretold_min(self) -> float:
        """Return how long it was to hold; the message came some minutes before the deed."""
        held = self.advice.holds_until - self.told
        return min(held, self.advice.wanted_until - self.at) / timedelta(minutes=1)

    def capped(self) -> bool:
        """Tell whether it was to hold till the next visit, and did."""
        wanted = self.advice.wanted_until
        return self.advice.limit is None and self.ended is not None and self.ended >= wanted


@dataclass
class Vented:
    """What a message foretold of a venting, and what came."""

    at: datetime
    until: datetime
    advice: VentAdvice
    co2_before_ppm: float
    co2_after_ppm: float | None = None
    humidity_after_pct: float | None = None


@dataclass
class Tent:
    """One tent, its sensors, the whole service, and the person."""

    folder: Path
    seed: int
    misted: list[Misted] = field(default_factory=list)
    vented: list[Vented] = field(default_factory=list)
    messages: int = 0

    def __post_init__(self) -> None:
        self.chance = random.Random(self.seed)  # noqa: S311 - a made-up tent, no secret
        self.hidden = Hidden.drawn(self.chance)
        self.state: TentState = state_of(self.hidden.room.temperature_c, 84.0, 700.0, 0.0)
        self.bias_pct = self.chance.uniform(-1.5, 1.5)
        self.bias_ppm = self.chance.uniform(-30.0, 30.0)
        self.lag_s = self.chance.uniform(60.0, 120.0)
        self.sensed_ppm = self.state.co2_ppm
        self.open_until = START
        self.plan: list[tuple[datetime, Call]] = []
        self.seen = 0
        self.clock = HandClock(wall=START)
        self._build()

    def _build(self) -> None:
        volume_l = round(self.hidden.spec.volume_m3 * 1000.0)
        tent = Chamber("tent", "Tent", Stage.FRUITING, volume_l, (), "room")
        self.house = House(
            {"tent": tent, "room": Chamber("room", "Room")},
            {
                "middle": Sensor("middle", "tent", quantities=ALL_AIR),
                "around": Sensor("around", "room", quantities=ALL_AIR),
            },
        )
        self.books = open_books(f"sqlite:///{self.folder / f'{self.seed}.db'}", START)
        board, wake = Board(self.clock.monotonic()), threading.Event()
        self.board = board
        self.knowing = Knowing(self.house, UTC, COMMIT_EVERY)
        self.counsel = Counselling(self.house, board, self.knowing, UTC)
        teller = Teller(self.house, board, ("phone",), UTC, self.counsel)
        self.intake = Intake(
            IntakeParts(
                self.books,
                PlainReader(),
                Broker(),
                self.clock,
                self.house,
                board,
                teller,
                COMMIT_EVERY,
                1000,
                wake,
            )
        )
        doubting = Doubting(self.house, board, teller, self.books)
        finding = Finding(self.books, self.house, self.clock, board, COMMIT_EVERY)
        self.rounds = Rounds(
            RoundsParts(
                self.books, self.clock, self.house, board, teller, wake, doubting, finding,
                self.knowing,
            )
        )  # fmt: skip
        self.logbook = Logbook(self.books, self.clock, self.house, board, wake, self.knowing)

    # -------------------------------------------------------------- time

    def lived(self, hours: float) -> None:
        """Live on, a reading every half minute."""
        for step in range(round(hours * 120)):
            self.clock.turn(seconds=30)
            self._air()
            self._report(step)
            if step % 2:
                self.rounds.look()
                self._heed()
                self._look_back()
            # Rarer than in life, where both are done every minute or three: a day takes seconds.
            if step % 30 == 29:
                self.rounds.search()
            elif step % 10 == 9:
                self.knowing.look(self.books, self.clock.now())

    def _air(self) -> None:
        now, hidden = self.clock.now(), self.hidden
        n = hidden.leak_per_h + (hidden.vent_per_h if now <= self.open_until else 0.0)
        self.state = live(self.state, hidden.spec, hidden.room, n, 10.0, 3)
        self.sensed_ppm += (self.state.co2_ppm - self.sensed_ppm) * -math.expm1(-30 / self.lag_s)

    def humidity_pct(self) -> float:
        """Return what the sensor would say without its noise."""
        return min(self.state.humidity_pct + self.bias_pct, 100.0)

    def _report(self, step: int) -> None:
        chance, room, time = self.chance, self.hidden.room, self.clock.now().isoformat()
        said = [
            f"middle temperature {self.state.temperature_c + chance.gauss(0, 0.03):.2f} {time}",
            f"middle humidity {min(self.humidity_pct() + chance.gauss(0, 0.2), 100.0):.1f} {time}",
            f"middle co2 {self.sensed_ppm + self.bias_ppm + chance.gauss(0, 5):.0f} {time}",
        ]
        if step % 2:
            said += [
                f"around temperature {room.temperature_c + chance.gauss(0, 0.03):.2f} {time}",
                f"around humidity {room.humidity_pct + chance.gauss(0, 0.2):.1f} {time}",
                f"around co2 {room.co2_ppm + chance.gauss(0, 8):.0f} {time}",
            ]
        arrival = Arrival(
            "t", ";".join(said).encode(), False, step, 1, 1, self.clock.now(),
            self.clock.monotonic(),
        )  # fmt: skip
        self.intake.take(arrival)
        if self.intake.must_commit():
            self.intake.commit()

    # -------------------------------------------------------------- the person

    def _heed(self) -> None:
        """Read new messages, and do what they say some minutes later."""
        now = self.clock.now()
        with self.books.read() as book:
            rows = [r for r in book.outbox.in_state(OutState.WAITING) if r.id > self.seen]
        for row in sorted(rows, key=lambda r: r.id):
            self.seen = row.id
            self.messages += 1
            call = Call.VENT if "vent" in row.title else Call.MIST
            if "mist" not in row.title and "vent" not in row.title:
                continue
            self._note_forecast(call, now)
            self.plan.append((now + timedelta(minutes=self.chance.randint(2, 6)), call))
        due = [one for one in self.plan if one[0] <= now and now > self.open_until]
        for one in due[:1]:
            self.plan.remove(one)
            self._do(one[1], now)

    def _note_forecast(self, call: Call, now: datetime) -> None:
        """Keep what the message just said; it was reckoned from the same board this moment."""
        told = self.counsel.now("tent", now)
        assert told is not None
        self.told_at, self.told_mist = now, told.mist
        self.told_vent = told.vent if call is Call.VENT else None

    def _do(self, call: Call, now: datetime) -> None:
        if call is Call.VENT and self.told_vent is not None:
            advice = self.told_vent
            if not advice.reachable:
                return
            self.open_until = now + timedelta(minutes=advice.minutes)
            self.vented.append(Vented(now, self.open_until, advice, self.sensed_ppm))
            for one in self.misted:
                one.disturbed |= one.ended is None
            self.plan = [p for p in self.plan if p[1] is not Call.VENT]
            self.logbook.act("tent", Deed.VENTED, None, "", "link")
            if advice.mist is not None:
                self.told_at, self.told_mist = now, advice.mist
                self.plan.append((self.open_until, Call.MIST))
            return
        advised = self.told_mist
        if advised is None:
            return
        for one in self.misted:
            one.disturbed |= one.ended is None
        self.state = mist(self.state, self.hidden.spec, advised.into_air_g)
        self.state = wet(self.state, self.hidden.spec, advised.standing_g)
        self.misted.append(Misted(now, self.told_at, advised))
        self.plan = [p for p in self.plan if p[1] is not Call.MIST]
        self.logbook.act("tent", Deed.MISTED, None, "", "link")

    def _look_back(self) -> None:
        now, humidity = self.clock.now(), self.humidity_pct()
        for one in self.misted:
            if one.humidity_soon_pct is None and now >= one.at + timedelta(minutes=15):
                one.humidity_soon_pct = humidity
            if one.ended is None:
                one.below = one.below + 1 if humidity < LOW_PCT else 0
                if one.below >= 3:
                    one.ended = now - timedelta(minutes=2)
                elif now >= one.advice.wanted_until:
                    one.ended = now
        self._look_back_at_vents(now, humidity)

    def _look_back_at_vents(self, now: datetime, humidity: float) -> None:
        for each in self.vented:
            if each.humidity_after_pct is None and now >= each.until:
                each.humidity_after_pct = humidity
            # Four minutes on the slowest of the sensors has caught up.
            if each.co2_after_ppm is None and now >= each.until + timedelta(minutes=4):
                each.co2_after_ppm = self.sensed_ppm

    # -------------------------------------------------------------- figures

    def humidity_errors(self, after: datetime) -> list[float]:
        """Return by how much each forecast of the humidity was off. [%]."""
        return [
            one.advice.reach_pct - one.humidity_soon_pct
            for one in self.misted
            if one.at >= after and one.humidity_soon_pct is not None and not self._soon(one)
        ]

    def aired_errors(self, after: datetime) -> list[float]:
        """Return by how much each forecast of the humidity after venting was off. [%]."""
        return [
            each.advice.humidity_pct - each.humidity_after_pct
            for each in self.vented
            if each.at >= after and each.humidity_after_pct is not None
        ]

    def _soon(self, one: Misted) -> bool:
        """Tell whether something else was done within the quarter of an hour."""
        end = one.at + timedelta(minutes=15)
        deeds = [o.at for o in self.misted if o is not one] + [v.at for v in self.vented]
        return any(one.at <= at <= end for at in deeds)

    def hold_factors(self, after: datetime, *, uncapped: bool = False) -> list[float]:
        """Return foretold over reached hold time of each misting that nothing else disturbed.

        Both end at the next visit at the latest; `uncapped` leaves out those where both do.
        """
        return [
            max(one.foretold_min(), 1.0) / max((one.ended - one.at) / timedelta(minutes=1), 1.0)
            for one in self.misted
            if one.at >= after and one.ended is not None and not one.disturbed
            if not (uncapped and one.capped())
        ]

    def co2_shares(self, after: datetime) -> list[float]:
        """Return the error of each foretold CO2 as a share of the step that was made."""
        return [
            abs(each.advice.reach_ppm - each.co2_after_ppm)
            / max(abs(each.co2_before_ppm - each.co2_after_ppm), 1.0)
            for each in self.vented
            if each.at >= after and each.co2_after_ppm is not None
        ]

    def line(self, after: datetime) -> str:
        """Describe it in a line: what was hidden, what was learnt, how the forecasts went."""
        spec, known = self.hidden.spec, self.knowing.of("tent")
        assert known is not None
        source = respiration_g_per_h(spec, self.state.temperature_c)
        told = known.source_g_per_h.value if known.source_g_per_h else float("nan")
        rh, co2, hold = (
            self.humidity_errors(after), self.co2_shares(after), self.hold_factors(after)
        )  # fmt: skip
        return (
            f"{self.seed:2d} leak {self.hidden.leak_per_h:.2f}/{known.leak_per_h.value:.2f} "
            f"vent {self.hidden.vent_per_h:4.1f}/{known.vent_per_h.value:4.1f} "
            f"source {source:.2f}/{told:.2f} area {spec.wet_area_m2:.2f}/"
            f"{known.wet_area_m2.value:.2f} spray {spec.spray_to_air:.2f}/"
            f"{known.spray_share.value:.2f} | {self.messages:3d} messages | "
            f"RH off {mean_size(rh):4.1f} ({len(rh)}) CO2 off {mean_size(co2):5.0%} ({len(co2)}) "
            f"hold x{math.exp(mean_size([math.log(h) for h in hold])):.2f} ({len(hold)})"
        )


def mean_size(values: list[float]) -> float:
    """Return the mean of the sizes, 0 for none."""
    return statistics.fmean(abs(v) for v in values) if values else 0.0
